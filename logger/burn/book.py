"""The burns of a bench: the latest of each station, and events whose ids count on for good."""

from collections.abc import Iterable, Mapping
from dataclasses import replace

from logger.burn.consumption import is_another
from logger.burn.entries import BY_HAND, Entry
from logger.burn.model import Burn, BurnEvent
from logger.quantities import Channel, Estimate, Quality, event_id


class Book:
    """What is written of burns; `events` is how many each had before.

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
        self._burns = {burn.station: burn for burn in burns}
        self._candles = {burn.candle: burn for burn in candles}
        self._events = dict(events)
        self._cool_down_s = cool_down_s
        self._run = run

    def adopt(
        self, burns: Iterable[Burn], events: Mapping[str, int], candles: Iterable[Burn] = ()
    ) -> list[Burn]:
        """Take burns of before at stations that have none; which they are."""
        self._candles = {burn.candle: burn for burn in candles} | self._candles
        taken = [self.put(burn) for burn in burns if burn.station not in self._burns]
        self._events |= {burn.id: events.get(burn.id, 0) for burn in taken}
        return taken

    @property
    def by_station(self) -> Mapping[str, Burn]:
        """The latest burn of each station, lit or out."""
        return self._burns

    def all(self) -> tuple[Burn, ...]:
        """The same as they are now: later writing does not disturb who goes through them."""
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

    def put(self, burn: Burn) -> Burn:
        """From now on this is the latest burn at its station."""
        self._burns[burn.station] = burn
        if burn.out_s is not None:
            self._candles[burn.candle] = burn
        return burn

    def begin(self, burn: Burn) -> Burn:
        """The latest burn of its station from now on, expecting what its candle's last taught."""
        earlier = self._candles.get(burn.candle)
        if earlier and not burn.expected and not is_another(burn, [earlier]):
            burn = replace(burn, expected=earlier.learned)
        return self.put(burn)

    def remember(self, channel: Channel, estimate: Estimate) -> tuple[Burn, ...]:
        """The burn at the channel's station, where this estimate changes its hottest place."""
        burn = self.of(channel.station)
        if burn is None or not channel.on_vessel or estimate.quality is not Quality.GOOD:
            return ()
        if burn.out_s is not None and estimate.at_s >= burn.out_s + self._cool_down_s:
            return ()
        by_hand = channel.instrument == BY_HAND
        if by_hand and estimate.at_s < burn.lit_s:  # typed late: of the burn before
            return ()
        after = burn.with_estimate(estimate, channel.place, by_hand=by_hand)
        return () if after is burn else (self.put(after),)

    def entered(self, burn: Burn, entry: Entry, event: str, text: str) -> BurnEvent:
        """What a person did, as an event of `burn`."""
        return self.event(burn, event, text, now_s=entry.entered_s, since_s=entry.at_s, by=entry.by)

    def event(
        self, burn: Burn, event: str, text: str, *, now_s: float, since_s: float, by: str = ""
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
