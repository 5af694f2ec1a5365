"""What is stored and an engine does not have yet: the rows beyond a cursor for each kind.

Rows are numbered in the order of their commits, so that nothing appears behind a cursor. It moves
once an engine has confirmed what lies before it: a crash in between has the same rows sent again.
"""

import asyncio
import sqlite3
from bisect import bisect_right
from collections.abc import Callable, Collection, Iterable, Iterator, Mapping, Sequence
from concurrent.futures import ThreadPoolExecutor
from contextlib import closing
from dataclasses import dataclass
from itertools import islice
from pathlib import Path
from typing import TypeVar

from logger.burn.entries import ManualReading
from logger.burn.ledger import Ledger
from logger.pipeline import Bench, Event
from logger.quantities import Channel, Estimate, Reading
from logger.store import rows, zones
from logger.store.codec import load, load_event, seconds, storable
from logger.store.damage import Damage
from logger.store.opening import FILE_NAME, open_to_read
from logger.store.sqlite_errors import in_plain_words
from logger.store.store import Store

T = TypeVar("T")

Numbered = tuple[int, Event | Estimate | Reading]

_EVENTS = "SELECT seq, seq, kind, body FROM event WHERE seq BETWEEN ? AND ? ORDER BY seq"


@dataclass(frozen=True, slots=True, kw_only=True)
class StoredPoint:
    """One row, with its channel as it was when the row was stored."""

    kind: str
    row: int
    what: Event | Estimate | Reading
    channel: Channel | None  # None: of an event, or not known any more


@dataclass(frozen=True, slots=True, kw_only=True)
class PointBatch:
    """Some points, and where the cursors stand once an engine has them."""

    points: Sequence[StoredPoint]
    ends: Mapping[str, int]
    more: bool  # others may wait behind them


@dataclass(frozen=True, slots=True, kw_only=True)
class Backlog:
    """What waits for an engine, and what it refused."""

    waiting: int
    oldest_s: float | None  # of what waits
    set_aside: int
    refused: str  # the latest that was set aside


class Spool:
    """The database as what waits for the engine `sink`. Its methods raise StoreError.

    It reads on a thread and connections of its own; only cursors go through `store`, the writer.
    Kinds are taken in their order: the first has caught up before the next gets its turn.
    `today` are channels for rows of a run that kept no bench (schema 2).
    """

    def __init__(
        self, store: Store, data: Path, sink: str, kinds: Sequence[str], today: Sequence[Channel]
    ) -> None:
        self._store = store
        self._path = data / FILE_NAME
        self._sink = storable(sink)
        self._kinds = tuple(kinds)
        self._thread = ThreadPoolExecutor(max_workers=1, thread_name_prefix="forwarding")
        self._damage = Damage()
        self._channels = _ChannelsThen(today, self._damage)

    async def next(self, limit: int) -> PointBatch:
        """At most `limit` points beyond the cursors."""
        return await self._read(lambda con: self._next(con, limit))

    async def again(self, limit: int) -> PointBatch:
        """At most `limit` points that were set aside."""

        def work(con: sqlite3.Connection) -> PointBatch:
            points: list[StoredPoint] = []
            for kind in self._kinds:
                numbers = self._set_aside(con, kind, limit)
                found = [one for row in numbers for one in self._numbered(con, kind, row, row)]
                points.extend(self._points(con, kind, found))
            return PointBatch(points=points[:limit], ends={}, more=False)

        return await self._read(work)

    async def forwarded(
        self,
        ends: Mapping[str, int],
        *,
        refused: Mapping[tuple[str, int], str],
        taken_back: Collection[tuple[str, int]] = (),
    ) -> None:
        """Move the cursors to `ends`; note what was refused, by kind and row, and why.

        `taken_back` were set aside, and are not any more.
        """
        if not (ends or refused or taken_back):
            return

        def work(con: sqlite3.Connection) -> None:
            con.executemany(
                "INSERT INTO forwarded VALUES (?, ?, ?)"
                " ON CONFLICT (sink, kind) DO UPDATE SET row = excluded.row",
                [(self._sink, kind, row) for kind, row in ends.items()],
            )
            con.executemany(
                "DELETE FROM set_aside WHERE sink = ? AND kind = ? AND row = ?",
                [(self._sink, *one) for one in taken_back],
            )
            con.executemany(
                "INSERT INTO set_aside (sink, kind, row, reason) VALUES (?, ?, ?, ?)"
                " ON CONFLICT (sink, kind, row) DO UPDATE SET reason = excluded.reason",
                [(self._sink, *one, storable(why)) for one, why in refused.items()],
            )

        await self._store.change(work)

    async def backlog(self) -> Backlog:
        """What waits now."""
        return await self._read(self._backlog)

    def close(self) -> None:
        """End reading; what is under way on a disk that hangs is not waited for."""
        self._thread.shutdown(wait=False)

    async def _read(self, work: Callable[[sqlite3.Connection], T]) -> T:
        def read() -> T:
            # opened anew: a database that was removed and put back is another file
            with in_plain_words(self._path), closing(open_to_read(self._path)) as con:
                return work(con)

        return await asyncio.get_running_loop().run_in_executor(self._thread, read)

    # in the thread

    def _next(self, con: sqlite3.Connection, limit: int) -> PointBatch:
        points: list[StoredPoint] = []
        ends: dict[str, int] = {}
        for kind in self._kinds:
            row = self._cursor(con, kind)
            newest = self._newest(con, kind)  # before: what is committed meanwhile has its turn
            left = limit - len(points)
            found = list(islice(self._numbered(con, kind, row + 1, newest), left)) if left else []
            points.extend(self._points(con, kind, found))
            end = newest if len(found) < left else found[-1][0] if found else row
            if end > row:
                ends[kind] = end
        return PointBatch(points=points, ends=ends, more=len(points) == limit)

    def _numbered(
        self, con: sqlite3.Connection, kind: str, first: int, last: int
    ) -> Iterator[Numbered]:
        """Rows by their numbers; what cannot be read is noted and left out."""
        if kind != "event":
            return rows.numbered(con, self._damage, kind, first, last)
        found = con.execute(_EVENTS, (first, last))
        return self._damage.each(
            kind, found, lambda seq, *row: (seq, load_event(*row)), "one event"
        )

    def _newest(self, con: sqlite3.Connection, kind: str) -> int:
        if kind != "event":
            return zones.last_id(con, kind)
        (newest,) = con.execute("SELECT coalesce(max(seq), 0) FROM event").fetchone()
        return int(newest)

    def _points(
        self, con: sqlite3.Connection, kind: str, found: Iterable[Numbered]
    ) -> list[StoredPoint]:
        self._channels.read(con)
        return [
            StoredPoint(kind=kind, row=row, what=what, channel=self._channels.of(con, what))
            for row, what in found
        ]

    def _cursor(self, con: sqlite3.Connection, kind: str) -> int:
        found = con.execute(
            "SELECT row FROM forwarded WHERE sink = ? AND kind = ?", (self._sink, kind)
        ).fetchone()
        return 0 if found is None else int(found[0])

    def _set_aside(self, con: sqlite3.Connection, kind: str, limit: int) -> list[int]:
        found = con.execute(
            "SELECT row FROM set_aside WHERE sink = ? AND kind = ? ORDER BY seq LIMIT ?",
            (self._sink, kind, limit),
        )
        return [int(row) for (row,) in found]

    def _backlog(self, con: sqlite3.Connection) -> Backlog:
        waiting, oldest_s = 0, []
        for kind in self._kinds:
            cursor = self._cursor(con, kind)
            newest = self._newest(con, kind)
            waiting += max(0, newest - cursor)
            first = islice(self._numbered(con, kind, cursor + 1, newest), 1)
            oldest_s += [_stamp_s(what) for _, what in first]
        (set_aside,) = con.execute(
            "SELECT count(*) FROM set_aside WHERE sink = ?", (self._sink,)
        ).fetchone()
        latest = con.execute(
            "SELECT reason FROM set_aside WHERE sink = ? ORDER BY seq DESC LIMIT 1", (self._sink,)
        ).fetchone()
        return Backlog(
            waiting=waiting,
            oldest_s=min(oldest_s, default=None),
            set_aside=int(set_aside),
            refused="" if latest is None else str(latest[0]),
        )


