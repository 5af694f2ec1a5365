"""Where in a table that lies in order of arrival the rows of a time are.

Each closed zone of ZONE_ROWS rows or more has its earliest and latest stamp in `zone`; what came
after the last zone is always looked through. This holds for stamps in any order: a manual reading
of half an hour ago, or a board that woke up in the past, only makes a zone wider. Old zones are
joined and sealed: their rows are then in chunks (see `sealing`).
"""

import sqlite3
from typing import NamedTuple

ZONE_ROWS = 4096  # at 16 readings a second, some four minutes

END = 2**63 - 1
_LAST = {
    "reading": "SELECT max(id) FROM reading",
    "estimate": "SELECT max(id) FROM estimate",
}
_CLOSE = {
    "reading": "INSERT INTO zone (of, first, last, from_us, to_us)"
    " SELECT 'reading', min(id), max(id), min(at_us), max(at_us) FROM reading WHERE id > ?",
    "estimate": "INSERT INTO zone (of, first, last, from_us, to_us)"
    " SELECT 'estimate', min(id), max(id), min(at_us), max(at_us) FROM estimate WHERE id > ?",
}


class Stretch(NamedTuple):
    """Rows from `first` to `last`, all of them sealed or none."""

    first: int
    last: int
    sealed: bool = False


def last_id(con: sqlite3.Connection, table: str) -> int:
    """The newest row of `table`, sealed or not; 0 when it is empty."""
    (row,) = con.execute(_LAST[table]).fetchone()
    return max(int(row or 0), _closed(con, table))


def close(con: sqlite3.Connection, table: str) -> None:
    """Close a zone when enough rows have come; inside the transaction that wrote them."""
    end = _closed(con, table)
    if last_id(con, table) - end >= ZONE_ROWS:
        con.execute(_CLOSE[table], (end,))


def spans(con: sqlite3.Connection, table: str, from_us: int, to_us: int) -> list[Stretch]:
    """Ranges of row ids, in order, that hold every row with from_us <= at_us < to_us."""
    end = _closed(con, table)  # asked once: the writer may close another zone meanwhile
    zones = con.execute(
        "SELECT first, last, sealed FROM zone"
        " WHERE of = ? AND to_us >= ? AND from_us < ? AND last <= ? ORDER BY first",
        (table, from_us, to_us, end),
    )
    joined: list[Stretch] = []
    for first, last, sealed in (*zones, (end + 1, END, None)):
        before = joined[-1] if joined else None
        if before and sealed is None and not before.sealed and before.last + 1 == first:
            joined[-1] = Stretch(before.first, last)
        else:
            joined.append(Stretch(first, last, sealed is not None))
    return joined


def _closed(con: sqlite3.Connection, table: str) -> int:
    row = con.execute(
        "SELECT last FROM zone WHERE of = ? ORDER BY first DESC LIMIT 1", (table,)
    ).fetchone()
    return int(row[0]) if row else 0
