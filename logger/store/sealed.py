"""Sealed rows, read back from their chunks: the same rows in the same order, or named as lost.

A chunk holds rows of one channel out of one zone. Its head has the earliest and latest stamp, and
lowest and highest believed estimate, so that a curve over months reads hardly more than heads.
"""

import sqlite3
import zlib
from collections.abc import Iterator
from typing import TYPE_CHECKING, Any, NamedTuple

from logger.errors import DataError
from logger.store.chunks import unpack
from logger.store.codec import seconds
from logger.store.curve import Envelope
from logger.store.damage import Damage
from logger.timestamps import rfc3339

if TYPE_CHECKING:
    from numpy.typing import NDArray

KINDS = {"reading": "ifi", "estimate": "iftifrii"}
"""Of the columns of a chunk, as `sealing` packs them: stamp and value, then for estimates quality;
id; then for estimates repeatability, standard uncertainty, used and rejected."""

_CURVE = "ift"  # what a curve needs of an estimate

_COLUMNS = (
    "SELECT chunk.id, of, first, channel, rows, from_us, to_us, low, high, sum, body, name"
    " FROM chunk LEFT JOIN channel ON channel.id = chunk.channel"
)
_OF_ZONE = (
    f"{_COLUMNS} WHERE of = ? AND first = ? AND to_us >= ? AND from_us < ?"  # noqa: S608
    " AND (?5 IS NULL OR channel = (SELECT id FROM channel WHERE name = ?5))"
)
_HEADS = (
    "SELECT chunk.id, chunk.from_us, chunk.to_us, low, high FROM zone"
    " CROSS JOIN chunk ON chunk.of = zone.of AND chunk.first = zone.first"
    " WHERE zone.of = 'estimate' AND sealed IS NOT NULL AND zone.to_us >= ?1 AND zone.from_us < ?2"
    " AND chunk.channel = (SELECT id FROM channel WHERE name = ?3)"
    " AND chunk.to_us >= ?1 AND chunk.from_us < ?2 AND low IS NOT NULL"
)


class Chunk(NamedTuple):
    """A row of the table `chunk`, but for its id and the name of its channel."""

    table: str
    first: int  # row of its zone
    channel: int
    rows: int
    from_us: int
    to_us: int
    low: float | None
    high: float | None
    sum: int
    body: bytes

    def checksum(self) -> int:
        """CRC-32 over all of it but the sum."""
        return zlib.crc32(self.body, zlib.crc32(repr(self[:-2]).encode()))

    def columns(self, kinds: str) -> list[Any]:
        """The first of its columns, of these kinds. Raises DataError where it is damaged."""
        if not isinstance(self.body, bytes) or self.checksum() != self.sum:
            raise DataError("its checksum is wrong")
        return unpack(self.body, kinds)

    def lost(self, name: object) -> str:
        """What is missing without it, in words."""
        what = "readings" if self.table == "reading" else "estimates"
        channel = name or f"channel {self.channel}"
        return f"{self.rows} {what} of {channel} from {_time(self.from_us)} to {_time(self.to_us)}"


def rows(
    con: sqlite3.Connection,
    damage: Damage,
    zone: tuple[str, int],
    *,
    channel: str | None,
    ends: tuple[int, int],
) -> Iterator[tuple[Any, ...]]:
    """Rows of the zone of a table that begins with a row, as the queries of `rows` give them.

    Those of a channel, or all, with ends[0] <= at_us < ends[1], in order of arrival.
    """
    import numpy as np

    table, (from_us, to_us) = zone[0], ends
    names: list[str] = []
    parts: list[list[Any]] = []
    found = con.execute(_OF_ZONE, (*zone, *ends, channel))
    for chunk, columns, name in _readable(found, damage, KINDS[table]):
        inside = (columns[0] >= from_us) & (columns[0] < to_us)
        kept = columns if inside.all() else [column[inside] for column in columns]
        place = np.full(len(kept[0]), len(names))
        names.append(name or f"channel {chunk.channel}")
        parts.append([*kept, place])
    if not parts:
        return
    joined = [np.concatenate(column) for column in zip(*parts, strict=True)]
    id_place = KINDS[table].index("i", 1)
    order = np.argsort(joined[id_place], kind="stable")
    lists = [_plain(column[order]) for column in joined]
    named = [names[place] for place in lists.pop()]
    if table == "reading":
        at_us, values, ids = lists
        yield from zip(ids, named, values, at_us, strict=True)
    else:
        at_us, values, quality, ids, repeatability, uncertainty, used, rejected = lists
        columns_ = (ids, named, at_us, values, uncertainty, repeatability, used, rejected, quality)
        yield from zip(*columns_, strict=True)


