"""The only writer of a bench's database: a thread of its own owns the connection.

SQLite in WAL mode with synchronous=FULL: what was committed is on the disk, as far as the disk
tells the truth about it.
"""

import asyncio
import hashlib
import logging
import sqlite3
import time
from bisect import bisect_right
from collections.abc import Callable, Collection, Iterable, Iterator, Sequence
from concurrent.futures import ThreadPoolExecutor
from dataclasses import dataclass
from pathlib import Path
from typing import TypeVar

from logger.alarms.lifecycle import Alarm
from logger.burn.entries import ManualReading
from logger.burn.forecast import SPACING_S
from logger.burn.model import Burn
from logger.errors import DataError, StoreError
from logger.pipeline import FOLD_BACK_S, Input, Memory, Output
from logger.quantities import Estimate, Reading
from logger.store import rows, zones
from logger.store.codec import load, micros, seconds, storable
from logger.store.faults import in_plain_words
from logger.store.opening import FILE_NAME, open_to_write
from logger.store.schema import transaction
from logger.store.writing import Writing, is_idle, seen_s

log = logging.getLogger(__name__)

LONGEST_FOLLOWED_S = 12 * 3600.0  # three times what is usual (common practice: 4 h)

_SEEN_EVERY_US = 5_000_000  # a page less to write in most commits; readings tell the rest

T = TypeVar("T")
Batch = Sequence[tuple[Input, Sequence[Output]]]


@dataclass(frozen=True, slots=True, kw_only=True)
class Run:
    """One run of the program on this database, as it begins."""

    id: int
    started_s: float
    settings: str  # SHA-256 of the settings' text, hexadecimal
    last_seen_s: float | None  # when the watching run before it last wrote; None: there was none
    last_ended: bool  # whether that one stopped in order


@dataclass(frozen=True, slots=True, kw_only=True)
class WaitingEvent:
    """An event that nobody has confirmed yet; `payload` is its JSON message."""

    seq: int
    id: str
    payload: str


