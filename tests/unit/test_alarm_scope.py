"""Alarms of what left the configuration end at the start of the next run; all others stand."""

from dataclasses import replace

import pytest

from logger.alarms.lifecycle import AlarmEvent, AlarmState
from logger.alarms.scope import Scope
from logger.alarms.timings import TIMINGS
from logger.burn.limits import Station
from logger.pipeline import Pipeline
from logger.quantities import Health, Part, Position, Rule
from logger.reports.manual_texts import manual_page
from tests.support.pipeline_bench import (
    BROKER,
    ROOM,
    START_S,
    TWIN,
    WALL,
    Live,
    bench,
    channel,
    lit,
    noisy,
    out,
    restarted,
)


def standing(live):
    return {alarm.key for alarm in live.pipeline.alarms if alarm.active}


@pytest.fixture
def hot():
    """Lit, a wall over the limit, another silent, the broker away."""
    live = Live()
    live.put(lit())
    live.put(Health(part=Part.DELIVERY, name=BROKER, ok=False, reason="gone", at_s=live.now_s))
    live.run(90, wall=noisy(62.0), twin=noisy(40.0), room=noisy(22.0))
    live.run(30, wall=noisy(62.0), room=noisy(22.0))
    assert standing(live) >= {f"wall-limit/{WALL}", f"silent/{TWIN}", f"delivery/{BROKER}"}
    return live


def test_nothing_ends_where_nothing_changed(hot):
    after = restarted(hot, replace(bench(), delivery_routes=(BROKER,)))
    assert [e for e in after.of(AlarmEvent) if e.what == "cleared"] == []
    assert standing(after) >= standing(hot)


def test_an_alarm_of_a_channel_that_is_gone_is_closed_once_with_the_reason(hot):
    twin_only = tuple(one for one in bench().channels if one.name != WALL)
    after = restarted(hot, replace(bench(), channels=twin_only))
    closed = [e for e in after.of(AlarmEvent) if e.what == "cleared"]
    assert {e.alarm.key for e in closed} == {f"wall-limit/{WALL}"}
    assert all(e.alarm.state is AlarmState.NORMAL for e in closed)
    assert "no longer in the configuration" in closed[0].alarm.finding.text
    before = {e.id for e in hot.of(AlarmEvent)}
    assert before.isdisjoint(e.id for e in closed)
    assert f"silent/{TWIN}" in standing(after)


def test_an_alarm_of_a_broker_that_is_gone_is_closed(hot):
    after = restarted(hot, replace(bench(), delivery_routes=("mqtt 192.0.2.1:1883",)))
    assert f"delivery/{BROKER}" not in standing(after)


def test_a_lit_candle_stays_watched_though_its_station_left_the_configuration(hot):
    elsewhere = replace(bench(), channels=(), stations=(Station(name="jar-b", material=None),))
    after = restarted(hot, elsewhere)
    assert {status.station for status in after.pipeline.statuses(after.now_s)} == {"jar-a", "jar-b"}
    after.wait(4 * 3600)
    assert ("raised", "burn-too-long/jar-a") in after.alarms()
    after.put(out(after.now_s))
    after.wait(1)
    assert after.alarms("burn-too-long")[-1] == ("returned", "burn-too-long/jar-a")


def test_a_station_that_is_out_and_gone_has_its_alarms_closed(hot):
    hot.put(out(hot.now_s))
    hot.run(1300, wall=noisy(62.0))
    assert "still-hot/jar-a" in standing(hot)
    after = restarted(hot, replace(bench(), channels=(), stations=()))
    assert standing(after) <= {f"delivery/{BROKER}"}


@pytest.mark.parametrize(
    ("rule", "moved", "gone"),
    [
        pytest.param("wall-limit", channel(WALL), False, id="unchanged"),
        pytest.param("wall-limit", channel(WALL, station="jar-b"), True, id="another station"),
        pytest.param("rise-rate", channel(WALL, Position.MELT_POOL), True, id="off the wall"),
        pytest.param("silent", channel(WALL, Position.MELT_POOL), False, id="still heard"),
        pytest.param("room-out-of-range", channel(WALL), True, id="out of the room"),
    ],
)
def test_a_channel_that_was_moved(hot, rule, moved, gone):
    finding = replace(_finding(hot, f"wall-limit/{WALL}"), rule=Rule(rule))
    scope = Scope(channels={WALL: moved}, stations=frozenset({"jar-a"}), delivery_routes=None)
    assert (scope.why_gone(finding) is not None) is gone


def test_a_place_that_was_read_by_hand_goes_with_its_station(hot):
    finding = _finding(hot, f"wall-limit/{WALL}")
    scope = Scope(channels={WALL: channel(WALL)}, stations=frozenset(), delivery_routes=None)
    assert scope.why_gone(finding).startswith("jar-a is no longer in the configuration")


def test_overdue_readings_are_asked_for_no_more_where_an_instrument_watches():
    live = Live(Pipeline(replace(bench(), channels=(channel(ROOM, Position.ROOM),)), START_S))
    live.put(lit())
    live.wait(2200)
    assert "silent/jar-a" in standing(live)
    assert "silent/jar-a" not in standing(restarted(live, bench()))


def test_the_manual_has_every_rule():
    text = manual_page("alarms").text
    assert [rule for rule in TIMINGS if f"`{rule}`" not in text] == []


def _finding(live, key):
    return next(alarm.finding for alarm in live.pipeline.alarms if alarm.key == key)
