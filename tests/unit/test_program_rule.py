"""A fault of the program over one input or part is left out, named, and ends nothing else."""

import pytest

from logger.alarms import sensor_faults as sensor_rules
from logger.alarms import wall as wall_rules
from logger.alarms.guard import QUIET_S
from logger.burn import model
from logger.burn.entries import Lit, Out
from logger.burn.model import BurnEvent
from logger.burn.prospects import Prospects
from logger.conditioning.conditioner import Conditioner
from logger.errors import Refused
from logger.pipeline import Memory, Pipeline
from logger.pipeline.judging import Judge
from logger.quantities import Estimate, Quality, Reading, Tick
from logger.service.engine import Engine
from tests.support.pipeline_bench import ROOM, START_S, TWIN, WALL, Live, bench


class Bug(Exception):
    """Raised by what the test breaks; nothing in the program knows it."""


def breaks(monkeypatch, owner, name, when=lambda *args: True):
    """From now on `owner.name` fails when `when` of its arguments says so."""
    whole = getattr(owner, name)

    def broken(*args, **more):
        if when(*args):
            raise Bug("broken by the test")
        return whole(*args, **more)

    monkeypatch.setattr(owner, name, broken)


def lit(at_s=START_S):
    return Lit(at_s=at_s, entered_s=at_s, id="lit", station="jar-a", trial="cedar-6")


def told():
    """A list, and a report that adds to it."""
    heard = []
    return heard, lambda part, exc: heard.append((part, type(exc)))


def test_a_reading_that_the_program_fails_at_is_refused_and_its_channel_named(monkeypatch):
    heard, report = told()
    live = Live(Pipeline(bench(), START_S, report=report))
    live.run(30, wall=40.0, twin=41.0, room=22.0)
    breaks(monkeypatch, Conditioner, "add", lambda self, reading: reading.value == 13.0)
    live.run(60, wall=13.0, twin=41.0, room=22.0)
    assert live.alarms("program") == [("raised", f"program/{WALL}")]
    assert heard == [(WALL, Bug)]  # once, though it failed at each reading
    alarm = next(one for one in live.pipeline.alarms if one.key == f"program/{WALL}")
    assert "wall, 60 mm, 3 o'clock" in alarm.finding.text
    assert "not being watched" in alarm.finding.text
    assert (alarm.finding.station, alarm.finding.channel) == ("jar-a", WALL)
    live.run(int(QUIET_S) + 2, wall=40.0, twin=41.0, room=22.0)
    assert live.alarms("program")[-1] == ("returned", f"program/{WALL}")
    last = {one.channel: one for one in live.of(Estimate)}
    assert last[WALL].quality is last[TWIN].quality is Quality.GOOD


def test_a_rule_that_fails_at_one_place_leaves_the_other_places_watched(monkeypatch):
    live = Live()
    live.put(lit())
    breaks(monkeypatch, wall_rules, "wall", lambda channel, *rest: channel.name == WALL)
    live.run(40, wall=70.0, twin=70.0, room=22.0)
    raised = {key for what, key in live.alarms() if what == "raised"}
    assert {f"program/{WALL}", f"wall-limit/{TWIN}"} <= raised
    assert f"wall-limit/{WALL}" not in raised


@pytest.mark.parametrize(
    ("owner", "name", "part"),
    [
        pytest.param(Prospects, "forecasts", "forecast of jar-a", id="forecast"),
        pytest.param(sensor_rules.Sensors, "judge", "check of the sensors", id="sensors"),
        pytest.param(model.Burn, "with_wall", "jar-a", id="burn"),
        pytest.param(Pipeline, "_tick", "rules of each second", id="everything"),
    ],
)
def test_a_part_of_a_tick_that_fails_is_named_within_a_second(monkeypatch, owner, name, part):
    live = Live()
    live.put(lit())
    live.run(5, wall=40.0, twin=41.0, room=22.0)
    breaks(monkeypatch, owner, name)
    live.run(61, wall=40.0, twin=41.0, room=22.0)
    assert live.alarms("program") == [("raised", f"program/{part}")]


def test_an_entry_that_the_program_fails_at_is_refused_and_changes_nothing(monkeypatch):
    live = Live()
    live.put(lit())
    before = live.pipeline.burns, live.pipeline.alarms
    breaks(monkeypatch, model, "see")
    out = Out(at_s=START_S + 1, entered_s=START_S + 1, id="out", station="jar-a")
    with pytest.raises(Refused, match="the program failed at this entry"):
        live.pipeline.step(out)
    assert (live.pipeline.burns, live.pipeline.alarms) == before
    live.wait(2)
    assert live.alarms("program") == [("raised", "program/entry Out")]


