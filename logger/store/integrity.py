"""Whether a database is whole: its pages, its references, how many rows each table has."""

import sqlite3
from collections.abc import Mapping

_MOST_FAULTS = 10  # that are told: more say nothing new


def faults(con: sqlite3.Connection) -> list[str]:
    """What is wrong with the pages, indexes and references, in SQLite's words; none where sound.

    Every page is read: some seconds a gigabyte.
    """
    found = con.execute(f"PRAGMA integrity_check({_MOST_FAULTS})").fetchall()
    said = [line for (text,) in found for line in str(text).splitlines()]
    said = [line for line in said if line != "ok" and not line.startswith("***")]
    loose = con.execute("SELECT * FROM pragma_foreign_key_check LIMIT ?", (_MOST_FAULTS,))
    said += [
        f"table {table}, row {row} names what is not in table {of}" for table, row, of, _ in loose
    ]
    return said[:_MOST_FAULTS]


def counts(con: sqlite3.Connection) -> Mapping[str, int]:
    """How many rows each table has, by its name."""
    found = con.execute("SELECT name FROM sqlite_schema WHERE type = 'table' ORDER BY name")
    tables = [str(name) for (name,) in found]
    return {name: con.execute(f'SELECT count(*) FROM "{name}"').fetchone()[0] for name in tables}
