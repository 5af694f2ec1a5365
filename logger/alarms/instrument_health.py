"""What the health of instruments means for burns and batteries."""

from collections.abc import Callable, Iterable, Sequence
from dataclasses import replace

from logger.alarms import battery
from logger.alarms.lifecycle import Finding
from logger.burn.link_record import with_health
from logger.burn.model import Burn
from logger.quantities import Channel, Health, Part

IsLit = Callable[[str | None], bool]


class Instruments:
    """The latest health of each, and which stations it serves."""

    def __init__(self, channels: Sequence[Channel]) -> None:
        self._channels: dict[str, list[Channel]] = {}
        for channel in channels:
            self._channels.setdefault(channel.instrument, []).append(channel)
        self._latest: dict[str, Health] = {}

    def hear(self, news: Health, burns: Iterable[Burn]) -> list[Burn]:
        """Take news of an instrument; the burns whose record of its link has changed."""
        before = self._latest.get(news.name)
        self._latest[news.name] = news
        changed = []
        for burn in burns:
            if burn.lit and self._serves(news.name, burn.station):
                links = with_health(burn.links, news, before)
                if links != burn.links:
                    changed.append(replace(burn, links=links))
        return changed

    def begun(self, burn: Burn) -> Burn:
        """A burn with what is known of its instruments when it is lit."""
        for news in self._serving(burn.station):
            burn = replace(burn, links=with_health(burn.links, news, news))
        return burn

    def battery(self, news: Health, is_lit: IsLit) -> list[Finding]:
        """`battery-low` of one instrument."""
        channels = self._channels.get(news.name, [])
        lit = any(is_lit(channel.station) for channel in channels)
        finding = battery.battery_low(channels[0], news, lit=lit) if channels else None
        return [] if finding is None else [finding]

    def batteries_anew(self, station: str, is_lit: IsLit) -> list[Finding]:
        """Low batteries of a station's instruments, told once more: it is lit, or out again."""
        return [
            told
            for news in self._serving(station)
            for finding in self.battery(news, is_lit)
            for told in battery.anew(finding)
        ]

    def _serving(self, station: str) -> list[Health]:
        instruments = (one for one in self._latest.values() if one.part is Part.INSTRUMENT)
        return [news for news in instruments if self._serves(news.name, station)]

    def _serves(self, instrument: str, station: str) -> bool:
        channels = self._channels.get(instrument, [])
        return any(channel.station in (None, station) for channel in channels)
