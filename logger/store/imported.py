"""Readings that were not measured by this bench's own runs, and where they came from.

They lie among the readings, in a range of rows of their own. Their times are those of no run that
watched and of no other import: so one look at the time tells them from live ones.
"""

import sqlite3
from collections.abc import Iterable
from dataclasses import dataclass

from logger.quantities import Reading
from logger.store import rows, zones
from logger.store.codec import micros, seconds, storable
from logger.store.schema import transaction
from logger.store.writing import channel_row

_SEEN_AGAIN_US = 5_000_000  # a killed run was last seen up to this long before its end


@dataclass(frozen=True, slots=True, kw_only=True)
class ImportedFile:
    """One file that was imported."""

    file: str
    sha256: str  # of its readings, in order
    at_s: float
    rows: int
    from_s: float
    to_s: float  # of its latest reading


@dataclass(frozen=True, slots=True, kw_only=True)
class CoveredTime:
    """A stretch of time that already has its readings; `of` says in words whose they are."""

    from_s: float
    to_s: float
    of: str


def imports(con: sqlite3.Connection) -> list[ImportedFile]:
    """All of them, the oldest first."""
    found = con.execute(
        "SELECT file, sha256, started_us, first, last, from_us, to_us FROM imported"
        " JOIN run ON run.id = imported.run ORDER BY imported.first"
    )
    return [
        ImportedFile(
            file=file,
            sha256=sha256,
            at_s=seconds(at_us),
            rows=last - first + 1,
            from_s=seconds(from_us),
            to_s=seconds(to_us),
        )
        for file, sha256, at_us, first, last, from_us, to_us in found
    ]


def taken(con: sqlite3.Connection) -> list[CoveredTime]:
    """The times of the runs that watched and of earlier imports, in order."""
    found = con.execute(
        "SELECT started_us, coalesce(ended_us, last_seen_us + ?), 'recorded by this bench'"
        " FROM run WHERE watching"
        " UNION ALL SELECT from_us, to_us, 'imported from ' || file FROM imported ORDER BY 1",
        (_SEEN_AGAIN_US,),
    )
    return [CoveredTime(from_s=seconds(a), to_s=seconds(b), of=of) for a, b, of in found]


def add(
    con: sqlite3.Connection,
    readings: Iterable[Reading],
    *,
    run: int,
    file: str,
    sha256: str,
) -> None:
    """Write `readings` in their order, all or none, as those of `file`; the end of the `run`."""
    with transaction(con):
        first = zones.last_id(con, "reading") + 1
        number, low_us, high_us = first - 1, rows.EVER_US, 0
        channels: dict[str, int] = dict(con.execute("SELECT name, id FROM channel"))
        batch: list[tuple[int, int, int, float]] = []
        for reading in readings:
            number += 1
            at_us = micros(reading.at_s)
            low_us, high_us = min(low_us, at_us), max(high_us, at_us)
            row = channel_row(con, channels, reading.channel)
            batch.append((number, row, at_us, reading.value))
            if len(batch) == zones.ZONE_ROWS:
                _write(con, batch)
        _write(con, batch)
        con.execute(
            "INSERT INTO imported (run, file, sha256, first, last, from_us, to_us)"
            " VALUES (?, ?, ?, ?, ?, ?, ?)",
            (run, storable(file), sha256, first, number, low_us, high_us),
        )
        con.execute("UPDATE run SET ended_us = started_us WHERE id = ?", (run,))


def _write(con: sqlite3.Connection, batch: list[tuple[int, int, int, float]]) -> None:
    con.executemany("INSERT INTO reading VALUES (?, ?, ?, ?)", batch)
    batch.clear()
    zones.close(con, "reading")
