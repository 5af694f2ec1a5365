"""Rows by their number: whatever the order of their stamps, they come as they were committed."""

import sqlite3
from collections.abc import Iterable
from typing import Any

from logger.pipeline import Event
from logger.quantities import Estimate, Reading
from logger.store import sealed
from logger.store.damage import Damage
from logger.store.rows import EVER_US, OF_ROW
from logger.store.schema import one_moment

Numbered = tuple[int, Event | Estimate | Reading]

_BEYOND = {
    "event": "SELECT seq, kind, body FROM event WHERE seq > ? AND seq < ? ORDER BY seq LIMIT ?",
    "estimate": "SELECT estimate.id, name, at_us, value, standard_uncertainty, repeatability, used,"
    " rejected, quality FROM estimate CROSS JOIN channel ON channel.id = estimate.channel"
    " WHERE estimate.id > ? AND estimate.id < ? ORDER BY estimate.id LIMIT ?",
    "reading": "SELECT reading.id, name, value, at_us FROM reading"
    " CROSS JOIN channel ON channel.id = reading.channel"
    " WHERE reading.id > ? AND reading.id < ? ORDER BY reading.id LIMIT ?",
}

_SEALED = (  # the first sealed zone that ends after a row; zones lie one after the other
    "SELECT first, last FROM zone WHERE of = ?1 AND sealed IS NOT NULL AND last > ?2 AND first >="
    " coalesce((SELECT max(first) FROM zone WHERE of = ?1 AND first <= ?2), 0) ORDER BY first"
    " LIMIT 1"
)
_NONE = (2**63 - 1, 0)  # beyond every row


class NumberedRows:
    """Reads the rows that follow a number; what is damaged is noted and left out."""

    def __init__(self, damage: Damage) -> None:
        self._damage = damage
        self._zone: tuple[str, int] | None = None  # the sealed one that was read last
        self._of_zone: list[Numbered] = []

    def beyond(
        self, con: sqlite3.Connection, table: str, row: int, limit: int
    ) -> tuple[list[Numbered], int]:
        """At most `limit` of the rows after `row`, and the last number that was looked at.

        That is `row` itself where none follows.
        """
        with one_moment(con):  # else rows could be sealed between looking for them and reading
            first, last = con.execute(_SEALED, (table, row)).fetchone() or _NONE
            found = con.execute(_BEYOND[table], (row, first, limit)).fetchall()
            if found or first > last:
                return self._values(table, found), found[-1][0] if found else row
            sealed_rows = [one for one in self._sealed(con, (table, first)) if one[0] > row]
        taken = sealed_rows[:limit]
        return taken, last if len(taken) == len(sealed_rows) else taken[-1][0]

    def one(self, con: sqlite3.Connection, table: str, row: int) -> list[Numbered]:
        """The row of this number, if there is one."""
        found, _ = self.beyond(con, table, row - 1, 1)
        return [one for one in found if one[0] == row]

    def _sealed(self, con: sqlite3.Connection, zone: tuple[str, int]) -> list[Numbered]:
        """All of a sealed zone, which takes several batches and does not change."""
        if zone != self._zone:
            found = sealed.rows(con, self._damage, zone, channel=None, ends=(0, EVER_US))
            self._zone, self._of_zone = zone, self._values(zone[0], found)
        return self._of_zone

    def _values(self, table: str, found: Iterable[tuple[Any, ...]]) -> list[Numbered]:
        read = OF_ROW[table]
        twice = ((columns[0], *columns) for columns in found)
        return list(
            self._damage.each(table, twice, lambda row, *rest: (row, read(*rest)), f"one {table}")
        )
