"""Readings typed by a person: set aside, typed late, typed at the wrong jar."""

from dataclasses import replace

import pytest

from logger.alarms.lifecycle import AlarmEvent
from logger.burn.entries import Acknowledge, Lit, ManualReading, Moved, Out
from logger.burn.limits import Material, Station
from logger.burn.model import Burn, BurnEvent
from logger.errors import Refused
from logger.hub import Hub
from logger.messages import typed
from logger.pipeline import Bench, Memory, Pipeline
from logger.quantities import Estimate, Place, Position, Quality, Quantity, Tick
from logger.units import unit_of
from tests.support.pipeline_bench import LIMITS, START_S, Live

AT_S = 1_940_000_000.0
WALL = Place(position=Position.WALL, height_mm=40.0, clock=9)
WRONG, RIGHT = "jar-a", "jar-b"
WRONG_CHANNEL, RIGHT_CHANNEL = "jar-a-hand-wall-40-9", "jar-b-hand-wall-40-9"
DEGF = unit_of("degF", Quantity.TEMPERATURE)


@pytest.fixture
def bench():
    return Bench(
        channels=(),
        stations=tuple(Station(name=n, material=Material.GLASS) for n in (WRONG, RIGHT)),
        limits=LIMITS,
    )


def lit(station, at_s=AT_S):
    return Lit(at_s=at_s, entered_s=at_s, id=f"lit-{station}", station=station, trial="marigold")


def read(*values, id="reading-1", station=WRONG, at_s=AT_S + 60, entered_s=None):
    return ManualReading(
        at_s=at_s,
        entered_s=at_s if entered_s is None else entered_s,
        id=id,
        station=station,
        place=WALL,
        values=values,
    )


def move(id="reading-1", to=RIGHT, at_s=AT_S + 120):
    return Moved(at_s=at_s, entered_s=at_s, id=f"move-{id}-{to}", by="Ines", reading=id, station=to)


def folded(bench, *items, memory=None):
    """The pipeline, its hub, and what came of each item."""
    pipeline, hub = Pipeline(bench, AT_S - 1, memory), Hub()
    outputs = []
    for item in items:
        outputs.append(pipeline.step(item))
        hub.publish(item, outputs[-1])
    return pipeline, hub, outputs


def of(kind, outputs):
    return [one for one in outputs if isinstance(one, kind)]


def test_a_moved_reading_counts_at_its_own_jar_and_nowhere_else(bench):
    pipeline, hub, _ = folded(bench, lit(WRONG), lit(RIGHT), read(55.0, 55.2, 54.9), move())
    burns = {burn.station: burn for burn in pipeline.burns}
    assert burns[WRONG].hottest is None
    assert burns[RIGHT].hottest.value_c == pytest.approx(55.03, abs=0.01)
    assert list(hub.by_hand) == list(hub.estimates) == [RIGHT_CHANNEL]
    assert [channel.name for channel in pipeline.places_by_hand] == [RIGHT_CHANNEL]
    statuses = {status.station: status for status in pipeline.statuses(AT_S + 130)}
    assert statuses[WRONG].hottest is None
    assert statuses[RIGHT].hottest.channel == RIGHT_CHANNEL


def test_the_move_is_an_event_of_both_burns(bench):
    *_, outputs = folded(bench, lit(WRONG), lit(RIGHT), read(55.0, 55.2, 54.9), move())
    events = of(BurnEvent, outputs[-1])
    assert [(event.station, event.event, event.by) for event in events] == [
        (WRONG, "moved", "Ines"),
        (RIGHT, "moved", "Ines"),
    ]
    assert len({event.id for event in events}) == 2
    for event, other in zip(events, (RIGHT, WRONG), strict=True):
        assert other in event.text
        assert "55.0, 55.2, 54.9 °C" in event.text


def test_an_earlier_reading_of_the_place_holds_again(bench):
    first = read(40.0, 40.1, 39.9, id="reading-0", at_s=AT_S + 30)
    pipeline, hub, outputs = folded(
        bench, lit(WRONG), lit(RIGHT), first, read(55.0, 55, 55), move()
    )
    assert hub.estimates[WRONG_CHANNEL].value == pytest.approx(40.0)
    assert {burn.station: burn for burn in pipeline.burns}[WRONG].hottest.value_c == pytest.approx(
        40
    )
    assert of(Burn, outputs[-1])  # to be stored


