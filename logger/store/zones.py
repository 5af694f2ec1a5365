"""Where in a table that lies in order of arrival the rows of a time are.

Each closed zone of ZONE_ROWS rows or more has its earliest and latest stamp in `zone`; what came
after the last zone is always looked through. This holds for stamps in any order: a manual reading
of half an hour ago, or a board that woke up in the past, only makes a zone wider.
"""

import sqlite3

ZONE_ROWS = 4096  # at 16 readings a second, some four minutes

_END = 2**63 - 1
_LAST = {
    "reading": "SELECT coalesce(max(id), 0) FROM reading",
    "estimate": "SELECT coalesce(max(id), 0) FROM estimate",
}
_CLOSE = {
    "reading": "INSERT INTO zone SELECT 'reading', min(id), max(id), min(at_us), max(at_us)"
    " FROM reading WHERE id > ?",
    "estimate": "INSERT INTO zone SELECT 'estimate', min(id), max(id), min(at_us), max(at_us)"
    " FROM estimate WHERE id > ?",
}

_ANEW = {  # whole zones only: what came after is looked through
    "reading": "INSERT INTO zone SELECT 'reading', min(id), max(id), min(at_us), max(at_us)"
    " FROM reading GROUP BY id / ?1 HAVING max(id) < (SELECT max(id) / ?1 * ?1 FROM reading)",
    "estimate": "INSERT INTO zone SELECT 'estimate', min(id), max(id), min(at_us), max(at_us)"
    " FROM estimate GROUP BY id / ?1 HAVING max(id) < (SELECT max(id) / ?1 * ?1 FROM estimate)",
}


def last_id(con: sqlite3.Connection, table: str) -> int:
    """The newest row of `table`, 0 when it is empty."""
    (row,) = con.execute(_LAST[table]).fetchone()
    return int(row)


def close(con: sqlite3.Connection, table: str) -> None:
    """Close a zone when enough rows have come; inside the transaction that wrote them."""
    end = _closed(con, table)
    if last_id(con, table) - end >= ZONE_ROWS:
        con.execute(_CLOSE[table], (end,))


def spans(con: sqlite3.Connection, table: str, from_us: int, to_us: int) -> list[tuple[int, int]]:
    """Ranges of row ids, in order, that hold every row with from_us <= at_us < to_us."""
    if _unsound(con, table):  # until a start has mended it
        return [(1, _END)]
    end = _closed(con, table)  # asked once: the writer may close another zone meanwhile
    zones = con.execute(
        "SELECT first, last FROM zone WHERE of = ? AND to_us >= ? AND from_us < ? AND last <= ?"
        " ORDER BY first",
        (table, from_us, to_us, end),
    )
    joined: list[tuple[int, int]] = []
    for first, last in (*zones, (end + 1, _END)):
        if joined and joined[-1][1] + 1 == first:
            joined[-1] = (joined[-1][0], last)
        else:
            joined.append((first, last))
    return joined


def mend(con: sqlite3.Connection) -> list[str]:
    """Make zones anew that something else wrote over; the tables whose they were.

    They say only what the tables say themselves, so nothing is lost; inside a transaction.
    """
    mended = [table for table in _LAST if _unsound(con, table)]
    for table in mended:
        con.execute("DELETE FROM zone WHERE of = ?", (table,))
        con.execute(_ANEW[table], (ZONE_ROWS,))
    return mended


def _unsound(con: sqlite3.Connection, table: str) -> bool:
    found = con.execute(
        "SELECT 1 FROM zone WHERE of = ? AND (last < first OR to_us < from_us"
        " OR typeof(first) <> 'integer' OR typeof(last) <> 'integer'"
        " OR typeof(from_us) <> 'integer' OR typeof(to_us) <> 'integer') LIMIT 1",
        (table,),
    )
    return found.fetchone() is not None


def _closed(con: sqlite3.Connection, table: str) -> int:
    row = con.execute(
        "SELECT last FROM zone WHERE of = ? ORDER BY first DESC LIMIT 1", (table,)
    ).fetchone()
    return int(row[0]) if row else 0