class Store:
    """The bench on disk, for writing. Every method may raise StoreError."""

    def __init__(self, path: Path, thread: ThreadPoolExecutor, con: sqlite3.Connection) -> None:
        self._path = path
        self._thread = thread
        self._con = con
        self._closed = False
        # the rest is touched in the thread only
        self._run: int | None = None
        self._settings = 0
        self._broker = True
        self._seen_us = 0
        self._longest_us = 0  # as stored

        self.longest_commit_s = 0.0

    @classmethod
    async def open(cls, data: Path) -> "Store":
        """Open the database in the folder `data`, made if missing, and bring it to this version.

        Raises StoreUnusable when it is newer than this program or damaged.
        """
        path = data / FILE_NAME
        thread = ThreadPoolExecutor(max_workers=1, thread_name_prefix="store")
        try:
            con = await asyncio.get_running_loop().run_in_executor(thread, open_to_write, path)
        except BaseException:
            thread.shutdown(wait=False)
            raise
        return cls(path, thread, con)

    async def begin_run(
        self,
        *,
        settings_text: str,
        started_s: float,
        version: str,
        watching: bool = True,
        broker: bool = True,
    ) -> Run:
        """Note that a run begins, and the settings in force from now on.

        `watching` is False for a command that only records something: it does not shorten the
        time for which nobody watched the bench. `broker` is False where none is configured:
        events of this run wait for nobody, and a broker of a later day hears only of its own day.
        """
        digest = hashlib.sha256(settings_text.encode("utf-8", "replace")).hexdigest()

        def work() -> Run:
            con, started_us = self._con, micros(started_s)
            with transaction(con):
                last_seen_s, last_ended = _last_seen(con)
                con.execute(
                    "INSERT INTO settings (sha256, text) VALUES (?, ?) ON CONFLICT DO NOTHING",
                    (digest, storable(settings_text)),
                )
                (settings,) = con.execute(
                    "SELECT id FROM settings WHERE sha256 = ?", (digest,)
                ).fetchone()
                cursor = con.execute(
                    "INSERT INTO run (version, settings, watching, started_us, last_seen_us,"
                    " after_reading) VALUES (?, ?, ?, ?, ?, ?)",
                    (
                        version,
                        settings,
                        watching,
                        started_us,
                        started_us,
                        zones.last_id(con, "reading"),
                    ),
                )
            assert cursor.lastrowid is not None
            self._broker = broker
            self._run, self._settings, self._seen_us = cursor.lastrowid, settings, started_us
            return Run(
                id=cursor.lastrowid,
                started_s=started_s,
                settings=digest,
                last_seen_s=last_seen_s,
                last_ended=last_ended,
            )

        return await self._on_thread(work)

    async def latest_s(self) -> float | None:
        """The latest bench time that anything was stored at: time goes on from there."""

        def work() -> float | None:
            latest_us = rows.latest_us(self._con)
            return None if latest_us is None else seconds(latest_us)

        return await self._on_thread(work)

    async def memory(
        self,
        now_s: float,
        changed_since: Callable[[str], Collection[str]] = lambda settings_text: (),
    ) -> Memory:
        """What the pipeline needs to go on where the bench stopped.

        `changed_since` names the channels that have other settings now than in an earlier run's
        text: what was stored of them then means something else, and is left out.
        """

        def work() -> Memory:
            con = self._con
            stations = con.execute("SELECT DISTINCT station FROM burn ORDER BY station").fetchall()
            burns = [_latest_burn(con, station) for (station,) in stations]
            counts = {
                burn.id: con.execute(
                    "SELECT count(*) FROM event WHERE burn = ? AND kind = 'burn'", (burn.id,)
                ).fetchone()[0]
                for burn in burns
            }
            alarms = con.execute("SELECT body FROM alarm ORDER BY rowid").fetchall()
            meant = _SameMeaning(con, changed_since)
            readings = rows.readings(con, None, now_s - FOLD_BACK_S, None)
            return Memory(
                burns=tuple(burns),
                alarms=tuple(load(Alarm, body) for (body,) in alarms),
                readings=tuple(one for one in readings if meant.as_now(one)),
                estimates=tuple(one for one in _of_lit(con, burns, now_s) if meant.as_now(one)),
                by_hand=tuple(_by_hand(con, burns)),
                calibrations=tuple(rows.calibrations(con)),
                burn_events=counts,
            )

        return await self._on_thread(work)

    async def append(self, batch: Batch, *, delivered: Collection[str] = ()) -> int:
        """Write what the pipeline took and made of it in one transaction; how many new events.

        `delivered` are ids of events, of this batch or older, that need not be sent any more.
        Raises DataError, with nothing written, for a value that no database could hold.
        """

        def work() -> int:
            assert self._run is not None, "begin_run comes first"
            seen_us = max((micros(seen_s(item)) for item, _ in batch), default=0)
            due = seen_us - self._seen_us >= _SEEN_EVERY_US
            if not due and not delivered and all(is_idle(*step) for step in batch):
                return 0
            begun_s = time.perf_counter()
            longest_us = micros(self.longest_commit_s)
            with transaction(self._con):
                writing = Writing(self._con, self._settings, broker=self._broker)
                for item, outputs in batch:
                    writing.add(item, outputs)
                writing.finish()
                self._con.executemany(
                    "UPDATE event SET delivered = 1 WHERE id = ?", [(id_,) for id_ in delivered]
                )
                if due or longest_us > self._longest_us:
                    self._con.execute(
                        "UPDATE run SET last_seen_us = max(last_seen_us, ?),"
                        " longest_commit_us = ? WHERE id = ?",
                        (seen_us, longest_us, self._run),
                    )
            self._seen_us = seen_us if due else self._seen_us
            self._longest_us = longest_us
            self.longest_commit_s = max(self.longest_commit_s, time.perf_counter() - begun_s)
            return writing.events

        try:
            return await self._on_thread(work)
        except (OverflowError, ValueError, TypeError, sqlite3.ProgrammingError) as exc:
            raise DataError(f"cannot be stored: {exc}") from exc

    async def entry_seen(self, id: str) -> bool:
        """Whether an entry with this id is stored: a repeated post is then answered from there."""

        def work() -> bool:
            found = self._con.execute("SELECT 1 FROM entry WHERE id = ?", (storable(id),))
            return found.fetchone() is not None

        return await self._on_thread(work)

    async def waiting_events(self, limit: int) -> list[WaitingEvent]:
        """The oldest events that are not yet delivered, in order."""

        def work() -> list[WaitingEvent]:
            found = self._con.execute(
                "SELECT seq, id, payload FROM event WHERE delivered = 0 ORDER BY seq LIMIT ?",
                (limit,),
            )
            return [WaitingEvent(seq=seq, id=id_, payload=text) for seq, id_, text in found]

        return await self._on_thread(work)

    async def delivered(self, seqs: Iterable[int]) -> None:
        """These events have arrived; marking one twice changes nothing."""
        marks = [(seq,) for seq in seqs]

        def work() -> None:
            with transaction(self._con):
                self._con.executemany("UPDATE event SET delivered = 1 WHERE seq = ?", marks)

        await self._on_thread(work)

    async def close(self) -> None:
        """Note the run's end and close the database; a second call does nothing.

        What a failing disk cannot take is logged; the next run then takes this one for killed.
        """
        if self._closed:
            return
        self._closed = True

        def work() -> None:
            try:
                if self._run is not None:
                    with transaction(self._con):
                        self._con.execute(
                            "UPDATE run SET ended_us = max(last_seen_us, ?), longest_commit_us = ?"
                            " WHERE id = ?",
                            (self._seen_us, micros(self.longest_commit_s), self._run),
                        )
            finally:
                self._con.close()

        try:
            await self._guarded(work)
        except StoreError as exc:
            log.warning("the end of the run is not noted: %s", exc)
        finally:
            self._thread.shutdown(wait=True)

    async def _on_thread(self, work: Callable[[], T]) -> T:
        if self._closed:
            raise StoreError(f"{self._path} is closed already")
        return await self._guarded(work)

    async def _guarded(self, work: Callable[[], T]) -> T:
        def guarded() -> T:
            with in_plain_words(self._path):
                return work()

        return await asyncio.get_running_loop().run_in_executor(self._thread, guarded)