def outline(
    con: sqlite3.Connection, damage: Damage, channel: str, envelope: Envelope, to_us: int
) -> None:
    """Add the channel's sealed estimates before `to_us` to the lowest and highest of a curve."""
    import numpy as np

    count = envelope.spans.count
    lows, highs = np.full(count, np.inf), np.full(count, -np.inf)
    cut: list[tuple[int]] = []  # chunks on an edge: of these each estimate is looked at
    for id_, from_us, last_us, low, high in con.execute(_HEADS, (envelope.from_us, to_us, channel)):
        if from_us < envelope.from_us or last_us >= to_us:
            cut.append((id_,))
        elif (index := envelope.index(from_us)) == envelope.index(last_us):
            envelope.add(index, low, high)
        else:
            cut.append((id_,))
    found = (con.execute(f"{_COLUMNS} WHERE chunk.id = ?", one).fetchone() for one in cut)
    for _, (at_us, values, quality), _ in _readable(found, damage, _CURVE):
        believed = (at_us >= envelope.from_us) & (at_us < to_us) & (quality != "lost")
        believed &= ~np.isnan(values)
        index_of = ((at_us[believed] - envelope.from_us) / envelope.width_us).astype(np.int64)
        index_of = np.minimum(index_of, count - 1)  # as Envelope.index
        np.minimum.at(lows, index_of, values[believed])
        np.maximum.at(highs, index_of, values[believed])
    for index in np.flatnonzero(np.isfinite(lows)).tolist():
        envelope.add(index, float(lows[index]), float(highs[index]))


def verify(con: sqlite3.Connection, damage: Damage) -> int:
    """Read every chunk and name those that are damaged or missing; how many rows are sealed."""
    total = 0
    for _, columns, _ in _readable(con.execute(_COLUMNS), damage, None):
        total += len(columns[0])
    zones = con.execute(
        "SELECT of, first, last, sealed, (SELECT coalesce(sum(rows), 0) FROM chunk"
        " WHERE chunk.of = zone.of AND chunk.first = zone.first) AS held"
        " FROM zone WHERE sealed <> held"
    )
    for table, first, last, sealed, held in zones:
        missing = DataError(f"{sealed} rows were sealed and {held} are there")
        damage.note("zone", f"{table} {first}", f"some of rows {first} to {last}", missing)
    return total


def _readable(
    found: Iterator[tuple[Any, ...]], damage: Damage, kinds: str | None
) -> Iterator[tuple[Chunk, list[Any], Any]]:
    """Each chunk with its columns and the name of its channel; those that are damaged are noted."""
    for id_, *head, name in found:
        chunk = Chunk(*head)
        try:
            columns = chunk.columns(KINDS[chunk.table] if kinds is None else kinds)
        except DataError as exc:
            damage.note("chunk", id_, chunk.lost(name), exc)
        else:
            yield chunk, columns, name


def _plain(column: "NDArray[Any]") -> list[Any]:
    """As the database would give it."""
    import numpy as np

    values: list[Any] = column.tolist()
    if column.dtype == np.float64 and np.isnan(column).any():
        return [None if value != value else value for value in values]  # noqa: PLR0124
    return values


def _time(at_us: object) -> str:
    try:
        return rfc3339(seconds(int(at_us)))  # type: ignore[call-overload]
    except (TypeError, ValueError, OverflowError, OSError):
        return f"stamp {at_us}"
