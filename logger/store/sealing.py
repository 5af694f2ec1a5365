"""Old rows of readings and estimates into chunks, some thousands at a time.

A step is found and packed on a connection that only reads, and takes the writer for one short
transaction: the chunks come as the rows go, so that a kill at any moment leaves one or the other.
Pages that rows leave are filled by the next rows: the file grows by the chunks alone, and never
shrinks. What packing cannot hold (a damaged row) stays as it is.
"""

import sqlite3
from collections.abc import Collection, Iterable, Iterator, Sequence
from dataclasses import dataclass
from itertools import accumulate, groupby
from operator import itemgetter
from typing import Any, NamedTuple

from logger.quantities import Quality
from logger.store import rows, zones
from logger.store.chunks import pack, same, unpack
from logger.store.codec import micros
from logger.store.remembered import LONGEST_FOLLOWED_S
from logger.store.sealed import KINDS, Chunk, packed_levels

AFTER_S = LONGEST_FOLLOWED_S  # as long as a burn is followed, a restart reads its rows
BLOCK_ROWS = 16_384  # takes the writer some 20 ms (measured)
CHUNK_ROWS = 1024  # of one channel; fewer cost bytes, more cost curves time
BODY_BYTES = 65_536  # of chunks together; of each alone a fifth of the file would stand empty

TABLES = tuple(KINDS)

_ROWS = {
    "reading": "SELECT channel, at_us, value, id FROM reading WHERE id BETWEEN ? AND ?"
    " AND channel IS ? ORDER BY id",
    "estimate": "SELECT channel, at_us, value, quality, id, repeatability, standard_uncertainty,"
    " used, rejected FROM estimate WHERE id BETWEEN ? AND ? AND channel IS ? ORDER BY id",
}
_CHANNELS = {
    "reading": "SELECT DISTINCT channel FROM reading WHERE id BETWEEN ? AND ? ORDER BY channel",
    "estimate": "SELECT DISTINCT channel FROM estimate WHERE id BETWEEN ? AND ? ORDER BY channel",
}
_COUNT = {
    "reading": "SELECT count(*) FROM reading WHERE id BETWEEN ? AND ?",
    "estimate": "SELECT count(*) FROM estimate WHERE id BETWEEN ? AND ?",
}
_DELETE = {
    "reading": "DELETE FROM reading WHERE id BETWEEN ? AND ?",
    "estimate": "DELETE FROM estimate WHERE id BETWEEN ? AND ?",
}


class Zone(NamedTuple):
    """A closed zone, as it is stored."""

    first: int
    last: int
    from_us: int
    to_us: int


@dataclass(frozen=True, slots=True, kw_only=True)
class OldRows:
    """Rows that are old enough to be sealed together, out of the `zones` that they lie in."""

    table: str
    zones: tuple[Zone, ...]

    @property
    def first(self) -> int:
        """The first row."""
        return self.zones[0].first

    @property
    def last(self) -> int:
        """The last row; the last zone may go on after it."""
        return min(self.zones[-1].last, self.first + BLOCK_ROWS - 1)

    @property
    def ends(self) -> tuple[int, int]:
        """First and last row."""
        return self.first, self.last


@dataclass(frozen=True, slots=True, kw_only=True)
class SealedBlock:
    """What is put in the place of rows."""

    place: OldRows
    chunks: tuple[Chunk, ...]

    @property
    def rows(self) -> int:
        """How many they are."""
        return sum(chunk.rows for chunk in self.chunks)


def due(con: sqlite3.Connection, leave: Collection[OldRows] = ()) -> OldRows | None:
    """The oldest rows that can be sealed, but not those to `leave`."""
    before_us = rows.latest_us(con) - micros(AFTER_S)
    for table in TABLES:
        newest = zones.last_id(con, table)
        run: list[Zone] = []
        for zone in _open_zones(con, table, 0, newest):
            if run and run[-1].last + 1 != zone.first:
                run = []
            run.append(zone)
            if zone.to_us >= before_us or zone.last == newest:  # the newest row stays a row
                run = []
            elif zone.last - run[0].first + 1 >= BLOCK_ROWS:
                place = OldRows(table=table, zones=tuple(run))
                if place not in leave:
                    return place
                run = []
    return None


def stored_rows(con: sqlite3.Connection, place: OldRows) -> Iterator[tuple[Any, ...]]:
    """The rows of `place`, as `packed` takes them; one channel's after the other's.

    Together, or sorted by SQLite, they would take some megabytes of memory that never come back.
    """
    for (channel,) in con.execute(_CHANNELS[place.table], place.ends).fetchall():
        yield from con.execute(_ROWS[place.table], (*place.ends, channel)).fetchall()


def packed(place: OldRows, found: Iterable[Sequence[Any]]) -> SealedBlock:
    """Rows by channel and id: channel, then the columns of `KINDS`.

    That they come back is seen to. Raises ValueError, TypeError or OverflowError where one cannot
    be packed.
    """
    return SealedBlock(place=place, chunks=tuple(_chunks(place, found)))


