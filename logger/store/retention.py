"""Discarding old readings and estimates that belong to no burn, where the bench asks for it.

Only whole zones go, a zone a step, so that no commit of the watch waits long: what lies beside a
burn in one zone is kept with it. What a person entered or imported is never touched, nor the newest
zone, as numbers of rows go on from there. SQLite fills the room that becomes free before the file
grows again; it does not shrink.
"""

import sqlite3
from typing import NamedTuple

from logger.burn.model import Burn
from logger.burn.span import joined, span_of
from logger.errors import StoreError
from logger.store import sealing
from logger.store.codec import load, seconds
from logger.store.damage import Damage


class OldZone(NamedTuple):
    """A closed run of rows of one table, sealed or not."""

    of: str  # "reading" or "estimate"
    first: int
    last: int


def due(con: sqlite3.Connection, before_s: float, cool_down_s: float) -> list[OldZone]:
    """Zones wholly of before `before_s` and of no burn's time, the oldest first.

    Raises StoreError where a burn cannot be read: then nobody knows what belongs to it.
    """
    kept = _kept(con, cool_down_s)
    zones = con.execute(
        "SELECT of, first, last, from_us, to_us FROM zone AS z"
        " WHERE first < (SELECT max(first) FROM zone WHERE of = z.of)"
        " AND NOT (of = 'reading' AND EXISTS"
        " (SELECT 1 FROM imported AS i WHERE i.first <= z.last AND i.last >= z.first))"
        " ORDER BY from_us"
    )
    return [
        OldZone(of, first, last)
        for of, first, last, from_us, to_us in zones
        if seconds(to_us) < before_s
        and not any(
            begin_s <= seconds(to_us) and (end_s is None or seconds(from_us) < end_s)
            for begin_s, end_s in kept
        )
    ]


def discard(con: sqlite3.Connection, zone: OldZone) -> int:
    """Delete `zone` and its rows, unless it changed meanwhile; how many rows they were.

    Inside a transaction.
    """
    there = "SELECT 1 FROM zone WHERE of = ? AND first = ? AND last = ?"
    if con.execute(there, zone).fetchone() is None:
        return 0
    count = sealing.discard(con, zone.of, zone.first)
    table = "reading" if zone.of == "reading" else "estimate"
    rows = f"DELETE FROM {table} WHERE id BETWEEN ? AND ?"
    count += con.execute(rows, (zone.first, zone.last)).rowcount
    con.execute("DELETE FROM zone WHERE of = ? AND first = ?", (zone.of, zone.first))
    return count


def _kept(con: sqlite3.Connection, cool_down_s: float) -> list[tuple[float, float | None]]:
    """The times of all burns, withdrawn ones too."""
    damage = Damage()
    rows = con.execute("SELECT id, body FROM burn")
    burns = list(damage.each("burn", rows, lambda body: load(Burn, body), "this burn"))
    if damage.lines:
        raise StoreError(f"{damage}; no old readings are discarded")
    return joined([span_of(burn, cool_down_s) for burn in burns])
