"""What burns of the check candle tell: which probe, station or room has drifted."""

import random
from dataclasses import replace

from logger.burn.evidence import Coverage
from logger.decision.check_candle import BASELINE, CheckPeak, bench_check, check_peaks
from logger.quantities import Estimate, Quality
from logger.reports.bench_check_messages import bench_check_lines, bench_check_message
from logger.reports.ewma_chart import ewma_chart
from logger.words import Words
from tests.support.pipeline_bench import channel
from tests.support.trials import burned

PLACES = [("jar-a", "jar-a-wall-3"), ("jar-a", "jar-a-wall-9"), ("jar-b", "jar-b-wall-3")]
DAY = 86_400.0


def peaks(burns=BASELINE + 8, drift=lambda station, channel, share: 0.0, seed=1):
    """Peaks of the check candle: 24 K above the room, and 0.2 K of flame (invented)."""
    dice = random.Random(seed)
    return [
        CheckPeak(
            burn=f"{station}-{number}",
            at_s=number * DAY,
            station=station,
            channel=channel,
            rise_k=24.0
            + {"jar-b": 0.6}.get(station, 0.0)
            + dice.gauss(0.0, 0.2)
            + drift(station, channel, max(number - BASELINE + 1, 0) / 8.0),
        )
        for number in range(burns)
        for station, channel in PLACES
    ]


def test_the_drift_of_one_probe_by_one_kelvin_over_eight_burns_is_found_and_named():
    def drift(station, channel, share):
        return share * (channel == "jar-a-wall-9")

    named = 0
    for seed in range(50):
        found = " ".join(bench_check(peaks(drift=drift, seed=seed), Words()).found)
        named += "jar-a-wall-9 of jar-a alone: its probe has drifted" in found
    assert named >= 47
    quiet = [bench_check(peaks(seed=seed), Words()).found for seed in range(50)]
    assert sum(map(bool, quiet)) <= 3  # three charts each: some leave their limits by chance


def burn_of(number, drift_k, dice, room_c):
    """The evidence of one evening of the check candle: two probes on jar-a, one of them off."""
    rises = {"wall-3": 24.0 + dice.gauss(0.0, 0.2), "wall-9": 23.6 + dice.gauss(0.0, 0.2) + drift_k}
    seen = [
        Coverage(
            channel=channel(name, clock=clock),
            measured=True,
            share=1.0,
            gaps=(),
            highest=Estimate(
                channel=name, at_s=number * DAY, value=room_c + rise_k, standard_uncertainty=0.3,
                repeatability=0.1, used=20, rejected=0, quality=Quality.GOOD,
            ),
        )
        for (name, rise_k), clock in zip(rises.items(), (3, 9), strict=True)
    ]  # fmt: skip
    evidence = burned(number, room_c + max(rises.values()), room_c=room_c, station="jar-a")
    return replace(evidence, coverage=tuple(seen))


def test_a_drift_is_found_from_the_evidence_of_burns_in_rooms_that_differ():
    dice = random.Random(7)
    evidence = [
        burn_of(number, max(number - BASELINE + 1, 0) / 8.0, dice, 20.0 + number % 4)
        for number in range(BASELINE + 8)
    ]
    check = bench_check([one for each in evidence for one in check_peaks(each)], Words())
    (found,) = check.found
    assert "hotter" in found
    assert "wall-9 of jar-a alone: its probe has drifted" in found
    assert [chart.out for chart in check.charts] == [False, True]
    drawing = ewma_chart(check.charts[1], Words())
    assert drawing.count("<circle") == BASELINE + 8
    assert "outside the limits" in drawing
    lines = list(bench_check_lines(check, Words()))
    assert lines[0].startswith("DRIFT: the check candle reads")
    assert "how much stations differ is not known" in lines[-1]
    told = bench_check_message(check)
    assert [one["out"] for one in told["charts"]] == [False, True]
    assert told["charts"][0]["points"][0]["average"] is None
    # Without a measured room nothing is said, nor of a place that was not read to the end.
    assert not list(check_peaks(replace(evidence[0], warmest=None)))
    short = replace(evidence[0].coverage[0], share=0.5)
    assert not list(check_peaks(replace(evidence[0], coverage=(short,))))


def test_a_station_and_the_room_are_told_from_a_probe():
    station = peaks(drift=lambda station, channel, share: -2.0 * share * (station == "jar-a"))
    (found,) = bench_check(station, Words()).found
    assert "cooler" in found
    assert "every place of jar-a, and not elsewhere" in found
    room = peaks(drift=lambda station, channel, share: 2.0 * share)
    (found,) = bench_check(room, Words()).found
    assert "every place of every station: the room's sensor" in found
    lone = peaks(drift=lambda station, channel, share: 2.0 * share * (station == "jar-b"))
    (found,) = bench_check(lone, Words()).found
    assert "or the place it stands on" in found


def test_first_burns_only_say_where_a_place_lies():
    check = bench_check(peaks(burns=3), Words())
    assert check.found == ()
    assert [chart.still_to_burn for chart in check.charts] == [3, 3, 3]
    assert check.reproducibility is not None
    assert 0.0 < check.reproducibility.between_k < 1.5
    assert bench_check([], Words()).reproducibility is None
