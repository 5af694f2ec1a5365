"""The rules over a burn, on the simulated candle and on made-up walls."""

import math
import random
from dataclasses import replace

import pytest

from logger.alarms.lifecycle import AlarmEvent, Signal
from logger.alarms.wall import wall
from logger.burn.entries import InSight, ManualReading, Observed, Photographed
from logger.burn.forecast import Forecast
from logger.burn.limits import Material
from logger.burn.look import Look
from logger.burn.model import BurnEvent
from logger.pipeline import Memory, Pipeline
from logger.quantities import Estimate, Place, Position, Quality, Reading
from logger.words import Words
from simulators.scenarios import SCENARIOS
from tests.support.pipeline_bench import (
    LIMITS,
    ROOM,
    START_S,
    TWIN,
    WALL,
    Live,
    bench,
    channel,
    channels_of,
    lit,
    noisy,
    out,
    read_slowly,
    slow_spot,
    stamps,
)


def told(live):
    return {(e.what, e.alarm.key) for e in live.of(AlarmEvent) if e.tells}


@pytest.mark.parametrize(
    ("surface", "signal"),
    [
        pytest.param({}, Signal.HOLD, id="contact"),
        pytest.param(
            {"emissivity": 0.5, "emissivity_measured": True}, Signal.HOLD, id="measured patch"
        ),
        pytest.param({"emissivity": 0.5}, Signal.ON, id="reflects a colder room"),
    ],
)
def test_doubt_raises_the_limit_only_where_the_surface_itself_is_the_doubt(surface, signal):
    doubtful = Estimate(
        channel=WALL,
        at_s=START_S,
        value=66.0,
        standard_uncertainty=0.5,
        repeatability=0.5,
        used=3,
        rejected=0,
        quality=Quality.DOUBTFUL,
    )
    _, limit = wall(channel(WALL, **surface), doubtful, LIMITS.wall[Material.GLASS], Words())
    assert limit.signal is signal


def run(live, scenario, spot, channels, seconds):
    """What the scenario's instruments say, each every ten seconds, and as often a step."""
    live.step_s = 10.0
    for _ in range(0, seconds, 10):
        for place, value in zip(channels, read_slowly(scenario, spot), strict=True):
            if value is not None:
                live.put(Reading(channel=place.name, value=value, at_s=live.now_s))
        scenario.advance(10.0)
        live.wait(10)


def test_four_healthy_hours_cause_nothing_but_burn_ending():
    scenario, spot = SCENARIOS["passing"](3), slow_spot(3)
    channels = channels_of(scenario)
    live = Live(Pipeline(replace(bench(), channels=channels), START_S))
    live.put(lit())
    scenario.light()
    run(live, scenario, spot, channels, 4 * 3600)
    assert told(live) == {("raised", "burn-ending/jar-a")}
    live.put(out(live.now_s))
    scenario.extinguish()
    run(live, scenario, spot, channels, 3600)
    assert told(live) == {("raised", "burn-ending/jar-a")}


def test_a_wall_that_suddenly_climbs_is_told_before_the_alert():
    live = Live()
    live.put(lit())
    live.run(2000, every_s=5, wall=noisy(45.0), twin=noisy(44.0))
    live.run(300, wall=lambda t: 45.0 + (t - 2000) * 3.0 / 60.0, twin=noisy(44.0))
    rising = [e for e in live.of(AlarmEvent) if e.alarm.finding.rule == "rise-rate"]
    assert rising[0].alarm.key == f"rise-rate/{WALL}"
    assert 2000 + 60 < rising[0].time_s - START_S < 2000 + 240
    assert rising[0].alarm.finding.value > 2.0


def test_a_flame_that_stays_in_sight_for_a_while_is_no_climb():
    live = Live()
    live.put(lit())
    steady, flame = noisy(45.0), noisy(85.0)
    live.run(
        2400,
        every_s=5,
        wall=lambda t: (flame if 2000 <= t < 2060 else steady)(t),
        twin=noisy(44.0),
    )
    assert live.alarms("rise-rate") == []


def test_the_first_minutes_of_warming_are_no_climb():
    live = Live()
    live.put(lit())
    live.run(400, wall=lambda t: 22.0 + t * 4.0 / 60.0)
    assert live.alarms("rise-rate") == []


def test_a_climb_above_50_degrees_is_told_in_the_first_half_hour_too():
    live = Live()
    live.put(lit())
    live.run(600, wall=noisy(46.0), twin=noisy(44.0))
    live.run(180, wall=lambda t: 46.0 + (t - 600) * 3.0 / 60.0, twin=noisy(44.0))
    rising = [e for e in live.of(AlarmEvent) if e.alarm.finding.rule == "rise-rate"]
    assert [e.alarm.key for e in rising if e.tells] == [f"rise-rate/{WALL}"]
    assert 50.0 < 46.0 + (rising[0].time_s - START_S - 600) * 3.0 / 60.0 < 53.0