def put(con: sqlite3.Connection, block: SealedBlock) -> bool:
    """Put `block` in the place of its rows, inside a transaction.

    False, with nothing done, where these changed.
    """
    place = block.place
    table, ends = place.table, place.ends
    held = con.execute(_COUNT[table], ends).fetchone()
    if _open_zones(con, table, *ends) != [*place.zones] or held != (block.rows,):
        return False
    con.execute(_DELETE[table], ends)
    con.execute("DELETE FROM zone WHERE of = ? AND first BETWEEN ? AND ?", (table, *ends))
    insert(con, block)
    rest = place.zones[-1]
    if rest.last > place.last:
        con.execute(
            "INSERT INTO zone VALUES (?, ?, ?, ?, ?, NULL)",
            (table, place.last + 1, rest.last, rest.from_us, rest.to_us),
        )
    return True


def insert(con: sqlite3.Connection, block: SealedBlock) -> None:
    """The chunks of `block` and their zone, where no rows of it are stored."""
    place = block.place
    for body, chunks in _bodies(block.chunks):
        cursor = con.execute("INSERT INTO block (body) VALUES (?)", (body,))
        starts = accumulate((len(chunk.body) for chunk in chunks), initial=0)
        con.executemany(
            "INSERT INTO chunk (of, first, channel, rows, from_us, to_us, levels, sum, block,"
            " start, size) VALUES (?, ?, ?, ?, ?, ?, ?, ?, ?, ?, ?)",
            [
                (*chunk[:-1], cursor.lastrowid, start, len(chunk.body))
                for chunk, start in zip(chunks, starts, strict=False)
            ],
        )
    from_us = min((chunk.from_us for chunk in block.chunks), default=place.zones[0].from_us)
    to_us = max((chunk.to_us for chunk in block.chunks), default=place.zones[-1].to_us)
    con.execute(
        "INSERT INTO zone VALUES (?, ?, ?, ?, ?, ?)",
        (place.table, *place.ends, from_us, to_us, block.rows),
    )


def discard(con: sqlite3.Connection, table: str, first: int) -> int:
    """Delete the sealed zone that begins with this row, inside a transaction; how many rows."""
    zone = (table, first)
    (rows_,) = con.execute(
        "SELECT coalesce(sum(rows), 0) FROM chunk WHERE of = ? AND first = ?", zone
    ).fetchone()
    con.execute(
        "DELETE FROM block WHERE id IN (SELECT block FROM chunk WHERE of = ? AND first = ?)", zone
    )
    con.execute("DELETE FROM chunk WHERE of = ? AND first = ?", zone)
    con.execute("DELETE FROM zone WHERE of = ? AND first = ? AND sealed IS NOT NULL", zone)
    return int(rows_)


def _bodies(chunks: Iterable[Chunk]) -> Iterator[tuple[bytes, list[Chunk]]]:
    """Chunks together, up to some BODY_BYTES."""
    together: list[Chunk] = []
    for chunk in chunks:
        together.append(chunk)
        if sum(len(one.body) for one in together) >= BODY_BYTES:
            yield b"".join(one.body for one in together), together
            together = []
    if together:
        yield b"".join(one.body for one in together), together


def _open_zones(con: sqlite3.Connection, table: str, first: int, last: int) -> list[Zone]:
    found = con.execute(
        "SELECT first, last, from_us, to_us FROM zone WHERE of = ? AND sealed IS NULL"
        " AND first BETWEEN ? AND ? ORDER BY first",
        (table, first, last),
    )
    return [Zone._make(row) for row in found]


def _chunks(place: OldRows, found: Iterable[Sequence[Any]]) -> Iterator[Chunk]:
    for channel, of_channel in groupby(found, itemgetter(0)):
        all_ = list(of_channel)
        parts = max(1, round(len(all_) / CHUNK_ROWS))
        size = -(-len(all_) // parts)
        for start in range(0, len(all_), size):
            yield _chunk(place, channel, all_[start : start + size])


def _chunk(place: OldRows, channel: int, found: Sequence[Sequence[Any]]) -> Chunk:
    _, *columns = zip(*found, strict=True)
    body = pack(columns, KINDS[place.table])
    if not same(unpack(body, KINDS[place.table]), columns):
        raise ValueError("packed, they would not come back as they are")
    stamps, values, quality, *_ = columns
    levels = b""
    if place.table == "estimate":
        rows_ = zip(stamps, values, quality, strict=True)
        levels = packed_levels(
            (at_us, value) for at_us, value, of in rows_ if value is not None and of != Quality.LOST
        )
    head = Chunk(
        table=place.table,
        first=place.first,
        channel=channel,
        rows=len(found),
        from_us=min(stamps),
        to_us=max(stamps),
        levels=levels,
        sum=0,
        body=body,
    )
    return head._replace(sum=head.checksum())
