"""Where in a table that lies in order of arrival the rows of a time are.

Each closed zone of ZONE_ROWS rows or more has its earliest and latest stamp in `zone`; what came
after the last zone is always looked through. This holds for stamps in any order: a manual reading
of half an hour ago, or a board that woke up in the past, only makes a zone wider. Old zones are
joined and sealed: their rows are then in chunks (see `sealing`).
"""

import sqlite3
from typing import NamedTuple

ZONE_ROWS = 4096  # at 16 readings a second, some four minutes

_END = 2**63 - 1
_LAST = {
    "reading": "SELECT coalesce(max(id), 0) FROM reading",
    "estimate": "SELECT coalesce(max(id), 0) FROM estimate",
}
_CLOSE = {
    "reading": "INSERT INTO zone (of, first, last, from_us, to_us)"
    " SELECT 'reading', min(id), max(id), min(at_us), max(at_us) FROM reading WHERE id > ?",
    "estimate": "INSERT INTO zone (of, first, last, from_us, to_us)"
    " SELECT 'estimate', min(id), max(id), min(at_us), max(at_us) FROM estimate WHERE id > ?",
}

_ANEW = {  # whole zones only: what came after is looked through
    "reading": "INSERT INTO zone SELECT 'reading', min(id), max(id), min(at_us), max(at_us),"
    " NULL FROM reading GROUP BY id / ?1"
    " HAVING max(id) < (SELECT max(id) / ?1 * ?1 FROM reading)",
    "estimate": "INSERT INTO zone SELECT 'estimate', min(id), max(id), min(at_us), max(at_us),"
    " NULL FROM estimate GROUP BY id / ?1"
    " HAVING max(id) < (SELECT max(id) / ?1 * ?1 FROM estimate)",
}
_SEALED_ANEW = (  # up to the next row or sealed zone
    "INSERT INTO zone SELECT of, first, min("
    "coalesce((SELECT min(n.first) FROM chunk n WHERE n.of = c.of AND n.first > c.first), ?2),"
    " coalesce((SELECT min(id) FROM {table} WHERE id > c.first), ?2)) - 1,"
    " min(from_us), max(to_us), sum(rows) FROM chunk c WHERE of = ?1 GROUP BY first"
)
# the zone of row ?2 and those after it; what is no number comes after every number
_FROM_ROW = "first >= (SELECT coalesce(max(first), 0) FROM zone WHERE of = ?1 AND first <= ?2)"


class Stretch(NamedTuple):
    """Rows from `first` to `last`, all of them sealed or none."""

    first: int
    last: int
    sealed: bool = False


def last_id(con: sqlite3.Connection, table: str) -> int:
    """The newest row of `table`, which is never sealed; 0 when it is empty."""
    (row,) = con.execute(_LAST[table]).fetchone()
    return int(row)


def close(con: sqlite3.Connection, table: str) -> None:
    """Close a zone when enough rows have come; inside the transaction that wrote them."""
    end = _closed(con, table)
    if last_id(con, table) - end >= ZONE_ROWS:
        con.execute(_CLOSE[table], (end,))


def spans(
    con: sqlite3.Connection, table: str, from_us: int, to_us: int, *, from_row: int = 0
) -> list[Stretch]:
    """Ranges of row ids, in order, that hold every row with from_us <= at_us < to_us.

    Those that end before `from_row` are left out, without being looked at.
    """
    if _unsound(con, table, from_row):  # until a start has repaired it
        chunks = con.execute("SELECT DISTINCT first FROM chunk WHERE of = ? ORDER BY 1", (table,))
        return [*(Stretch(first, first, True) for (first,) in chunks), Stretch(1, _END)]
    end = _closed(con, table)  # asked once: the writer may close another zone meanwhile
    zones = con.execute(
        f"SELECT first, last, sealed FROM zone WHERE of = ?1 AND {_FROM_ROW}"
        " AND to_us >= ?3 AND from_us < ?4 AND last <= ?5 ORDER BY first",
        (table, from_row, from_us, to_us, end),
    )
    joined: list[Stretch] = []
    for first, last, sealed in (*zones, (end + 1, _END, None)):
        before = joined[-1] if joined else None
        if before and sealed is None and not before.sealed and before.last + 1 == first:
            joined[-1] = Stretch(before.first, last)
        else:
            joined.append(Stretch(first, last, sealed is not None))
    return joined


def repair(con: sqlite3.Connection) -> list[str]:
    """Make zones anew that something else wrote over; the tables whose they were.

    They say only what the tables say themselves, so nothing is lost; inside a transaction.
    """
    repaired = [table for table in _LAST if _unsound(con, table)]
    for table in repaired:
        con.execute("DELETE FROM zone WHERE of = ?", (table,))
        con.execute(_ANEW[table], (ZONE_ROWS,))
        con.execute(_SEALED_ANEW.format(table=table), (table, _END))
    return repaired


def _unsound(con: sqlite3.Connection, table: str, from_row: int = 0) -> bool:
    found = con.execute(
        f"SELECT 1 FROM zone WHERE of = ?1 AND {_FROM_ROW}"
        " AND (last < first OR to_us < from_us"
        " OR typeof(first) <> 'integer' OR typeof(last) <> 'integer'"
        " OR typeof(from_us) <> 'integer' OR typeof(to_us) <> 'integer') LIMIT 1",
        (table, from_row),
    )
    return found.fetchone() is not None


def _closed(con: sqlite3.Connection, table: str) -> int:
    row = con.execute(
        "SELECT last FROM zone WHERE of = ? ORDER BY first DESC LIMIT 1", (table,)
    ).fetchone()
    return int(row[0]) if row else 0
