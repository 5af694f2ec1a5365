"""What is in the database, for everyone but its writer: read-only, each on a connection of its own.

These functions block: asynchronous callers open, ask and close within one `asyncio.to_thread`.
Stretches of time are from_s <= t < to_s; to_s None means up to now.
"""

import sqlite3
from collections.abc import Callable, Collection, Iterator
from contextlib import contextmanager
from dataclasses import dataclass
from pathlib import Path
from types import TracebackType
from typing import Any, TypeVar

from logger.burn.entries import Calibrated, Entry, ManualReading
from logger.burn.ledger import Ledger
from logger.burn.model import Burn, number_in
from logger.errors import DataError
from logger.pipeline import Bench, Event
from logger.quantities import Averaging, Estimate, Reading
from logger.shelf.versions import ShelfVersion
from logger.store import imported, rows, shelf_rows
from logger.store.buckets import Bucket, Spans
from logger.store.codec import load, load_entry, load_event, micros, seconds, storable
from logger.store.columns import EstimateColumns, envelopes, estimate_columns
from logger.store.damage import Damage
from logger.store.imported import CoveredTime, ImportedFile
from logger.store.opening import FILE_NAME, open_to_read
from logger.store.schema import snapshot
from logger.store.sqlite_errors import in_plain_words

T = TypeVar("T")


@dataclass(frozen=True, slots=True, kw_only=True)
class Trial:
    """A trial that burns were recorded for."""

    name: str
    created_s: float
    burns: int


@dataclass(frozen=True, slots=True, kw_only=True)
class StoredEvent:
    """Something that happened to an alarm or in a burn."""

    seq: int
    event: Event
    delivered: bool


@dataclass(frozen=True, slots=True, kw_only=True)
class StoredEntry:
    """What a person entered, and the burn it concerned."""

    entry: Entry
    burn: str | None
    text: str = ""  # what was answered


@dataclass(frozen=True, slots=True, kw_only=True)
class StoredSettings:
    """The settings of a run: their text, for people, and what it said then."""

    text: str
    bench: Bench | None  # None: of schema 2 or before, where the text alone was kept


@dataclass(frozen=True, slots=True, kw_only=True)
class PastRun:
    """One run of the program; `ended_s` is None while it goes on, or when it was killed."""

    id: int
    version: str
    started_s: float
    last_seen_s: float  # to 5 s; its readings tell more
    ended_s: float | None
    longest_commit_s: float
    watching: bool
    after_reading: int  # how many readings there were before it


