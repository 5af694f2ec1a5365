"""Sealed rows, read back from their chunks: the same rows in the same order, or named as lost.

A chunk holds rows of one channel out of one zone, and of believed estimates lowest and highest of
each ten minutes: a curve over months reads these alone.
"""

import json
import sqlite3
import struct
import zlib
from collections.abc import Iterable, Iterator
from typing import TYPE_CHECKING, Any, NamedTuple

from logger.errors import DataError
from logger.quantities import Quality
from logger.store.buckets import LEVEL_S, Envelope
from logger.store.chunks import unpack
from logger.store.codec import micros, seconds
from logger.store.damage import Damage
from logger.timestamps import rfc3339

if TYPE_CHECKING:
    from numpy.typing import NDArray

KINDS = {"reading": "ifi", "estimate": "iftifrii"}
"""Of the columns of a chunk, as `sealing` packs them: stamp and value, then for estimates quality;
id; then for estimates repeatability, standard uncertainty, used and rejected."""

_DRAWN = "iftifr"  # what a curve needs of an estimate
_LEVEL_US = micros(LEVEL_S)
_LEVEL = struct.Struct("<qdd")  # which, lowest, highest
_SUM = struct.Struct("<I")  # at the end of the levels

_COLUMNS = (
    "SELECT chunk.id, of, first, channel, rows, from_us, to_us, levels, sum,"
    " substr(body, start + 1, size), name FROM chunk LEFT JOIN block ON block.id = chunk.block"
    " LEFT JOIN channel ON channel.id = chunk.channel"
)
_OF_ZONE = (
    f"{_COLUMNS} WHERE of = ? AND first = ? AND to_us >= ? AND from_us < ?"
    " AND (?5 IS NULL OR channel = (SELECT id FROM channel WHERE name = ?5))"
    " ORDER BY channel, chunk.id"
)
_OF_CHANNEL = (
    "SELECT chunk.id, chunk.from_us, chunk.to_us, levels FROM zone"
    " CROSS JOIN chunk ON chunk.of = zone.of AND chunk.first = zone.first"
    " AND chunk.channel = (SELECT id FROM channel WHERE name = ?1)"
    " WHERE zone.of = 'estimate' AND sealed IS NOT NULL AND zone.to_us >= ?2 AND zone.from_us < ?3"
    " AND chunk.to_us >= ?2 AND chunk.from_us < ?3"
)
_BY_IDS = f"{_COLUMNS} WHERE chunk.id IN (SELECT value FROM json_each(?))"


class Chunk(NamedTuple):
    """A row of the table `chunk`, but for its id, and its part of the block."""

    table: str
    first: int  # row of its zone
    channel: int
    rows: int
    from_us: int
    to_us: int
    levels: bytes  # see `packed_levels`
    sum: int
    body: bytes

    def checksum(self) -> int:
        """CRC-32 over all of it but the sum."""
        head = repr(self[:-3]).encode()
        return zlib.crc32(self.body, zlib.crc32(self.levels, zlib.crc32(head)))

    def columns(self, kinds: str) -> list[Any]:
        """The first of its columns, of these kinds. Raises DataError where it is damaged."""
        whole = isinstance(self.body, bytes) and isinstance(self.levels, bytes)
        if not whole or self.checksum() != self.sum:
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


def estimate_columns(
    con: sqlite3.Connection, damage: Damage, first: int, ends: tuple[int, int]
) -> "Iterator[tuple[str, list[NDArray[Any]]]]":
    """Of each channel of a zone: stamps, values, standard uncertainties and qualities."""
    found = con.execute(_OF_ZONE, ("estimate", first, *ends, None))
    for chunk, columns, name in _readable(found, damage, _DRAWN):
        at_us, values, quality, _, _, uncertainty = columns
        inside = (at_us >= ends[0]) & (at_us < ends[1])
        kept = [column[inside] for column in (at_us, values, uncertainty, quality)]
        yield name or f"channel {chunk.channel}", kept


def outline(con: sqlite3.Connection, damage: Damage, channel: str, envelope: Envelope) -> None:
    """Add the channel's sealed estimates to the lowest and highest of a curve."""
    import numpy as np

    if envelope.spans.of_levels:
        envelope.add(*_levels(con, damage, channel, envelope.ends))
        return
    ids = [id_ for id_, *_ in con.execute(_OF_CHANNEL, (channel, *envelope.ends))]
    found = con.execute(_BY_IDS, (json.dumps(ids),))
    for _, columns, _ in _readable(found, damage, _DRAWN):
        at_us, values, quality, _, _, uncertainty = columns
        believed = ~np.isnan(values) & (quality != Quality.LOST)
        kept = [
            one[believed] for one in (at_us, values, values, uncertainty, quality == Quality.GOOD)
        ]
        envelope.add(*kept)


def packed_levels(believed: Iterable[tuple[int, float]]) -> bytes:
    """Lowest and highest of each level that has estimates, given by stamp and value."""
    levels: dict[int, tuple[float, float]] = {}
    for at_us, value in believed:
        slot = at_us // _LEVEL_US
        low, high = levels.get(slot, (value, value))
        levels[slot] = min(low, value), max(high, value)
    packed = b"".join(_LEVEL.pack(slot, *ends) for slot, ends in levels.items())
    return packed + _SUM.pack(zlib.crc32(packed))


def _levels(
    con: sqlite3.Connection, damage: Damage, channel: str, ends: tuple[int, int]
) -> "tuple[NDArray[Any], ...]":
    """Beginnings of levels, lowest and highest."""
    import numpy as np

    found: list[bytes] = []
    for id_, from_us, to_us, levels in con.execute(_OF_CHANNEL, (channel, *ends)):
        packed = levels[: -_SUM.size] if isinstance(levels, bytes) else b""
        if packed + _SUM.pack(zlib.crc32(packed)) == levels:
            found.append(packed)
        else:
            lost = f"a curve of {channel} from {_time(from_us)} to {_time(to_us)}"
            damage.note("chunk", id_, lost, DataError("the checksum of its levels is wrong"))
    slots = np.frombuffer(b"".join(found), dtype="<i8").reshape(-1, 3)
    return slots[:, 0] * _LEVEL_US, *slots[:, 1:].T.view("<f8")


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
    found: Iterable[tuple[Any, ...]], damage: Damage, kinds: str | None
) -> Iterator[tuple[Chunk, list[Any], Any]]:
    """Each chunk with its columns and the name of its channel; those that are damaged are noted."""
    for id_, *columns_, name in found:
        chunk = Chunk(*columns_)
        try:
            columns = chunk.columns(kinds or KINDS[chunk.table])
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
