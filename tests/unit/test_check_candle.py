"""What burns of the check candle tell: which probe, station or room has drifted."""

import random

from logger.decision.check_candle import BASELINE, CheckPeak, bench_check
from logger.words import Words

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