def test_flame_out_is_asked_when_every_place_falls_and_ends_with_out():
    live = Live()
    live.put(lit())
    live.run(1300, every_s=5, wall=noisy(50.0), twin=noisy(48.0))
    live.run(
        900,
        every_s=5,
        wall=lambda t: 50.0 - (t - 1300) / 90.0,
        twin=lambda t: 48.0 - (t - 1300) / 90.0,
    )
    assert live.alarms("flame-out") == [("raised", "flame-out/jar-a")]
    (raised,) = [e for e in live.of(AlarmEvent) if e.alarm.key == "flame-out/jar-a"]
    assert "every wall place is cooling" in raised.alarm.finding.text
    live.put(out(live.now_s))
    assert live.alarms("flame-out")[-1] == ("returned", "flame-out/jar-a")


def test_a_place_that_a_person_reads_does_not_hide_that_the_flame_is_out():
    live = Live()
    live.put(lit())
    live.run(1300, every_s=5, wall=noisy(50.0), twin=noisy(48.0))
    rim = Place(position=Position.RIM)
    for step in range(9):
        live.run(
            100,
            every_s=5,
            wall=lambda t: 50.0 - (t - 1300) / 90.0,
            twin=lambda t: 48.0 - (t - 1300) / 90.0,
        )
        stamp = {"at_s": live.now_s, "entered_s": live.now_s, "id": f"rim-{step}"}
        live.put(ManualReading(station="jar-a", place=rim, values=(47.0,), **stamp))
    assert live.alarms("flame-out") == [("raised", "flame-out/jar-a")]


def test_one_side_that_falls_is_no_flame_out():
    live = Live()
    live.put(lit())
    live.run(1300, every_s=5, wall=noisy(50.0), twin=noisy(48.0))
    live.run(900, every_s=5, wall=lambda t: 50.0 - (t - 1300) / 90.0, twin=noisy(48.0))
    assert live.alarms("flame-out") == []


def test_recorded_out_but_still_hot_after_twenty_minutes_is_told():
    live = Live()
    live.put(lit())
    live.run(300, wall=noisy(50.0))
    live.put(out(live.now_s))
    live.run(1195, every_s=5, wall=noisy(50.0))
    assert live.alarms("still-hot") == []
    live.run(10, wall=noisy(50.0))
    assert live.alarms("still-hot") == [("raised", "still-hot/jar-a")]
    live.run(600, every_s=5, wall=lambda t: 50.0 - (t - 1505) / 30.0)
    assert live.alarms("still-hot")[-1] == ("returned", "still-hot/jar-a")


def test_a_wall_that_is_no_longer_seen_does_not_end_still_hot():
    live = Live()
    live.put(lit())
    live.run(300, wall=noisy(50.0))
    live.put(out(live.now_s))
    live.run(1210, every_s=5, wall=noisy(50.0))
    live.wait(600)
    assert live.alarms("still-hot")[0] == ("raised", "still-hot/jar-a")
    assert "returned" not in {what for what, _ in live.alarms("still-hot")}


def test_after_out_the_length_goes_on_through_a_gap_in_the_readings():
    live = Live()
    live.put(lit())
    live.wait(4 * 3600 - 1200)
    live.run(100, wall=noisy(50.0))
    live.put(out(live.now_s))
    live.wait(120)  # the plug is out
    live.run(1030, every_s=5, wall=noisy(50.0))
    assert live.alarms("burn-too-long") == [("raised", "burn-too-long/jar-a")]


def test_a_candle_out_before_it_was_warm_is_not_too_long_lit_hours_later():
    live = Live()
    live.put(lit())
    live.run(60, wall=noisy(24.0))
    live.put(out(live.now_s))
    live.wait(4 * 3600)
    live.run(60, wall=noisy(24.0))
    assert live.alarms("burn-too-long") == []


def test_the_length_is_watched_until_the_wall_has_fallen_though_recorded_out():
    live = Live()
    live.put(lit())
    live.run(60, wall=noisy(50.0))
    live.wait(4 * 3600 - 30)
    live.run(20, wall=noisy(50.0))
    assert live.alarms("burn-too-long") == [("raised", "burn-too-long/jar-a")]
    live.put(out(live.now_s))
    live.run(60, wall=noisy(50.0))
    assert live.alarms("burn-too-long") == [("raised", "burn-too-long/jar-a")]
    live.run(300, wall=lambda t: 50.0 - (t - 14430) / 30.0)
    assert live.alarms("burn-too-long")[-1] == ("returned", "burn-too-long/jar-a")


def test_relit_too_soon():
    live = Live()
    live.put(lit())
    live.wait(600)
    live.put(out(live.now_s))
    live.wait(3600)
    live.put(lit(live.now_s))
    live.wait(1)
    assert live.alarms("relit-too-soon") == [("raised", "relit-too-soon/jar-a")]
    assert "1 h of rest" in live.of(AlarmEvent)[-1].alarm.finding.text


