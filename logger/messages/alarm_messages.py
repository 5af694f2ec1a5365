"""Alarms: their present state, and what happened to them."""

from typing import Annotated, Literal

from typing_extensions import Doc, TypedDict

from logger.alarms.lifecycle import Alarm, AlarmEvent, AlarmState, Priority
from logger.messages.text import rounded, time_or_none
from logger.timestamps import rfc3339


class AlarmMessage(TypedDict):
    """An alarm that is not normal."""

    alarm: Annotated[str, Doc("the id that it is acknowledged by")]
    since: str
    rule: str
    station: str | None
    channel: str | None
    priority: Priority
    state: AlarmState
    value: float | None
    limit: float | None
    unit: str | None
    expected: Annotated[str | None, Doc("when what is predicted comes, RFC 3339")]
    text: str
    burn: str | None
    acknowledged: Annotated[str | None, Doc("when, RFC 3339")]
    acknowledged_by: str | None
    acknowledged_where: str | None
    shelved_until: str | None


def alarm_state(alarm: Alarm) -> AlarmMessage:
    """An alarm's present state."""
    finding = alarm.finding
    return {
        "alarm": alarm.key,
        "since": rfc3339(alarm.since_s),
        "rule": finding.rule,
        "station": finding.station,
        "channel": finding.channel,
        "priority": finding.priority,
        "state": alarm.state,
        "value": rounded(finding.value),
        "limit": rounded(finding.limit),
        "unit": finding.unit,
        "expected": time_or_none(finding.expected_s),
        "text": finding.text,
        "burn": alarm.burn,
        "acknowledged": time_or_none(alarm.acknowledged_s),
        "acknowledged_by": alarm.acknowledged_by or None,
        "acknowledged_where": alarm.acknowledged_where or None,
        "shelved_until": time_or_none(alarm.shelved_until_s),
    }


class AlarmEventMessage(AlarmMessage):
    """Something that happened to an alarm, and its state since."""

    kind: Literal["alarm"]
    time: str
    id: str
    event: str


def alarm_event(event: AlarmEvent) -> AlarmEventMessage:
    """Something that happened to an alarm."""
    return {
        "kind": "alarm",
        "time": rfc3339(event.time_s),
        "id": event.id,
        "event": event.what,
        **alarm_state(event.alarm),
    }
