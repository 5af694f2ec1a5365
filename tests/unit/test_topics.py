"""What is published, where, and how; nothing here needs a broker."""

import json
from dataclasses import replace

import pytest
from hypothesis import given
from hypothesis import strategies as st

from logger.alarms.lifecycle import Alarm, AlarmState, Finding, Priority, Signal
from logger.burn.model import BurnEvent
from logger.messages import LONGEST_LINE, one_line
from logger.publish.topics import Topics
from logger.quantities import Averaging, Channel, Estimate, Place, Position, Quality, Quantity

T0_S = 1_935_000_000.0
TOPICS = Topics(bench="back-room")
WALL = Channel(
    name="jar-a-wall-3",
    instrument="probes",
    quantity=Quantity.TEMPERATURE,
    place=Place(position=Position.WALL, height_mm=60.0),
    station="jar-a",
)


def alarm(**changes) -> Alarm:
    found = {
        "rule": "wall-limit",
        "subject": "jar-a-wall-3",
        "station": "jar-a",
        "channel": "jar-a-wall-3",
        "signal": Signal.ON,
        "priority": Priority.WARNING,
        "text": "go to the candle",
    }
    state = changes.pop("state", AlarmState.UNACKNOWLEDGED)
    return Alarm(finding=Finding(**(found | changes)), state=state, since_s=T0_S)


def topic_of(alarm: Alarm) -> str:
    return TOPICS.alarm_topic(alarm.finding).removeprefix("wickbench/back-room/alarm/")


@pytest.mark.parametrize(
    ("changes", "topic"),
    [
        pytest.param({}, "jar-a/wall-limit/jar-a-wall-3", id="of a channel"),
        pytest.param(
            {"rule": "burn-ending", "subject": "jar-a", "channel": None},
            "jar-a/burn-ending/-",
            id="of a station",
        ),
        pytest.param(
            {"rule": "silent", "subject": "room", "station": None, "channel": "room"},
            "bench/silent/room",
            id="of a channel of the bench",
        ),
        pytest.param(
            {"rule": "delivery", "subject": "mqtt h:1", "station": None, "channel": None},
            "bench/delivery/-",
            id="of the bench",
        ),
    ],
)
def test_where_an_alarm_stands(changes, topic):
    assert topic_of(alarm(**changes)) == topic


def test_present_state_is_retained_and_emptied_when_normal():
    active = TOPICS.alarm("t", [alarm(state=AlarmState.RETURNED_UNACKNOWLEDGED)])
    assert (active.qos, active.retain, active.expiry_s) == (1, True, None)
    assert json.loads(active.payload)["state"] == "returned-unacknowledged"
    normal = TOPICS.alarm("t", [alarm(state=AlarmState.NORMAL)])
    assert (normal.payload, normal.retain) == (b"", True)


def test_of_alarms_that_share_a_topic_the_gravest_stands():
    """Two ways out that are both broken: the end of one does not hide the other."""
    bench = {"rule": "delivery", "station": None, "channel": None}
    broker = alarm(**bench, subject="mqtt h:1", priority=Priority.CAUTION)
    engine = alarm(**bench, subject="influx h:2", priority=Priority.WARNING)
    assert topic_of(broker) == topic_of(engine)
    shown = json.loads(TOPICS.alarm("t", [broker, engine]).payload)
    assert shown["alarm"] == "delivery/influx h:2"
    engine = replace(engine, state=AlarmState.NORMAL)
    shown = json.loads(TOPICS.alarm("t", [broker, engine]).payload)
    assert shown["alarm"] == "delivery/mqtt h:1"


def test_estimate_stays_at_the_broker_for_a_while():
    estimate = Estimate(
        channel=WALL.name,
        at_s=T0_S,
        value=41.32,
        standard_uncertainty=0.21,
        repeatability=0.19,
        used=27,
        rejected=3,
        quality=Quality.GOOD,
    )
    message = TOPICS.estimate(estimate, WALL)
    assert message.topic == "wickbench/back-room/channel/jar-a-wall-3"
    assert (message.qos, message.retain, message.expiry_s) == (1, True, 900)
    assert json.loads(message.payload)["value"] == 41.32
    slow = replace(WALL, averaging=Averaging(every_s=600.0))
    assert TOPICS.estimate(estimate, slow).expiry_s == 1800


@given(st.text())
def test_one_line_is_always_one_printable_line(text):
    line = one_line(text, LONGEST_LINE)
    assert line.isprintable()
    assert len(line) <= LONGEST_LINE
    assert len(line.splitlines()) <= 1
    line.encode()


@pytest.mark.parametrize(
    ("age_s", "start", "expiry_s"),
    [(0.0, "look", 3600), (59.0, "look", 3541), (1200.0, "20 min ago: look", 2400)],
)
def test_a_line_that_waited_says_so(age_s, start, expiry_s):
    message = TOPICS.phone("look", age_s=age_s)
    assert message.payload.decode() == start
    assert message.expiry_s == expiry_s


@pytest.mark.parametrize(
    ("topic", "may"),
    [
        ("wickbench/back-room/answer/phone-1", True),
        ("elsewhere/answers", True),
        ("wickbench/back-room/status", False),
        ("wickbench/back-room/phone", False),
        ("wickbench/back-room/do/read", False),
        ("$SYS/broker", False),
        ("a/+/b", False),
        ("a/#", False),
        ("a\x00b", False),
        ("", False),
        ("a" * 201, False),
    ],
)
def test_answers_go_only_where_they_mislead_nobody(topic, may):
    assert TOPICS.may_answer(topic) is may


def test_a_lone_surrogate_does_not_end_the_publisher():
    odd = BurnEvent(
        id="b/1",
        time_s=T0_S,
        since_s=T0_S,
        station="jar-a",
        burn="b",
        event="note",
        text="odd \ud800 text",
    )
    event = TOPICS.event(odd)
    assert json.loads(event.payload)["text"] == "odd ? text"