def test_who_watches_is_asked_each_half_hour_and_told_when_nobody_answers():
    live = Live(Pipeline(replace(bench(), ask_every_s=1800.0), START_S))
    live.put(lit())
    live.wait(1801)
    asked = [e for e in live.of(BurnEvent) if e.event == "who-watches"]
    assert len(asked) == 1
    live.put(InSight(**stamps(live.now_s), station="jar-a"))
    live.wait(1801)
    asked = [e for e in live.of(BurnEvent) if e.event == "who-watches"]
    assert len(asked) == 2
    assert live.alarms("unwatched") == []
    live.wait(300)
    assert live.alarms("unwatched") == [("raised", "unwatched/jar-a")]
    live.put(InSight(**stamps(live.now_s), station="jar-a"))
    live.wait(1)
    assert live.alarms("unwatched")[-1] == ("returned", "unwatched/jar-a")


def test_who_looks_or_reads_by_hand_is_not_asked_who_watches():
    live = Live(Pipeline(replace(bench(), ask_every_s=1800.0), START_S))
    live.put(lit())
    live.wait(1500)
    live.put(Observed(**stamps(live.now_s), station="jar-a", look=Look(flame_mm=(22.0,))))
    live.wait(1500)
    live.put(read(live, where="terminal"))
    live.wait(1500)
    live.put(read(live, by="Ines"))  # by a program, that names who read it
    live.wait(1500)
    live.put(photo(live, at_candle=True))
    live.wait(1200)
    live.put(photo(live))  # of an earlier time, or nobody knows
    live.wait(500)
    live.put(read(live))  # by a program alone
    live.wait(90)
    assert not any(one.event == "who-watches" for one in live.of(BurnEvent))
    live.wait(20)
    assert [one.event for one in live.of(BurnEvent)].count("who-watches") == 1
    assert live.alarms("unwatched") == []


def photo(live, **how):
    entry = stamps(live.now_s, f"photo-{live.now_s}")
    return Photographed(**entry, station="jar-a", photo="0" * 64, **how)


def read(live, **how):
    entry = stamps(live.now_s, f"read-{live.now_s}") | {"by": ""} | how
    place = Place(position=Position.RIM)
    return ManualReading(**entry, station="jar-a", place=place, values=(41.0,))


def test_a_room_out_of_range_is_told_while_something_burns():
    live = Live()
    live.run(600, room=noisy(29.0, 0.05))
    assert live.alarms("room-out-of-range") == []
    live.put(lit(live.now_s))
    live.run(400, room=noisy(29.0, 0.05))
    assert live.alarms("room-out-of-range") == [("raised", f"room-out-of-range/{ROOM}")]


def test_a_burn_read_by_hand_only_asks_for_overdue_readings():
    room = tuple(c for c in bench().channels if c.name == ROOM)
    live = Live(Pipeline(replace(bench(), channels=room), START_S))
    live.put(lit())
    live.run(2200, every_s=5, room=noisy(22.0))
    assert live.alarms("silent") == [("raised", "silent/jar-a")]


@pytest.mark.parametrize("seed", range(3))
def test_a_wall_that_climbs_6_k_per_min_is_told_within_45_s_of_crossing(seed):
    rng = random.Random(seed)
    live = Live()
    live.put(lit())
    live.run(600, wall=lambda _t: 45.0 + rng.gauss(0.0, 1.0), twin=noisy(45.0))
    live.run(240, wall=lambda t: 45.0 + (t - 600) * 0.1 + rng.gauss(0.0, 1.0), twin=noisy(45.0))
    raised = next(e for e in live.of(AlarmEvent) if e.alarm.key == f"wall-limit/{WALL}")
    assert raised.time_s - START_S <= 600 + 150 + 45
    assert TWIN not in raised.alarm.key


def test_a_burn_that_will_pass_the_limit_is_foretold_and_the_forecast_survives_a_restart():
    def wall(t):
        return 23.0 + 41.0 * (1.0 - math.exp(-t / 3600.0)) + rng.gauss(0.0, 0.3)

    rng = random.Random(4)
    live = Live()
    live.put(lit())
    live.run(2 * 3600, every_s=5, wall=wall, room=lambda _t: 23.0 + rng.gauss(0.0, 0.1))
    (foretold,) = [e for e in live.of(AlarmEvent) if e.alarm.finding.rule == "wall-forecast"]
    assert foretold.alarm.key == f"wall-forecast/{WALL}"
    limit_passed_s = -3600.0 * math.log(1.0 - 37.0 / 41.0)
    assert foretold.time_s - START_S < limit_passed_s - 1800.0
    forecasts = [f for f in live.of(Forecast) if f.channel == WALL]
    assert forecasts[0].at_s - START_S >= 1200.0
    assert forecasts[-1].low_c < 63.2 < forecasts[-1].high_c
    memory = Memory(
        burns=live.pipeline.burns,
        alarms=live.pipeline.alarms,
        estimates=tuple(live.of(Estimate)),
    )
    resumed = Live(Pipeline(bench(), live.now_s, memory), live.now_s)
    resumed.run(120, wall=lambda _t: wall(2 * 3600), room=lambda _t: 23.0)
    assert next(f for f in resumed.of(Forecast) if f.channel == WALL).value_c == pytest.approx(
        forecasts[-1].value_c, abs=0.5
    )
