"""What goes to a time-series engine: measurement, tags, fields and time of each stored row.

Tags and times follow from the row alone, so that a point written twice is one point. Stamps are
whole microseconds; what is below them keeps rows apart that share a stamp and all tags: readings
that came in one read, events of one second. Two estimates of one channel and time are one point:
the later one corrects the earlier.
"""

from typing import Protocol

from influxdb_client.client.write.point import Point

from logger.alarms.lifecycle import AlarmEvent
from logger.messages import LONGEST_LINE, one_line
from logger.pipeline import Event
from logger.quantities import Channel, Estimate, Quality, Reading

Tags = dict[str, str | None]
Fields = dict[str, float | str | bool | None]


class PointToForward(Protocol):
    """One row of what is stored."""

    @property
    def kind(self) -> str:
        """event, estimate or reading."""
        ...

    @property
    def row(self) -> int:
        """Its number among its kind."""
        ...

    @property
    def what(self) -> Event | Estimate | Reading:
        """Its content."""
        ...

    @property
    def channel(self) -> Channel | None:
        """Its channel as it was then; None: of an event, or not known any more."""
        ...


def line(bench: str, stored: PointToForward) -> str:
    """`stored` in the line protocol."""
    tags: Tags = {"bench": bench}
    match stored.what:
        case Estimate() as estimate:
            tags |= _of_channel(estimate.channel, stored.channel)
            fields, time_ns = _estimate(estimate), _ns(estimate.at_s)
        case Reading() as reading:
            tags |= _of_channel(reading.channel, stored.channel)
            tags["unit"] = None if stored.channel is None else stored.channel.unit.name
            fields, time_ns = {"value": float(reading.value)}, _ns(reading.at_s, stored.row)
        case event:
            tags |= _of_event(event)
            fields, time_ns = _event(event), _ns(event.time_s, stored.row)
    return _line(stored.kind, tags, fields, time_ns)


def check_line(bench: str, at_s: float) -> str:
    """A point that says nothing, to see whether an engine takes any."""
    return _line("check", {"bench": bench}, {"ok": 1}, _ns(at_s))


def title(stored: PointToForward) -> str:
    """What `stored` is called by a person."""
    if isinstance(stored.what, Estimate | Reading):
        return f"{stored.kind} {stored.row} of {stored.what.channel}"
    return f"{stored.kind} {one_line(stored.what.id)}"


def _line(measurement: str, tags: Tags, fields: Fields, time_ns: int) -> str:
    """Escaped by influxdb-client, which leaves out what is None."""
    return str(
        Point.from_dict(
            {"measurement": measurement, "tags": tags, "fields": fields, "time": time_ns}
        )
    )


def _of_channel(name: str, channel: Channel | None) -> Tags:
    if channel is None:
        return {"channel": name}
    return {
        "channel": name,
        "station": channel.station,
        "place": channel.place.position.value,
        "quantity": channel.quantity.value,
    }


def _estimate(estimate: Estimate) -> Fields:
    return {
        "value": estimate.value,
        "standard_uncertainty": estimate.standard_uncertainty,
        "used": estimate.used,
        "rejected": estimate.rejected,
        "quality": estimate.quality.value,
        "good": estimate.quality is Quality.GOOD,  # for engines that keep numbers only
    }


def _of_event(event: Event) -> Tags:
    if isinstance(event, AlarmEvent):
        finding = event.alarm.finding
        return {
            "kind": "alarm",
            "event": event.what,
            "rule": finding.rule,
            "station": finding.station,
            "channel": finding.channel,
        }
    return {"kind": "burn", "event": event.event, "station": event.station}


def _event(event: Event) -> Fields:
    """Without line breaks, which the line protocol has no room for."""
    fields: Fields = {"id": one_line(event.id), "burn": event.burn and one_line(event.burn)}
    if isinstance(event, AlarmEvent):
        finding = event.alarm.finding
        fields |= {"priority": finding.priority.value, "state": event.alarm.state.value}
        text = finding.text
    else:
        text = event.text
    return fields | {"text": one_line(text, LONGEST_LINE)}


def _ns(at_s: float, row: int = 0) -> int:
    return round(at_s * 1e6) * 1000 + row % 1000
