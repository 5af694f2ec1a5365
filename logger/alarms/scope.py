"""What the rules of a bench can judge: an alarm of what has left it would stand for ever."""

from collections.abc import Mapping
from dataclasses import dataclass

from logger.alarms.lifecycle import Finding
from logger.quantities import Channel, Position, Rule

ON_VESSEL = frozenset({Rule.WALL_ALERT, Rule.WALL_LIMIT, Rule.WALL_FORECAST, Rule.RISE_RATE})
"""Rules about places on a vessel; a channel may have been moved to another place."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Scope:
    """Channels (places read by hand too), stations and ways out that there are."""

    channels: Mapping[str, Channel]
    stations: frozenset[str]
    delivery_routes: tuple[str, ...] | None  # None: not known

    def why_gone(self, finding: Finding) -> str | None:
        """Why no rule can judge what `finding` is about; None where one can."""
        if finding.channel is not None:
            return self._why_channel(finding, finding.channel)
        if finding.station is not None:
            return self._why_station(finding.rule, finding.station)
        if finding.rule != Rule.DELIVERY or self.delivery_routes is None:
            return None
        return None if finding.subject in self.delivery_routes else _gone(finding.subject)

    def _why_channel(self, finding: Finding, name: str) -> str | None:
        channel, station = self.channels.get(name), finding.station
        if channel is None:
            return _gone(name)
        if station is not None and station not in self.stations:  # its readings by hand are known
            return _gone(station)
        position = channel.place.position
        judged = channel.station == finding.station and (
            channel.on_vessel
            if finding.rule in ON_VESSEL
            else position is Position.ROOM or finding.rule != Rule.ROOM_OUT_OF_RANGE
        )
        return None if judged else f"{name} looks at another place now, {_CLOSED}"

    def _why_station(self, rule: Rule, name: str) -> str | None:
        if name not in self.stations:
            return _gone(name)
        watched = any(
            one.station == name and one.on_vessel and not one.by_hand
            for one in self.channels.values()
        )
        if rule == Rule.SILENT and watched:  # that of a burn which only a person reads
            return f"an instrument watches {name} now, {_CLOSED}"
        return None


_CLOSED = "so its earlier alarm was closed"


def _gone(name: str) -> str:
    return f"{name} is no longer in the configuration, {_CLOSED}"
