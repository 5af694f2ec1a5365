"""What a data package brings, as rows: one transaction, marked as imported.

Its alarms are history: the bench's own alarms stay as they are, and nobody is notified.
"""

import sqlite3
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass

from logger.burn.model import Burn
from logger.pipeline import Bench, Event
from logger.quantities import Estimate, Reading, Tick
from logger.shelf.versions import ShelfVersion
from logger.store import shelf_rows, zones
from logger.store.codec import dump, micros, storable
from logger.store.queries import StoredEntry
from logger.store.runs import settings_digest
from logger.store.schema import transaction
from logger.store.writing import Writing


@dataclass(frozen=True, slots=True, kw_only=True)
class PackageRows:
    """What is new of a package, each in its order."""

    burns: Sequence[tuple[Burn, str, Bench]]  # with the text of its settings, and what it said
    trials: Mapping[str, float]  # when each was first named
    entries: Sequence[StoredEntry]
    events: Sequence[Event]
    records: Sequence[ShelfVersion]
    readings: Iterable[Reading]
    estimates: Iterable[Estimate]


def add(con: sqlite3.Connection, new: PackageRows, *, run: int, file: str, sha256: str) -> int:
    """Write all of it or nothing, as that of `file`, and end the `run`; how many readings.

    What is raised by `readings` and `estimates` leaves nothing.
    """
    with transaction(con):
        for version in new.records:
            shelf_rows.put(con, version)
        settings = 0
        for burn, text, bench in new.burns:
            settings = _settings(con, text, bench)
            named = Tick(at_s=new.trials.get(burn.trial, burn.lit_s))
            Writing(con, settings, broker=False).add(named, [burn])
        writing = Writing(con, settings, broker=False)
        for stored in new.entries:
            writing.add_entry(stored.entry, stored.burn, stored.text)
        for event in new.events:
            writing.add_event(event)
        first = zones.last_id(con, "reading") + 1
        times = _Times()
        for number, reading in enumerate(new.readings, start=1):
            times.see(reading.at_s)
            writing.add(reading, ())
            if number % zones.ZONE_ROWS == 0:
                writing.finish()
        writing.finish()
        last = zones.last_id(con, "reading")
        for number, estimate in enumerate(new.estimates, start=1):
            writing.add(Tick(at_s=estimate.at_s), [estimate])
            if number % zones.ZONE_ROWS == 0:
                writing.finish()
        writing.finish()
        for burn, _, _ in new.burns:
            times.see(burn.lit_s)
        con.execute(
            "INSERT INTO imported (run, file, sha256, first, last, from_us, to_us)"
            " VALUES (?, ?, ?, ?, ?, ?, ?)",
            (run, storable(file), sha256, first, last, micros(times.from_s), micros(times.to_s)),
        )
        con.execute("UPDATE run SET ended_us = started_us WHERE id = ?", (run,))
    return last - first + 1


class _Times:
    """The earliest and the latest of what came; the beginning of 1970 where nothing did."""

    def __init__(self) -> None:
        self._seen: tuple[float, float] | None = None

    def see(self, at_s: float) -> None:
        low_s, high_s = self._seen or (at_s, at_s)
        self._seen = min(low_s, at_s), max(high_s, at_s)

    @property
    def from_s(self) -> float:
        return self._seen[0] if self._seen else 0.0

    @property
    def to_s(self) -> float:
        return self._seen[1] if self._seen else 0.0


def _settings(con: sqlite3.Connection, text: str, bench: Bench) -> int:
    digest = settings_digest(text, bench)
    con.execute(
        "INSERT INTO settings (sha256, text, bench) VALUES (?, ?, ?) ON CONFLICT DO NOTHING",
        (digest, storable(text), dump(bench)),
    )
    found = con.execute("SELECT id FROM settings WHERE sha256 = ?", (digest,)).fetchone()
    return int(found[0])