class _ChannelsThen:
    """Each channel as the configuration of a row's time has it, so that it is always the same."""

    def __init__(self, today: Sequence[Channel], damage: Damage) -> None:
        self._today = {channel.name: channel for channel in today}
        self._damage = damage
        self._runs: list[tuple[float, int]] = []  # when each began, and its settings
        self._configured: dict[int, dict[str, Channel]] = {}  # by settings
        self._by_hand: dict[str, Channel | None] = {}  # None: nobody ever read it

    def read(self, con: sqlite3.Connection) -> None:
        """Take in runs that have begun."""
        found = con.execute(
            "SELECT started_us, settings FROM run WHERE typeof(started_us) = 'integer'"
            " ORDER BY started_us, id"
        )
        self._runs = [(seconds(started_us), int(settings)) for started_us, settings in found]
        for settings in {settings for _, settings in self._runs} - self._configured.keys():
            found = con.execute("SELECT id, bench FROM settings WHERE id = ?", (settings,))
            benches = self._damage.each("settings", found, _bench, "the channels of then")
            bench = next(iter(benches), None)
            self._configured[settings] = (
                self._today if bench is None else {one.name: one for one in bench.channels}
            )

    def of(self, con: sqlite3.Connection, what: Event | Estimate | Reading) -> Channel | None:
        """The channel that `what` is of."""
        if not isinstance(what, Estimate | Reading):
            return None
        configured = self._today
        if self._runs:
            index = bisect_right(self._runs, what.at_s, key=lambda run: run[0]) - 1
            configured = self._configured[self._runs[max(0, index)][1]]
        return configured.get(what.channel) or self._read_by_hand(con, what.channel)

    def _read_by_hand(self, con: sqlite3.Connection, name: str) -> Channel | None:
        if name not in self._by_hand:
            lines = Ledger(rows.entries_since(con, self._damage, 0.0, ())).lines
            entries = (one for line in lines for one in (line.first, line.now))
            readings = (one for one in entries if isinstance(one, ManualReading))
            self._by_hand |= {one.channel.name: one.channel for one in readings}
            self._by_hand.setdefault(name, None)
        return self._by_hand[name]


def _stamp_s(what: Event | Estimate | Reading) -> float:
    return what.at_s if isinstance(what, Estimate | Reading) else what.time_s


def _bench(bench: str | None) -> Bench | None:
    return None if bench is None else load(Bench, bench)
