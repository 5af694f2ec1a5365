"""Where the burns of a bench are going: every published estimate in, forecasts out."""

from collections.abc import Iterable, Sequence
from dataclasses import dataclass, field, replace

from logger.burn.forecast import SPACING_S, BurnForecast, Forecast, Recent
from logger.burn.limits import Limits
from logger.burn.model import Burn
from logger.quantities import Channel, Estimate, Position, Quantity

EVERY_S = 60.0  # a fit costs a millisecond a place, and says nothing new sooner


@dataclass(slots=True)
class _Followed:
    burn: str
    course: BurnForecast
    latest: dict[str, Forecast] = field(default_factory=dict)  # by channel


class Prospects:
    """The burn of each station while it is lit, followed from its lighting on."""

    def __init__(self, channels: Iterable[Channel], limits: Limits) -> None:
        self._channels = {channel.name: channel for channel in channels}
        self._limits = limits
        self._recent = Recent()
        self._followed: dict[str, _Followed] = {}
        # Of one moment the room comes first: live and from the store a wall is above the same.
        self._order = {name: not _is_room(c) for name, c in self._channels.items()}

    def see(self, estimates: Sequence[Estimate]) -> None:
        """Take what was published at one moment."""
        for estimate in sorted(estimates, key=self._rank):
            self._recent.see(estimate)
            for station, followed in self._concerned(estimate):
                self._feed(station, followed.course, estimate)

    def _concerned(self, estimate: Estimate) -> Iterable[tuple[str, _Followed]]:
        """The burns that are followed where it was estimated: a room may be of all stations."""
        channel = self._channels.get(estimate.channel)
        if channel is None or channel.station is None:
            return self._followed.items()
        followed = self._followed.get(channel.station)
        return () if followed is None else ((channel.station, followed),)

    def follow(self, burn: Burn, estimates: Iterable[Estimate] = ()) -> None:
        """Follow `burn` from its lighting on; `estimates` of it from before a restart."""
        course = BurnForecast(burn.lit_s, burn.expected)
        known = [*estimates] or [*self._recent.since(burn.lit_s)]
        for estimate in sorted(known, key=lambda one: (one.at_s, self._rank(one))):
            self._feed(burn.station, course, estimate)
        self._followed[burn.station] = _Followed(burn.id, course)

    def recent(self) -> Iterable[Estimate]:
        """Good estimates of the last hour, some seconds apart, in order of time."""
        return self._recent.since(0.0)

    def forecasts(self, burn: Burn, now_s: float) -> list[Forecast]:
        """Each place of `burn` at its end, made anew every EVERY_S; those too early left out."""
        followed = self._followed.get(burn.station)
        if followed is None or followed.burn != burn.id or now_s % EVERY_S >= 1.0:
            return []
        end_s = burn.lit_s + self._limits.burn_length_s
        limit_c = self._limits.of(burn.material).limit_c
        made = [
            followed.course.forecast(name, now_s, end_s, limit_c)
            for name in followed.course.channels
        ]
        followed.latest = {one.channel: one for one in made if one is not None}
        return [one for one in followed.latest.values() if not one.early]

    def latest(self, burn: Burn) -> list[tuple[Channel, Forecast]]:
        """The last forecast of each place of `burn`, to be judged; empty once it is out."""
        followed = self._followed.get(burn.station)
        if followed is None or followed.burn != burn.id:
            return []
        return [(self._channels[name], one) for name, one in followed.latest.items()]

    def learn(self, burn: Burn, now_s: float) -> Burn:
        """`burn`, out, with what the next burn of its candle starts from.

        One recorded out long after teaches nothing: its walls had begun to cool.
        """
        followed, learned = self._followed.get(burn.station), dict(burn.expected)
        late = burn.out_s is None or now_s - burn.out_s > 2.0 * SPACING_S
        if followed is not None and followed.burn == burn.id and not late:
            learned |= followed.course.learned()
        return replace(burn, learned=learned)

    def _feed(self, station: str, course: BurnForecast, estimate: Estimate) -> None:
        channel = self._channels.get(estimate.channel)
        if channel is None:
            return
        if _is_room(channel) and channel.station in (None, station):
            course.see_room(estimate)
        elif channel.on_vessel and channel.station == station:
            course.see_wall(estimate)

    def _rank(self, estimate: Estimate) -> bool:
        return self._order.get(estimate.channel, True)


def _is_room(channel: Channel) -> bool:
    return channel.place.position is Position.ROOM and channel.quantity is Quantity.TEMPERATURE
