"""The burns of a bench: those of the last weeks, the latest of each station, and their events."""

from collections.abc import Iterable, Mapping
from dataclasses import replace

from logger.burn.consumption import is_another
from logger.burn.entries import Entry
from logger.burn.model import Burn, BurnEvent, BurnEventKind
from logger.quantities import Channel, Estimate, Quality, event_id


class Book:
    """What is written of burns; `events` is how many each had before.

    `burns` are the latest of each station and what is known of earlier ones, which can still be
    corrected.

    `candles` are burns that are out, in order of time: the next of each candle starts from them.

    The hottest place of a burn is sought until `cool_down_s` after it was out.
    """

    def __init__(
        self,
        burns: Iterable[Burn],
        events: Mapping[str, int],
        cool_down_s: float,
        candles: Iterable[Burn] = (),
        *,
        run: int | None = None,
    ) -> None:
        self._known = {burn.id: burn for burn in burns}
        self._burns: dict[str, Burn] = {}  # the latest of each station
        for burn in self._known.values():
            self._find_latest(burn.station)
        self._candles = {burn.candle: burn for burn in candles}
        self._events = dict(events)
        self._cool_down_s = cool_down_s
        self._run = run

    def adopt(
        self, burns: Iterable[Burn], events: Mapping[str, int], candles: Iterable[Burn] = ()
    ) -> list[Burn]:
        """Take burns of before at stations that have none; the latest of each."""
        self._candles = {burn.candle: burn for burn in candles} | self._candles
        taken = [burn for burn in burns if burn.station not in self._burns]
        for burn in taken:
            self.put(burn)
        self._events |= {burn.id: events.get(burn.id, 0) for burn in taken}
        return [self._burns[name] for name in {burn.station: None for burn in taken}]

    @property
    def by_station(self) -> Mapping[str, Burn]:
        """The latest burn of each station, lit or out."""
        return self._burns

    def all(self) -> tuple[Burn, ...]:
        """A snapshot, safe to iterate while others write."""
        return tuple(self._burns.values())

    def of(self, station: str | None) -> Burn | None:
        """The latest burn at `station`; None for what serves the whole bench."""
        return self._burns.get(station) if station else None

    def id_of(self, station: str | None) -> str | None:
        """Of that burn."""
        burn = self.of(station)
        return burn.id if burn else None

    def is_lit(self, station: str | None = None) -> bool:
        """Whether `station` is lit; without one, or for the whole bench, whether anything is."""
        if station is None:
            return any(burn.lit for burn in self._burns.values())
        burn = self._burns.get(station)
        return burn is not None and burn.lit

    def known(self, id: str | None) -> Burn | None:
        """The burn with this id, if it is of the last weeks."""
        return None if id is None else self._known.get(id)

    def at(self, station: str, at_s: float) -> Burn | None:
        """The burn that was the latest at `station` at that time."""
        return self._last(burn for burn in self._of(station) if burn.lit_s <= at_s)

    def before(self, burn: Burn) -> Burn | None:
        """The one before it at its station."""
        others = (one for one in self._of(burn.station) if one.id != burn.id)
        return self._last(one for one in others if one.lit_s < burn.lit_s)

    def after(self, burn: Burn) -> Burn | None:
        """The one after it at its station."""
        later = (one for one in self._of(burn.station) if one.lit_s > burn.lit_s)
        return min(later, key=lambda one: one.lit_s, default=None)

    def put(self, burn: Burn) -> Burn:
        """The burn is so from now on."""
        self._known[burn.id] = burn
        latest = self._burns.get(burn.station)
        if latest is not None and latest.id == burn.id and not burn.withdrawn:
            self._burns[burn.station] = burn
        else:
            self._find_latest(burn.station)
        if burn.out_s is not None and not burn.withdrawn:
            last = self._candles.get(burn.candle)
            if last is None or last.id == burn.id or last.lit_s <= burn.lit_s:
                self._candles[burn.candle] = burn
        return burn

    def replace(self, burn: Burn) -> Burn:
        """As `put`, for one whose candle may have been another, or that was never lit."""
        self._candles = {candle: one for candle, one in self._candles.items() if one.id != burn.id}
        return self.put(burn)

    def begin(self, burn: Burn) -> Burn:
        """The latest burn of its station from now on, expecting what its candle's last taught."""
        if burn.id in self._known:  # of one whose time of lighting was corrected since
            burn = replace(burn, id=f"{burn.id}-2")
        return self.put(self.expecting(burn))

    def expecting(self, burn: Burn) -> Burn:
        """`burn`, expecting what its candle's last one taught."""
        earlier = self._candles.get(burn.candle)
        if earlier and earlier.id != burn.id and not burn.expected:
            return burn if is_another(burn, [earlier]) else replace(burn, expected=earlier.learned)
        return burn

    def _of(self, station: str) -> list[Burn]:
        known = self._known.values()
        return [burn for burn in known if burn.station == station and not burn.withdrawn]

    def _find_latest(self, station: str) -> None:
        self._burns.pop(station, None)
        if (latest := self._last(self._of(station))) is not None:
            self._burns[station] = latest

    def _last(self, burns: Iterable[Burn]) -> Burn | None:
        return max(burns, key=lambda one: one.lit_s, default=None)

    def remember(self, channel: Channel, estimate: Estimate) -> tuple[Burn, ...]:
        """The latest burn there, where an instrument's estimate changes its hottest place."""
        burn = self.of(channel.station)
        if burn is None or not channel.on_vessel or estimate.quality is not Quality.GOOD:
            return ()
        if burn.out_s is not None and estimate.at_s >= burn.out_s + self._cool_down_s:
            return ()
        after = burn.with_estimate(estimate, channel.place)
        return () if after is burn else (self.put(after),)

    def write_entry(self, burn: Burn, entry: Entry, event: BurnEventKind, text: str) -> BurnEvent:
        """What a person did, as an event of `burn`."""
        return self.write_event(
            burn, event, text, now_s=entry.entered_s, since_s=entry.at_s, by=entry.by
        )

    def write_event(
        self,
        burn: Burn,
        event: BurnEventKind,
        text: str,
        *,
        now_s: float,
        since_s: float,
        by: str = "",
    ) -> BurnEvent:
        """The next event of `burn`; no two have one id."""
        count = self._events.get(burn.id, 0) + 1
        self._events[burn.id] = count
        return BurnEvent(
            id=event_id(burn.id, f"{event}/-", count, self._run),  # an alarm has a place there
            time_s=now_s,
            since_s=since_s,
            station=burn.station,
            burn=burn.id,
            event=event,
            text=text,
            by=by,
        )