def _last_seen(con: sqlite3.Connection) -> tuple[float | None, bool]:
    row = con.execute(
        "SELECT last_seen_us, ended_us, after_reading FROM run WHERE watching"
        " ORDER BY id DESC LIMIT 1"
    ).fetchone()
    if row is None:
        return None, True
    last_seen_us, ended_us, after_reading = row
    reading_us = rows.last_reading_us(con, after_reading)
    return seconds(max(last_seen_us, ended_us or 0, reading_us or 0)), ended_us is not None


class _SameMeaning:
    """Tells of what was stored whether its channel was then what it is now."""

    def __init__(
        self, con: sqlite3.Connection, changed_since: Callable[[str], Collection[str]]
    ) -> None:
        self._con = con
        self._changed_since = changed_since
        runs = con.execute("SELECT started_us, settings FROM run WHERE watching ORDER BY id")
        self._runs = [(seconds(started_us), settings) for started_us, settings in runs]
        self._changed: dict[int, Collection[str]] = {}  # by row of the settings

    def as_now(self, one: Reading | Estimate) -> bool:
        index = bisect_right(self._runs, one.at_s, key=lambda run: run[0]) - 1
        if index < 0:
            return True
        settings = self._runs[index][1]
        if settings not in self._changed:
            (text,) = self._con.execute(
                "SELECT text FROM settings WHERE id = ?", (settings,)
            ).fetchone()
            self._changed[settings] = self._changed_since(text)
        return one.channel not in self._changed[settings]


def _of_lit(con: sqlite3.Connection, burns: Iterable[Burn], now_s: float) -> Iterator[Estimate]:
    """Estimates since the first of the burns that are lit was, as far apart as a fit takes them.

    A burn is forecast to its end: one past it, as a candle that was left lit for days, needs none.
    """
    lit_s = [
        burn.lit_s
        for burn in burns
        if burn.lit
        and now_s - burn.lit_s < LONGEST_FOLLOWED_S
        and (burn.limits is None or now_s - burn.lit_s < burn.limits.burn_length_s)
    ]
    if lit_s:
        yield from rows.spaced_estimates(con, min(lit_s), SPACING_S)


def _by_hand(con: sqlite3.Connection, burns: Iterable[Burn]) -> Iterator[ManualReading]:
    for burn in burns:
        yield from rows.by_hand(con, burn.station, micros(burn.lit_s))


def _latest_burn(con: sqlite3.Connection, station: str) -> Burn:
    (body,) = con.execute(
        "SELECT body FROM burn WHERE station = ? ORDER BY lit_us DESC LIMIT 1", (station,)
    ).fetchone()
    return load(Burn, body)