def test_what_fails_after_an_entry_has_counted_does_not_take_it_back(monkeypatch):
    live = Live()
    live.put(lit())
    breaks(monkeypatch, Judge, "_find_of_burn")
    out = Out(at_s=START_S + 1, entered_s=START_S + 1, id="out", station="jar-a")
    outputs = live.pipeline.step(out)
    assert [one.event for one in outputs if isinstance(one, BurnEvent)] == ["out"]
    assert not live.pipeline.burns[0].lit


def test_a_start_with_readings_that_the_program_fails_at_watches_the_rest(monkeypatch):
    readings = tuple(
        Reading(channel=name, value=value, at_s=START_S + second)
        for second in range(60)
        for name, value in ((WALL, 13.0), (TWIN, 41.0), (ROOM, 22.0))
    )
    breaks(monkeypatch, Conditioner, "add", lambda self, reading: reading.value == 13.0)
    live = Live(Pipeline(bench(), START_S + 60.0, Memory(readings=readings)), START_S + 60.0)
    live.run(3, twin=41.0, room=22.0)
    assert ("raised", f"program/{WALL}") in live.alarms()
    good = {one.channel for one in live.pipeline.estimates if one.quality is Quality.GOOD}
    assert good == {TWIN, ROOM}


def test_the_alarm_ends_after_a_restart_that_fixed_it(monkeypatch):
    live = Live()
    with monkeypatch.context() as patched:
        breaks(patched, Conditioner, "add", lambda self, reading: reading.value == 13.0)
        live.run(20, wall=13.0, twin=41.0, room=22.0)
    memory = Memory(alarms=live.pipeline.alarms)
    again = Live(Pipeline(bench(), live.now_s, memory), live.now_s)
    again.run(int(QUIET_S) + 2, wall=40.0, twin=41.0, room=22.0)
    assert again.alarms("program") == [("returned", f"program/{WALL}")]


def test_a_state_that_is_no_number_begins_afresh_instead_of_raising_nothing(monkeypatch):
    live = Live()
    live.run(30, wall=40.0, twin=41.0, room=22.0)
    live.pipeline._state.places._conditioners[WALL]._running._track.level = float("nan")
    live.run(30, wall=70.0, twin=41.0, room=22.0)
    assert ("raised", f"program/{WALL}") in live.alarms()
    assert ("raised", f"wall-limit/{WALL}") in live.alarms()


async def test_a_sink_that_fails_is_named_and_the_others_take_all(monkeypatch):
    taken = []

    def broken(item, outputs):
        raise Bug("broken by the test")

    pipeline = Pipeline(bench(), START_S)
    sinks = {"page": broken, "recording": lambda item, outputs: taken.append(item)}
    engine = Engine(pipeline, START_S, sinks)
    reading = Reading(channel=WALL, value=40.0, at_s=START_S + 0.5)
    engine.put(reading)
    engine.tick(START_S + 1.0)
    while not engine._queue.empty():
        engine._fold(*engine._queue.get_nowait())
    assert taken == [Tick(at_s=START_S), reading, Tick(at_s=START_S + 1.0)]
    assert engine.done[WALL] == 1
    assert [alarm.key for alarm in pipeline.alarms if alarm.active] == ["program/page"]


async def test_a_reading_of_which_nothing_came_goes_to_who_keeps_it_alone():
    taken = {"page": [], "recording": []}
    sinks = {name: lambda item, _, kept=kept: kept.append(item) for name, kept in taken.items()}
    engine = Engine(Pipeline(bench(), START_S), START_S, sinks, keepers=("recording",))
    reading = Reading(channel=WALL, value=40.0, at_s=START_S + 0.5)
    engine.put(reading)
    engine._fold(*engine._queue.get_nowait())
    engine._fold(*engine._queue.get_nowait())
    assert taken == {"page": [Tick(at_s=START_S)], "recording": [Tick(at_s=START_S), reading]}


def test_an_error_in_telling_of_an_error_comes_out(monkeypatch):
    live = Live()
    breaks(monkeypatch, Conditioner, "add")
    live.put(Reading(channel=WALL, value=40.0, at_s=START_S))
    breaks(monkeypatch, live.pipeline._state.watch, "judge")
    with pytest.raises(Bug):
        live.wait(1)