def test_an_alarm_of_the_wrong_jar_ends_and_the_right_jar_has_it(bench):
    ticks = [Tick(at_s=AT_S + 121 + n) for n in range(70)]
    pipeline, _, outputs = folded(
        bench, lit(WRONG), lit(RIGHT), read(70.0, 70.2, 69.8), move(), *ticks
    )
    states = {alarm.key: alarm.state for alarm in pipeline.alarms if "limit" in alarm.key}
    assert states[f"wall-limit/{WRONG_CHANNEL}"] == "normal"  # it never was one
    assert states[f"wall-limit/{RIGHT_CHANNEL}"] == "unacknowledged"
    raised = {event.alarm.key for event in of(AlarmEvent, outputs[3]) if event.what == "raised"}
    (ended,) = [e for e in of(AlarmEvent, outputs[3]) if e.what == "cleared" and "limit" in e.id]
    assert "was read wrongly" in ended.alarm.finding.text
    assert f"wall-limit/{RIGHT_CHANNEL}" in raised


def test_a_limit_read_by_hand_is_told_again_while_nobody_acknowledges(bench):
    ticks = [Tick(at_s=AT_S + 61 + n) for n in range(125)]
    *_, outputs = folded(bench, lit(WRONG), read(70.0, 70.2, 69.8), *ticks)
    assert told(outputs) == ["raised", "reminded"]


def told(outputs):
    return [e.what for out in outputs for e in of(AlarmEvent, out) if "limit" in e.alarm.key]


def seen(at_s):
    key = f"wall-limit/{WRONG_CHANNEL}"
    return Acknowledge(at_s=at_s, entered_s=at_s, id=f"ack-{at_s}", by="Ines", alarm=key)


def test_an_alarm_by_hand_ends_with_its_burn_and_the_next_burn_has_its_own(bench):
    next_s = AT_S + 3600
    items = (
        lit(WRONG),
        read(70.0, 70.2, 69.8),
        seen(AT_S + 90),
        Out(at_s=AT_S + 600, entered_s=AT_S + 600, id="out", station=WRONG),
        lit(WRONG, at_s=next_s),
        *(Tick(at_s=next_s + 1 + n) for n in range(100)),
        read(71.0, 71.2, 70.8, id="reading-2", at_s=next_s + 200),
    )
    *_, outputs = folded(bench, *items)
    assert told(outputs[:5]) == ["raised", "acknowledged"]
    assert told(outputs[5:]) == ["cleared", "raised"]


def test_a_reading_of_the_burn_before_that_is_typed_late_is_no_alarm_of_this_one(bench):
    next_s = AT_S + 3600
    items = (
        lit(WRONG),
        Out(at_s=AT_S + 600, entered_s=AT_S + 600, id="out", station=WRONG),
        lit(WRONG, at_s=next_s),
        read(70.0, 70.2, 69.8, at_s=AT_S + 500, entered_s=next_s + 60),
        *(Tick(at_s=next_s + 61 + n) for n in range(100)),
    )
    *_, outputs = folded(bench, *items)
    assert told(outputs) == []
    (burn,) = [one for one in of(Burn, outputs[3])]
    assert burn.lit_s == AT_S  # which was so hot
    assert burn.hottest.value_c == pytest.approx(70.0, abs=0.1)


def test_an_alarm_by_hand_ends_once_the_candle_is_out_and_cold(bench):
    out_s = AT_S + 600
    cold_s = out_s + LIMITS.cool_down_s
    items = (
        lit(WRONG),
        read(70.0, 70.2, 69.8),
        Out(at_s=out_s, entered_s=out_s, id="out", station=WRONG),
        *(Tick(at_s=cold_s - 100.0 + n) for n in range(200)),
    )
    pipeline, _, outputs = folded(bench, *items)
    assert told(outputs[:-100]) == ["raised"]
    assert told(outputs[-100:]) == ["returned"]
    (alarm,) = [one for one in pipeline.alarms if one.finding.rule == "wall-limit"]
    assert alarm.state == "returned-unacknowledged"  # until somebody has seen it


def test_it_can_be_moved_back(bench):
    items = (
        lit(WRONG),
        lit(RIGHT),
        read(55.0, 55.2, 54.9),
        move(),
        move(to=WRONG, at_s=AT_S + 180),
    )
    _, hub, _ = folded(bench, *items)
    assert list(hub.by_hand) == [WRONG_CHANNEL]