class Reader:
    """The bench on disk, for reading; a context manager. Every method may raise StoreError."""

    def __init__(self, con: sqlite3.Connection, path: Path) -> None:
        self._con = con
        self.path = path
        self.damage = Damage()
        """Rows that could not be read so far; what is returned leaves them out."""

    def __enter__(self) -> "Reader":
        return self

    def __exit__(
        self,
        kind: type[BaseException] | None,
        exc: BaseException | None,
        trace: TracebackType | None,
    ) -> None:
        self.close()

    def close(self) -> None:
        """End reading."""
        self._con.close()

    @contextmanager
    def moment(self) -> Iterator[None]:
        """Everything that is read inside is of one moment, while the service writes on."""
        with in_plain_words(self.path), snapshot(self._con):
            yield

    # burns

    def burns(self, trial: str | None = None) -> list[Burn]:
        """All burns, or those of one trial, by time of lighting."""
        found = self._all(
            "SELECT id, body FROM burn WHERE trial = coalesce(?, trial) ORDER BY lit_us, rowid",
            None if trial is None else storable(trial),
        )
        return list(self.damage.each("burn", found, _burn, "this burn"))

    def latest_burns(self, most: int) -> list[Burn]:
        """The burns that were lit last, the latest first."""
        found = self._all(
            "SELECT id, body FROM burn ORDER BY lit_us DESC, rowid DESC LIMIT ?", most
        )
        return list(self.damage.each("burn", found, _burn, "this burn"))

    def burn(self, id: str) -> Burn | None:
        """The burn with this id or number. Raises DataError where its row is damaged."""
        found = self._all(
            "SELECT id, body FROM burn WHERE id = ? OR number = ?", storable(id), number_in(id)
        )
        return self._only("burn", found, _burn, "this burn")

    def burn_settings(self, id: str) -> StoredSettings | None:
        """The settings that were in force when this burn was lit. Raises DataError as `burn`."""
        found = self._all(
            "SELECT settings.id, text, bench FROM burn JOIN settings"
            " ON settings.id = burn.settings WHERE burn.id = ?",
            storable(id),
        )
        return self._only("settings", found, _settings, "those of this burn")

    def trials(self) -> list[Trial]:
        """All trials, the oldest first."""
        found = self._all(
            "SELECT name, created_us, (SELECT count(*) FROM burn WHERE trial = name) FROM trial"
            " ORDER BY created_us, name"
        )
        return [
            Trial(name=name, created_s=seconds(created_us), burns=burns)
            for name, created_us, burns in found
        ]

    # what is on the shelf

    def shelf(self, kind: str) -> list[ShelfVersion]:
        """The newest version of each record of a kind, withdrawn ones too."""
        with in_plain_words(self.path):
            return shelf_rows.latest(self._con, self.damage, kind)

    def record_versions(self, kind: str, name: str) -> list[ShelfVersion]:
        """All versions of a record, the oldest first; empty where there is none."""
        with in_plain_words(self.path):
            return shelf_rows.versions(self._con, self.damage, kind, name)

    def readable_records(self) -> int:
        """How many versions of records there are, each read as it would be used."""
        with in_plain_words(self.path):
            return shelf_rows.readable(self._con, self.damage)

    # what happened

    def events(
        self, burn: str | None = None, *, from_s: float = 0.0, to_s: float | None = None
    ) -> list[StoredEvent]:
        """Events of one burn, or of all and of the bench, in the order in which they happened."""
        found = self._all(
            "SELECT seq, seq, kind, body, delivered FROM event"
            " WHERE (?1 IS NULL OR burn = ?1) AND time_us >= ?2 AND time_us < ?3 ORDER BY seq",
            burn,
            micros(from_s),
            rows.EVER_US if to_s is None else micros(to_s),
        )
        return list(self.damage.each("event", found, _event, "something that happened"))

    def entries(self, burn: str | None = None) -> list[StoredEntry]:
        """What people entered, of one burn or all, in order of arrival."""
        found = self._all(
            "SELECT seq, kind, body, burn, text FROM entry WHERE (?1 IS NULL OR burn = ?1)"
            " ORDER BY seq",
            burn,
        )
        return list(self.damage.each("entry", found, _entry, "what a person entered"))

    def by_hand(self, burn: Burn) -> list[ManualReading]:
        """Readings by hand that belong to `burn`, in order of entry; moved ones where they are."""
        with in_plain_words(self.path):
            return list(rows.by_hand(self._con, self.damage, burn))

    def ledger(self, burn: Burn) -> Ledger:
        """What was entered at `burn`: as it was first, what changed it, and what counts."""
        with in_plain_words(self.path):
            return rows.ledger(self._con, self.damage, burn)

    def calibrations(self) -> list[Calibrated]:
        """All calibrations, in the order of their entry."""
        with in_plain_words(self.path):
            return list(rows.calibrations(self._con, self.damage))

    def entry(self, id: str) -> StoredEntry | None:
        """The entry with this id: the answer to a repeated post. Raises DataError as `burn`."""
        found = self._all(
            "SELECT seq, kind, body, burn, text FROM entry WHERE id = ?", storable(id)
        )
        return self._only("entry", found, _entry, "what a person entered")

    # what was measured

    def channels(self) -> list[str]:
        """The names of all that ever gave a reading or an estimate."""
        return [name for (name,) in self._all("SELECT name FROM channel ORDER BY id")]

    def readings(
        self, channel: str | None = None, from_s: float = 0.0, to_s: float | None = None
    ) -> Iterator[Reading]:
        """Readings in order of arrival."""
        with in_plain_words(self.path):
            yield from rows.readings(self._con, self.damage, channel, from_s, to_s)

    def estimates(
        self,
        channel: str | None = None,
        from_s: float = 0.0,
        to_s: float | None = None,
        *,
        assumed: rows.Assumed = rows.stated,
    ) -> Iterator[Estimate]:
        """Estimates in order of arrival; `assumed` says at which times their accuracy is."""
        with in_plain_words(self.path):
            found = rows.estimates(self._con, self.damage, channel, from_s, to_s, assumed=assumed)
            yield from found

    def estimate_columns(
        self, channels: Collection[str], from_s: float, to_s: float | None
    ) -> dict[str, EstimateColumns]:
        """Estimates of channels, of each that has any, as arrays in order of arrival."""
        with in_plain_words(self.path):
            return estimate_columns(self._con, self.damage, channels, from_s, to_s)

    def estimates_reach(self, at_s: float) -> bool:
        """Whether estimates of that time or later are stored: nothing before it will come."""
        found = self._all("SELECT at_us FROM estimate ORDER BY id DESC LIMIT 1")
        return bool(found) and found[0][0] >= micros(at_s)

    def series(
        self,
        channel: str,
        from_s: float,
        to_s: float,
        points: int,
        *,
        every_s: float = Averaging().every_s,
    ) -> list[Bucket]:
        """At most `points` >= 1 buckets of equal length, for a curve of the channel.

        None is as short as the channel's own step `every_s`, so that only a missing estimate makes
        a gap. Channels asked for with the same figures share their times; buckets of 40 min and
        more begin and end on whole 10 min. An estimate of quality `lost` is none.
        """
        return self.several([channel], Spans.of(from_s, to_s, points, every_s))[channel]

    def several(self, channels: Collection[str], spans: Spans) -> dict[str, list[Bucket]]:
        """The buckets of each of several channels, which share their times."""
        with in_plain_words(self.path):
            found = envelopes(self._con, self.damage, channels, spans)
        return {name: envelope.buckets() for name, envelope in found.items()}

    # runs of the program

    def runs(self) -> list[PastRun]:
        """Every run, the oldest first."""
        found = self._all(
            "SELECT id, version, started_us, last_seen_us, ended_us, longest_commit_us, watching,"
            " after_reading FROM run ORDER BY id"
        )
        return [
            PastRun(
                id=id_,
                version=version,
                started_s=seconds(started_us),
                last_seen_s=seconds(seen_us),
                ended_s=None if ended_us is None else seconds(ended_us),
                longest_commit_s=seconds(longest_us),
                watching=bool(watching),
                after_reading=after,
            )
            for id_, version, started_us, seen_us, ended_us, longest_us, watching, after in found
        ]

    # what was imported

    def imports(self) -> list[ImportedFile]:
        """Every file that was imported, the oldest first."""
        with in_plain_words(self.path):
            return imported.imports(self._con)

    def taken(self) -> list[CoveredTime]:
        """The times that have their readings, of this bench's runs or imported, in order."""
        with in_plain_words(self.path):
            return imported.taken(self._con)

    def latest_s(self) -> float:
        """The latest bench time that anything was stored at."""
        with in_plain_words(self.path):
            return seconds(rows.latest_us(self._con))

    def _only(self, table: str, found: list[Any], read: Callable[..., T], lost: str) -> T | None:
        for one in self.damage.each(table, found, read, lost):
            return one
        if found:
            raise DataError(self.damage.lines[-1])
        return None

    def _all(self, sql: str, *values: object) -> list[Any]:
        with in_plain_words(self.path):
            return self._con.execute(sql, values).fetchall()


def _burn(body: str) -> Burn:
    return load(Burn, body)


def _settings(text: str, bench: str | None) -> StoredSettings:
    return StoredSettings(text=text, bench=None if bench is None else load(Bench, bench))


def _event(seq: int, kind: str, body: str, delivered: int) -> StoredEvent:
    return StoredEvent(seq=seq, event=load_event(kind, body), delivered=bool(delivered))


def _entry(kind: str, body: str, burn: str | None, text: str) -> StoredEntry:
    return StoredEntry(entry=load_entry(kind, body), burn=burn, text=text)


def open_read(data: Path) -> Reader:
    """The database in the folder `data`. Raises StoreError where there is none to read."""
    path = data / FILE_NAME
    return Reader(open_to_read(path), path)


def known_calibrations(data: Path) -> list[Calibrated]:
    """Those of the database in the folder `data`; none where there is not a database yet."""
    if not (data / FILE_NAME).exists():
        return []
    with open_read(data) as reader:
        return reader.calibrations()


def known_burn(data: Path, id: str) -> Burn | None:
    """The burn with this id in the folder `data`; None while there is not a database yet."""
    if not (data / FILE_NAME).exists():
        return None
    with open_read(data) as reader:
        return reader.burn(id)
