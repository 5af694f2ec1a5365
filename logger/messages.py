"""What the core says, as the JSON objects that replay, MQTT and HTTP all hand out.

Keys and meanings are the outer surface; figures are rounded to 0.001 of their unit.
"""

from typing import Any

from logger.alarms.lifecycle import Alarm, AlarmEvent
from logger.burn.entries import ManualReading
from logger.burn.forecast import Forecast
from logger.burn.model import BurnEvent, BurnStatus, Hottest
from logger.conditioning import manual
from logger.pipeline import Event
from logger.quantities import Channel, Estimate, Forwarding
from logger.timestamps import rfc3339
from logger.words import duration

Message = dict[str, Any]

LONGEST_LINE = 600  # characters for a phone: what to do in the worst emergency, in full (ours)


def estimate(value: Estimate, channel: Channel) -> Message:
    """A channel's estimate."""
    return {
        "kind": "estimate",
        "time": rfc3339(value.at_s),
        "channel": value.channel,
        "value": rounded(value.value),
        "unit": channel.quantity.unit,
        "standard_uncertainty": rounded(value.standard_uncertainty),
        "repeatability": rounded(value.repeatability),
        "used": value.used,
        "rejected": value.rejected,
        "quality": value.quality.value,
        "accuracy_assumed": value.accuracy_assumed,
    }


def typed(entry: ManualReading) -> Message:
    """What values of one place typed in one go amount to, in the unit they were typed in."""
    unit, channel = entry.typed_in, entry.channel
    used, set_aside = manual.sorted_out(channel, entry.values, entry.reflected_c)
    found = manual.estimate(channel, entry.values, entry.at_s, entry.reflected_c)
    value, uncertainty = found.value or 0.0, found.standard_uncertainty or 0.0  # of >= 1 value
    return {
        "channel": channel.name,
        "value": rounded(unit.outside(value)),
        "unit": unit.name,
        "standard_uncertainty": rounded(uncertainty / unit.factor),
        "used": [rounded(unit.outside(one)) for one in used],
        "set_aside": [rounded(unit.outside(one)) for one in set_aside],
        "quality": found.quality.value,
    }


def forecast(value: Forecast) -> Message:
    """Where a place will be at the end of its burn."""
    return {
        "kind": "forecast",
        "time": rfc3339(value.at_s),
        "channel": value.channel,
        "at": rfc3339(value.target_s),
        "value": rounded(value.value_c),
        "low": rounded(value.low_c),
        "high": rounded(value.high_c),
        "level": value.level,
        "unit": "degC",
    }


def alarm_state(alarm: Alarm) -> Message:
    """An alarm's present state."""
    finding = alarm.finding
    return {
        "alarm": alarm.key,
        "since": rfc3339(alarm.since_s),
        "rule": finding.rule,
        "station": finding.station,
        "channel": finding.channel,
        "priority": finding.priority.value,
        "state": alarm.state.value,
        "value": rounded(finding.value),
        "limit": rounded(finding.limit),
        "unit": finding.unit,
        "expected": _time(finding.expected_s),
        "text": finding.text,
        "burn": alarm.burn,
        "acknowledged": _time(alarm.acknowledged_s),
        "acknowledged_by": alarm.acknowledged_by or None,
        "acknowledged_where": alarm.acknowledged_where or None,
        "shelved_until": _time(alarm.shelved_until_s),
    }


def alarm_event(event: AlarmEvent) -> Message:
    """Something that happened to an alarm."""
    return {
        "kind": "alarm",
        "time": rfc3339(event.time_s),
        "id": event.id,
        "event": event.what,
        **alarm_state(event.alarm),
    }


def burn_event(event: BurnEvent) -> Message:
    """Something a person did in a burn."""
    return {
        "kind": "burn",
        "time": rfc3339(event.time_s),
        "since": rfc3339(event.since_s),
        "station": event.station,
        "event": event.event,
        "id": event.id,
        "burn": event.burn,
        "text": event.text,
        "by": event.by or None,
    }


def event(happened: Event) -> Message:
    """Something that happened to an alarm or in a burn."""
    return alarm_event(happened) if isinstance(happened, AlarmEvent) else burn_event(happened)


def burn_status(status: BurnStatus) -> Message:
    """A station now."""
    return {
        "time": rfc3339(status.at_s),
        "station": status.station,
        "state": status.phase.value,
        "burn": status.burn,
        "trial": status.trial,
        "lit": _time(status.lit_s),
        "out": _time(status.out_s),
        "elapsed_s": rounded(status.elapsed_s),
        "remaining_s": rounded(status.remaining_s),
        "alert_c": status.alert_c,
        "limit_c": status.limit_c,
        "hottest_measured": hottest(status.hottest),
        "margin_k": rounded(status.margin_c),
        "automatic": status.automatic,
    }


def forwarding(state: Forwarding) -> Message:
    """How far an engine has what is stored."""
    words = "has all that is stored"
    if state.waiting:
        words = f"{state.waiting} points wait for it, the oldest for {duration(state.behind_s)}"
    if state.trouble:
        words = f"{words}; {state.trouble}"
    if state.set_aside:
        words = f"{words}; refused and set aside: {state.set_aside}, the latest {state.refused}"
    return {
        "engine": state.engine,
        "behind_s": rounded(state.behind_s),
        "waiting": state.waiting,
        "set_aside": state.set_aside,
        "refused": state.refused or None,
        "trouble": state.trouble or None,
        "text": one_line(words, LONGEST_LINE),
    }


def hottest(place: Hottest | None) -> Message | None:
    """The hottest measured place."""
    if place is None:
        return None
    return {
        "channel": place.channel,
        "place": str(place.place),
        "value": rounded(place.value_c),
        "unit": "degC",
        "standard_uncertainty": rounded(place.standard_uncertainty_c),
        "accuracy_assumed": place.accuracy_assumed,
        "time": rfc3339(place.at_s),
    }


def one_line(text: str, longest: int | None = None) -> str:
    """`text` on one line of at most `longest` characters; nothing in it steers a terminal.

    What does not print is left out, and a space stands where lines or words were apart.
    """
    plain = "".join(char if char.isprintable() else "\n" for char in text)
    line = " ".join(part for part in plain.split("\n") if part)
    return line if longest is None or len(line) <= longest else f"{line[: longest - 1]}…"


def rounded(value: float | None) -> float | None:
    """To 0.001, so that the last digits of the arithmetic do not pass for knowledge."""
    return None if value is None else round(value, 3)


def _time(at_s: float | None) -> str | None:
    return None if at_s is None else rfc3339(at_s)
