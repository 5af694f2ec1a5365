"""Readings that people typed, by id, and their way to another station when typed at the wrong jar.

Nothing is changed: an entry stays as it was typed, a `Moved` beside it says where it belongs.
"""

from collections.abc import Iterable
from dataclasses import replace

from logger.burn.entries import ManualReading, Moved
from logger.burn.model import Burn
from logger.errors import Refused


class ReadingsByHand:
    """Readings where they belong, in order of entry."""

    def __init__(self, entries: Iterable[ManualReading | Moved] = ()) -> None:
        self._readings: dict[str, ManualReading] = {}
        for entry in entries:
            if isinstance(entry, ManualReading):
                self.add(entry)
            elif entry.reading in self._readings:
                self._readings[entry.reading] = self.moved(entry)

    @property
    def readings(self) -> tuple[ManualReading, ...]:
        """All of them."""
        return tuple(self._readings.values())

    def add(self, entry: ManualReading) -> None:
        """Take one more."""
        self._readings[entry.id] = entry

    def find(self, id: str) -> ManualReading:
        """The reading with this id. Raises Refused where there is none."""
        found = self._readings.get(id)
        if found is None:
            latest = ", ".join(list(self._readings)[-3:]) or "none"
            raise Refused(f"no reading {id} in the latest burns; the last ones are: {latest}")
        return found

    def moved(self, entry: Moved) -> ManualReading:
        """The reading as it belongs to another station. Raises Refused."""
        reading = self.find(entry.reading)
        if reading.station == entry.station:
            raise Refused(f"reading {entry.reading} is at {entry.station} already")
        return replace(reading, station=entry.station)

    def latest(self, channel: str) -> ManualReading | None:
        """The one that was read last at this place; of two at one time the one entered last."""
        entered = reversed(self._readings.values())
        here = (one for one in entered if one.channel.name == channel)
        return max(here, key=lambda one: one.at_s, default=None)

    def of(self, burn: Burn) -> tuple[ManualReading, ...]:
        """Those of the latest burn of a station."""
        return tuple(
            one
            for one in self._readings.values()
            if one.station == burn.station and one.at_s >= burn.lit_s
        )
