"""Rows by their number: whatever the order of their stamps, they come as they were committed."""

import sqlite3
from collections.abc import Iterable
from typing import Any

from logger.pipeline import Event
from logger.quantities import Estimate, Reading
from logger.store.damage import Damage
from logger.store.rows import OF_ROW

Numbered = tuple[int, Event | Estimate | Reading]

_BEYOND = {
    "event": "SELECT seq, kind, body FROM event WHERE seq > ? ORDER BY seq LIMIT ?",
    "estimate": "SELECT estimate.id, name, at_us, value, standard_uncertainty, repeatability, used,"
    " rejected, quality FROM estimate CROSS JOIN channel ON channel.id = estimate.channel"
    " WHERE estimate.id > ? ORDER BY estimate.id LIMIT ?",
    "reading": "SELECT reading.id, name, value, at_us FROM reading"
    " CROSS JOIN channel ON channel.id = reading.channel"
    " WHERE reading.id > ? ORDER BY reading.id LIMIT ?",
}


class NumberedRows:
    """Reads the rows that follow a number; what is damaged is noted and left out."""

    def __init__(self, damage: Damage) -> None:
        self._damage = damage

    def beyond(
        self, con: sqlite3.Connection, table: str, row: int, limit: int
    ) -> tuple[list[Numbered], int]:
        """At most `limit` of the rows after `row`, and the last number that was looked at.

        That is `row` itself where none follows.
        """
        found = con.execute(_BEYOND[table], (row, limit)).fetchall()
        return self._values(table, found), found[-1][0] if found else row

    def one(self, con: sqlite3.Connection, table: str, row: int) -> list[Numbered]:
        """The row of this number, if there is one."""
        found, _ = self.beyond(con, table, row - 1, 1)
        return [one for one in found if one[0] == row]

    def _values(self, table: str, found: Iterable[tuple[Any, ...]]) -> list[Numbered]:
        read = OF_ROW[table]
        twice = ((columns[0], *columns) for columns in found)
        return list(
            self._damage.each(table, twice, lambda row, *rest: (row, read(*rest)), f"one {table}")
        )