@pytest.mark.parametrize(
    ("entry", "says"),
    [
        pytest.param(move(id="reading-9"), "the last ones are: lit-ja, readin", id="unknown"),
        pytest.param(move(to=WRONG), "already", id="same"),
        pytest.param(move(to="jar-z"), "no station jar-z", id="no such station"),
    ],
)
def test_what_cannot_be_moved_is_refused_and_changes_nothing(bench, entry, says):
    pipeline, *_ = folded(bench, lit(WRONG), read(55.0, 55.2, 54.9))
    with pytest.raises(Refused, match=says):
        pipeline.step(entry)
    assert [channel.name for channel in pipeline.places_by_hand] == [WRONG_CHANNEL]


def test_after_a_restart_it_is_where_it_belongs_and_can_still_be_moved(bench):
    pipeline, *_ = folded(bench, lit(WRONG), lit(RIGHT), read(55.0, 55.2, 54.9))
    entries = tuple((one, None) for one in (read(55.0, 55.2, 54.9), move()))
    memory = Memory(burns=pipeline.burns, entries=entries)  # as the store gives it
    after, *_ = folded(bench, move(to=WRONG), memory=memory)
    assert [channel.name for channel in after.places_by_hand] == [WRONG_CHANNEL]


def test_a_reading_typed_late_does_not_replace_a_newer_one(bench):
    newer = read(55.0, 55.2, 54.9, at_s=AT_S + 600)
    late = read(40.0, 40.1, 39.9, id="reading-2", at_s=AT_S + 60, entered_s=AT_S + 660)
    pipeline, hub, outputs = folded(bench, lit(WRONG), newer, late)
    assert of(Estimate, outputs[-1])[0].at_s == AT_S + 60  # it is stored
    assert hub.estimates[WRONG_CHANNEL].at_s == AT_S + 600
    assert pipeline.estimates[0].at_s == AT_S + 600


def test_a_reading_of_before_the_lighting_is_none_of_this_burn(bench):
    early = read(70.0, 70.0, 70.0, at_s=AT_S - 1200, entered_s=AT_S + 5)
    pipeline, *_ = folded(bench, lit(WRONG), early)
    assert pipeline.burns[0].hottest is None


def test_the_answer_shows_what_was_used_and_what_was_set_aside():
    typed_f = (135.2, 134.8, 135.4, 171.9)
    entry = replace(read(*map(DEGF.inside, typed_f)), typed_in=DEGF)
    answer = typed(entry)
    assert answer["used"] == [135.2, 134.8, 135.4]
    assert answer["set_aside"] == [171.9]
    assert answer["unit"] == "degF"
    assert answer["value"] == pytest.approx(135.13, abs=0.01)
    assert 0.5 < answer["standard_uncertainty"] < 3.0
    assert answer["quality"] == Quality.GOOD
    assert answer["channel"] == WRONG_CHANNEL


def test_a_gun_fixed_at_0_95_reads_bare_glass_too_cold():
    entry = replace(read(56.5, 56.4, 56.6), emissivity=0.92, emissivity_set=0.95, reflected_c=22.0)
    assert 57.0 < typed(entry)["value"] < 58.0


def test_of_two_readings_at_one_time_the_later_typed_holds_and_is_judged(bench):
    pipeline, _, (_, _, outputs) = folded(
        bench, lit(WRONG), read(45.0, 45.0, 45.1), read(75.0, 75.1, 75.0, id="reading-2")
    )
    assert pipeline.estimates[-1].value > 70.0
    raised = {one.alarm.key for one in outputs if isinstance(one, AlarmEvent)}
    assert f"wall-limit/{pipeline.estimates[-1].channel}" in raised


def test_a_reading_of_a_station_that_left_the_configuration_can_be_moved(bench):
    place = Place(position=Position.WALL, height_mm=60.0)
    read = ManualReading(
        at_s=START_S, entered_s=START_S, id="hand", station="gone", place=place, values=(58.0,) * 3
    )
    live = Live(Pipeline(bench, START_S + 10.0, Memory(entries=((read, None),))), START_S + 10.0)
    moved = Moved(
        at_s=live.now_s, entered_s=live.now_s, id="moved", reading="hand", station="jar-a"
    )
    outputs = live.put(moved)
    assert any(isinstance(one, ManualReading) and one.station == "jar-a" for one in outputs)
    assert not [alarm for alarm in live.pipeline.alarms if alarm.finding.rule == "program"]
