"""What a stored row is as a point: the line protocol, as a reader of our own takes it apart.

Rules of the protocol as InfluxDB's reference states them ("Line protocol": elements, naming
restrictions, quotes, special characters; from memory): comma, space and equals sign are escaped in
tags, quote and backslash in texts, integers end in i, no line break anywhere, tags never empty.
"""

from dataclasses import dataclass, replace

import pytest
from hypothesis import given
from hypothesis import strategies as st

from logger.alarms.lifecycle import Alarm, AlarmEvent, AlarmState, Finding, Priority, Signal
from logger.burn.model import BurnEvent
from logger.publish.points import check_line, line, title
from logger.quantities import DEGF, Channel, Estimate, Place, Position, Quality, Quantity, Reading

T_S = 1_935_000_000.123456
WALL = Channel(
    name="jar-a-wall-3",
    instrument="probes",
    station="jar-a",
    quantity=Quantity.TEMPERATURE,
    place=Place(position=Position.WALL, height_mm=60.0, clock=3),
    unit=DEGF,
)
ESTIMATE = Estimate(
    channel=WALL.name,
    at_s=T_S,
    value=41.25,
    standard_uncertainty=0.2,
    repeatability=0.1,
    used=27,
    rejected=3,
    quality=Quality.GOOD,
)


@dataclass(frozen=True)
class Stored:
    kind: str
    what: object
    row: int = 7
    channel: Channel | None = None


def event(**changes):
    return BurnEvent(
        **{
            "id": "jar-a-1/note/1",
            "time_s": T_S,
            "since_s": T_S,
            "station": "jar-a",
            "burn": "jar-a-1",
            "event": "note",
            "text": "a tall flame",
        }
        | changes
    )


def parsed(text):
    """Measurement, tags, fields and time; a reader written for this test."""
    key, fields, at_ns = _split(text, " ")
    measurement, *tags = _split(key, ",")
    return (
        measurement,
        dict(_split(tag, "=") for tag in tags),
        {name: _value(value) for name, value in (_split(one, "=") for one in _split(fields, ","))},
        int(at_ns),
    )


def _split(text, at):
    """At each `at` that is neither escaped nor within quotes; escapes in parts are kept."""
    parts, part, quoted, escaped = [], "", False, False
    for char in text:
        if char == at and not quoted and not escaped:
            parts.append(part)
            part = ""
            continue
        if char == '"' and not escaped:
            quoted = not quoted
        escaped = char == "\\" and not escaped
        part += char
    return [*parts, part]


def _value(text):
    if text.startswith('"'):
        return text[1:-1].replace('\\"', '"').replace("\\\\", "\\")
    if text.endswith("i"):
        return int(text[:-1])
    return {"true": True, "false": False}.get(text) if text[0] in "tf" else float(text)


def test_an_estimate():
    assert parsed(line("back-room", Stored("estimate", ESTIMATE, channel=WALL))) == (
        "estimate",
        {
            "bench": "back-room",
            "channel": "jar-a-wall-3",
            "station": "jar-a",
            "place": "wall",
            "quantity": "temperature",
        },
        {
            "value": 41.25,
            "standard_uncertainty": 0.2,
            "used": 27,
            "rejected": 3,
            "quality": "good",
            "good": True,
        },
        1_935_000_000_123_456_000,
    )


def test_an_estimate_of_nothing_is_told_as_lost_without_a_value():
    lost = replace(ESTIMATE, value=None, standard_uncertainty=None, quality=Quality.LOST)
    _, tags, fields, _ = parsed(line("b", Stored("estimate", lost)))
    assert tags == {"bench": "b", "channel": "jar-a-wall-3"}  # as much as is known
    assert fields == {"used": 27, "rejected": 3, "quality": "lost", "good": False}


def test_an_estimate_corrected_later_is_the_same_point_with_another_value():
    first, second = (
        parsed(line("b", Stored("estimate", replace(ESTIMATE, value=v), row=row, channel=WALL)))
        for row, v in ((7, 41.0), (90, 42.0))
    )
    assert first[:2] == second[:2]
    assert first[3] == second[3]


def test_a_reading_is_raw_and_says_its_unit():
    reading = Reading(channel=WALL.name, value=106.0, at_s=T_S)
    measurement, tags, fields, at_ns = parsed(line("b", Stored("reading", reading, channel=WALL)))
    assert (measurement, tags["unit"], fields) == ("reading", "degF", {"value": 106.0})
    assert at_ns == 1_935_000_000_123_456_007


def test_rows_that_share_a_stamp_are_different_points_and_each_is_always_the_same():
    reading = Reading(channel=WALL.name, value=106.0, at_s=T_S)
    times = [
        parsed(line("b", Stored("reading", reading, row=row, channel=WALL)))[3]
        for row in (*range(995, 1005), *range(995, 1005))
    ]
    assert len(set(times)) == 10
    assert times[:10] == times[10:]
    assert {at_ns // 1000 for at_ns in times} == {1_935_000_000_123_456}


def test_events():
    assert parsed(line("b", Stored("event", event())))[:3] == (
        "event",
        {"bench": "b", "kind": "burn", "event": "note", "station": "jar-a"},
        {"id": "jar-a-1/note/1", "burn": "jar-a-1", "text": "a tall flame"},
    )
    finding = Finding(
        rule="delivery",
        subject="mqtt h:1",
        signal=Signal.ON,
        priority=Priority.WARNING,
        text='no broker: "gone" \\',
    )
    alarm = Alarm(finding=finding, state=AlarmState.UNACKNOWLEDGED)
    raised = AlarmEvent(id="bench/delivery/1", time_s=T_S, what="raised", alarm=alarm)
    assert parsed(line("b", Stored("event", raised)))[:3] == (
        "event",
        {"bench": "b", "kind": "alarm", "event": "raised", "rule": "delivery"},
        {
            "id": "bench/delivery/1",
            "priority": "warning",
            "state": "unacknowledged",
            "text": 'no broker: "gone" \\',
        },
    )


@given(text=st.text(max_size=80), id_=st.text(max_size=20))
def test_no_text_of_a_person_breaks_out_of_its_field(text, id_):
    written = line("b", Stored("event", event(text=text, id=id_)))
    assert len(written.splitlines()) == 1
    measurement, tags, fields, at_ns = parsed(written)
    assert (measurement, set(tags)) == ("event", {"bench", "kind", "event", "station"})
    assert set(fields) == {"id", "burn", "text"}
    assert at_ns == 1_935_000_000_123_456_007


@pytest.mark.parametrize(
    ("stored", "words"),
    [
        (Stored("estimate", ESTIMATE), "estimate 7 of jar-a-wall-3"),
        (Stored("event", event()), "event jar-a-1/note/1"),
    ],
)
def test_what_a_person_calls_it(stored, words):
    assert title(stored) == words


def test_the_point_of_a_check_says_nothing():
    assert check_line("back-room", 1.0) == "check,bench=back-room ok=1i 1000000000"
