"""The only writer of a bench's database: a thread of its own owns the connection.

SQLite in WAL mode with synchronous=FULL: what was committed is on the disk, as far as the disk
tells the truth about it. Before each commit it is made sure that the files are still those that
were opened. A service that starts while the disk fails has no connection yet: `append` tries again.
"""

import asyncio
import itertools
import logging
import sqlite3
import time
from collections.abc import Callable, Collection, Iterable, Sequence
from concurrent.futures import ThreadPoolExecutor
from dataclasses import replace
from pathlib import Path
from typing import Any, TypeVar

from logger.errors import DataError, StoreError, StoreLocked, StoreUnusable
from logger.pipeline import Bench, Input, Memory, Output
from logger.store import files, zones
from logger.store.codec import load_event, micros, storable
from logger.store.damage import Damage
from logger.store.disk_space import Space, space_of
from logger.store.files import OpenFiles
from logger.store.meaning import ChangedSince, nothing_changed
from logger.store.opening import FILE_NAME, open_to_write
from logger.store.outbox import WaitingEvent
from logger.store.remembered import Remembered, only_read, remembered
from logger.store.runs import Beginning, Run
from logger.store.schema import transaction
from logger.store.sqlite_errors import in_plain_words
from logger.store.writing import NO_LINES, LineChanges, Writing, is_idle, seen_s

log = logging.getLogger(__name__)

_SEEN_EVERY_US = 5_000_000  # a page less to write in most commits; readings tell the rest

START_S = 1.5  # a start waits no longer for a disk that hangs (our choice, as the two below)
HANGS_S = 0.5  # ... of these at the end also for what it may still give to who only reads
READ_S = 20.0  # ... or so long where it answers

NO_ANSWER = "the disk does not answer: check the disk or card that holds the data"

T = TypeVar("T")
Batch = Sequence[tuple[Input, Sequence[Output]]]


class Store:
    """The bench on disk, for writing. Every method may raise StoreError.

    `keep_lock` makes sure before each commit that the folder is still ours; it may raise too.
    `changed_since` names the channels of which readings of before mean something else now.
    """

    def __init__(
        self,
        data: Path,
        keep_lock: Callable[[], None] = lambda: None,
        changed_since: ChangedSince = nothing_changed,
    ) -> None:
        self._changed_since = changed_since
        self._path = data / FILE_NAME
        self._keep_lock = keep_lock
        self._thread = ThreadPoolExecutor(max_workers=1, thread_name_prefix="store")
        self._closed = False
        # the rest is touched in the thread only
        self._con: sqlite3.Connection | None = None
        self._files: OpenFiles | None = None
        self._beginning: Beginning | None = None
        self._run: int | None = None
        self._settings = 0
        self._broker = True
        self._seen_us = 0
        self._longest_us = 0  # as stored
        self._damage = Damage()
        self._late: Callable[[Remembered], object] = lambda found: None

        self.longest_commit_s = 0.0
        self.fault_at_start: str | None = None  # why `start` left it watched from memory

    @classmethod
    async def open(cls, data: Path, changed_since: ChangedSince = nothing_changed) -> "Store":
        """Open the database in the folder `data`, made if missing, and bring it to this version.

        Raises StoreUnusable when it is newer than this program or damaged.
        """
        store = cls(data, changed_since=changed_since)
        try:
            await store._on_thread(store._open)
        except BaseException:
            store._thread.shutdown(wait=False)
            raise
        return store

    async def begin_run(
        self,
        *,
        settings_text: str,
        bench: Bench,
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
        self._beginning = Beginning(
            settings_text=settings_text,
            bench=bench,
            started_s=started_s,
            version=version,
            watching=watching,
            broker=broker,
        )
        run, _ = await self._on_thread(self._start)
        return run

    async def start(
        self,
        *,
        settings_text: str,
        bench: Bench,
        started_s: float,
        version: str,
        broker: bool,
        on_late: Callable[[Remembered], None],
    ) -> tuple[Run, Remembered | None]:
        """Open, begin a run and remember; within START_S where the disk hangs.

        While it takes nothing, what it holds is only read; None where it does not even give that.
        `append` then tries again, and `on_late` hears what was found at last. Raises StoreUnusable
        where the database is too new or damaged, StoreLocked where another process has the folder.
        """
        self._beginning = Beginning(
            settings_text=settings_text,
            bench=bench,
            started_s=started_s,
            version=version,
            watching=True,
            broker=broker,
        )
        beginning = asyncio.ensure_future(self._on_thread(self._begin))
        starting = asyncio.ensure_future(self._on_thread(self._start))
        held: Remembered | None = None
        await asyncio.wait({beginning}, timeout=START_S - HANGS_S)
        if not beginning.done():
            held, _ = await asyncio.gather(
                self._only_read(HANGS_S), asyncio.wait({beginning}, timeout=HANGS_S)
            )
        hangs = not beginning.done()
        if not hangs:  # it answers, so it may take its time
            await asyncio.wait({starting}, timeout=READ_S)
        fault = NO_ANSWER
        if starting.done():
            try:
                return starting.result()
            except (StoreUnusable, StoreLocked):
                raise
            except StoreError as exc:
                fault = str(exc)
        log.error("the bench is watched from memory: %s", fault)
        self.fault_at_start = fault
        if not hangs:
            held = await self._only_read(READ_S)
        loop = asyncio.get_running_loop()
        if held is None:
            self._late = lambda found: loop.call_soon_threadsafe(on_late, found)

        def late(done: asyncio.Future[tuple[Run, Remembered]]) -> None:
            if _succeeded(done) and held is None:
                on_late(done.result()[1])

        beginning.add_done_callback(_succeeded)
        starting.add_done_callback(late)
        before = held or Remembered()
        return self._beginning.run(self._beginning.number(before.last_run), before), held

    async def memory(self, now_s: float) -> Memory:
        """What the pipeline needs to go on where the bench stopped."""

        def work() -> Memory:
            found = remembered(self._connection, now_s, changed_since=self._changed_since)
            return replace(found.memory, run=self._run)

        return await self._on_thread(work)

    async def append(
        self,
        batch: Batch,
        *,
        delivered: Collection[str] = (),
        lines: LineChanges = NO_LINES,
    ) -> int:
        """Write what the pipeline took and made of it in one transaction; how many new events.

        `delivered` are ids of events, of this batch or older, that need not be sent any more,
        `lines` what became of lines for the phone.
        Raises DataError, with nothing written, for a value that no database could hold.
        """

        def work() -> int:
            self._make_ready()
            seen_us = max((micros(seen_s(item)) for item, _ in batch), default=0)
            due = seen_us - self._seen_us >= _SEEN_EVERY_US
            if not (due or delivered or lines) and all(is_idle(*step) for step in batch):
                return 0
            begun_s = time.perf_counter()
            longest_us = micros(self.longest_commit_s)
            with transaction(self._connection) as con:
                writing = Writing(con, self._settings, broker=self._broker)
                for item, outputs in batch:
                    writing.add(item, outputs)
                writing.finish()
                writing.mark(delivered, lines)
                if due or longest_us > self._longest_us:
                    con.execute(
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
        asked = ("SELECT 1 FROM entry WHERE id = ?", (storable(id),))
        return await self._on_thread(lambda: bool(self._connection.execute(*asked).fetchone()))

    async def waiting_events(self, limit: int) -> list[WaitingEvent]:
        """The oldest events that are not yet delivered, in order."""

        def waiting(seq: int, kind: str, body: str) -> WaitingEvent:
            return WaitingEvent(seq=seq, event=load_event(kind, body))

        def work() -> list[WaitingEvent]:
            found = self._connection.execute(
                "SELECT seq, seq, kind, body FROM event WHERE delivered = 0 ORDER BY seq"
            )
            readable = self._damage.each("event", found, waiting, "something to be sent")
            return list(itertools.islice(readable, limit))

        return await self._on_thread(work)

    async def mark_delivered(self, seqs: Iterable[int]) -> None:
        """These events have arrived; marking one twice changes nothing."""
        mark, marks = "UPDATE event SET delivered = 1 WHERE seq = ?", [(seq,) for seq in seqs]
        await self.change(lambda con: con.executemany(mark, marks))

    async def change(self, work: Callable[[sqlite3.Connection], T]) -> T:
        """What `work` makes of the database, in a short transaction between two of the watch."""

        def inside() -> T:
            self._make_ready()
            with transaction(self._connection) as con:
                return work(con)

        return await self._on_thread(inside)

    async def space(self) -> Space:
        """What the database takes on its disk, its log included, and what is left for it."""
        return await self._on_thread(lambda: space_of(self._connection, self._path))

    async def close(self) -> None:
        """Note the run's end and close the database; a second call does nothing.

        What a failing disk cannot take is logged; the next run then takes this one for killed.
        """
        if self._closed:
            return
        self._closed = True

        def work() -> None:
            if self._con is None:
                return
            try:
                if self._run is not None:
                    with transaction(self._con) as con:
                        con.execute(
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

    # in the thread

    @property
    def _connection(self) -> sqlite3.Connection:
        if self._con is None:
            raise StoreError(f"{self._path} is not open yet")
        return self._con

    def _open(self) -> None:
        self._keep_lock()
        self._con = open_to_write(self._path)
        self._files = OpenFiles(self._path)

    def _begin(self) -> int:
        """Open, and note the run; its number."""
        assert self._beginning is not None, "begin_run comes first"
        if self._con is None:
            self._open()
        begun = self._beginning
        self._run, self._settings = begun.note(self._connection)
        self._broker, self._seen_us = begun.broker, micros(begun.started_s)
        return self._run

    def _start(self) -> tuple[Run, Remembered]:
        """Open and note the run where that is still to do, and remember what was before."""
        assert self._beginning is not None, "begin_run comes first"
        number = self._begin() if self._run is None else self._run
        with transaction(self._connection) as con:
            repaired = zones.repair(con)
        found = remembered(self._connection, self._beginning.started_s, number, self._changed_since)
        if repaired:
            said = (
                f"table zone ({', '.join(repaired)}) was damaged and is made anew: nothing is lost"
            )
            log.error("%s", said)
            found = replace(found, damage="; ".join(filter(None, (said, found.damage))))
        return self._beginning.run(number, found), found

    def _make_ready(self) -> None:
        """Hold what is written to: the lock, and the very files that stand in the folder."""
        if self._run is None:
            _, found = self._start()
            self._late(found)
        elif self._con is None:
            self._open()
        troubles = []
        try:
            self._keep_lock()
        except StoreLocked:
            raise
        except StoreError as exc:
            troubles.append(str(exc))
        if self._files is not None and (changed := self._files.changed()):
            troubles.append(self._rescue(changed))
        if troubles:
            raise StoreError("; ".join(troubles))

    def _rescue(self, changed: list[Path]) -> str:
        names, folder = ", ".join(one.name for one in changed), self._path.parent
        what = f"{names} in {folder} was removed or replaced while the bench runs"
        try:
            files.rescue(self._connection, self._path, changed, str(self._run))
            self._con = None
            self._open()
        except (StoreError, sqlite3.Error, OSError) as exc:
            raise StoreError(f"{what}, and cannot be put back ({exc})") from exc
        return f"{what}; it was put back from what was still open: leave the folder alone"

    async def _only_read(self, within_s: float) -> Remembered | None:
        assert self._beginning is not None, "begin_run comes first"
        return await only_read(
            self._path, self._beginning.started_s, self._changed_since, within_s=within_s
        )

    async def _on_thread(self, work: Callable[[], T]) -> T:
        if self._closed:
            raise StoreError(f"{self._path} is closed already")
        return await self._guarded(work)

    async def _guarded(self, work: Callable[[], T]) -> T:
        def guarded() -> T:
            with in_plain_words(self._path):
                return work()

        return await asyncio.get_running_loop().run_in_executor(self._thread, guarded)


def _succeeded(done: asyncio.Future[Any]) -> bool:
    """Whether it did; one that failed has been heard, whoever still waits for it."""
    return not done.cancelled() and done.exception() is None
