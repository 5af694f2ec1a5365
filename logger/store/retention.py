"""Discarding old readings and estimates that belong to no burn, where the bench asks for it.

A step looks at one closed zone of rows, so that a commit of the watch never waits long. What a
person entered or imported is never touched, nor the newest zone: numbers of rows go on from there.
SQLite fills the room that becomes free before the file grows again; it does not shrink.
"""

import sqlite3
from collections.abc import Iterable
from typing import NamedTuple

from logger.burn.model import Burn
from logger.burn.span import joined, span_of
from logger.errors import StoreError
from logger.store.codec import load, micros
from logger.store.damage import Damage
from logger.store.rows import EVER_US
from logger.store.schema import transaction

Span = tuple[int, int]  # microseconds: from <= t < to


class Zone(NamedTuple):
    """A closed run of rows of one table, and the time they are of."""

    of: str  # "reading" or "estimate"
    first: int
    last: int
    from_us: int
    to_us: int


def due(
    con: sqlite3.Connection, before_s: float, cool_down_s: float
) -> list[tuple[Zone, list[Span]]]:
    """Zones with rows to discard that are older than `before_s`, each with the times to discard.

    Raises StoreError where a burn cannot be read: then nobody knows what belongs to it.
    """
    kept = _kept(con, cool_down_s)
    zones = con.execute(
        "SELECT of, first, last, from_us, to_us FROM zone AS z WHERE from_us < ?"
        " AND first < (SELECT max(first) FROM zone WHERE of = z.of) ORDER BY from_us",
        (micros(before_s),),
    )
    found = []
    for zone in map(Zone._make, zones):
        free = list(_outside(kept, zone.from_us, min(zone.to_us + 1, micros(before_s))))
        if free:
            found.append((zone, free))
    return found


def discard(con: sqlite3.Connection, zone: Zone, free: Iterable[Span]) -> int:
    """Delete the rows of `zone` that are of the times `free`; how many they were."""
    count = 0
    where = "id BETWEEN ? AND ? AND at_us >= ? AND at_us < ?"
    if zone.of == "reading":
        where += " AND NOT EXISTS (SELECT 1 FROM imported WHERE reading.id BETWEEN first AND last)"
    with transaction(con):
        for from_us, to_us in free:
            values = (zone.first, zone.last, from_us, to_us)
            count += con.execute(f"DELETE FROM {zone.of} WHERE {where}", values).rowcount  # noqa: S608
        if count:
            _fit(con, zone)
    return count


def _fit(con: sqlite3.Connection, zone: Zone) -> None:
    """What is left of a zone is of a shorter time; of one that is empty nothing is left."""
    rest = f"FROM {zone.of} WHERE id BETWEEN ? AND ?"
    from_us, to_us = con.execute(
        f"SELECT min(at_us), max(at_us) {rest}",
        (zone.first, zone.last),
    ).fetchone()
    if from_us is None:
        con.execute("DELETE FROM zone WHERE of = ? AND first = ?", (zone.of, zone.first))
        return
    con.execute(
        "UPDATE zone SET from_us = ?, to_us = ? WHERE of = ? AND first = ?",
        (from_us, to_us, zone.of, zone.first),
    )


def _kept(con: sqlite3.Connection, cool_down_s: float) -> list[Span]:
    """The times of all burns, withdrawn ones too."""
    damage = Damage()
    rows = con.execute("SELECT id, body FROM burn")
    burns = list(damage.each("burn", rows, lambda body: load(Burn, body), "this burn"))
    if damage.lines:
        raise StoreError(f"{damage}; no old readings are discarded")
    spans = joined([span_of(burn, cool_down_s) for burn in burns])
    return [(micros(a), EVER_US if b is None else micros(b)) for a, b in spans]


def _outside(kept: list[Span], from_us: int, to_us: int) -> Iterable[Span]:
    """The parts of a time that lie in none of `kept`, which are in order."""
    for begin, end in kept:
        if end <= from_us:
            continue
        if begin >= to_us:
            break
        if begin > from_us:
            yield from_us, begin
        from_us = end
    if from_us < to_us:
        yield from_us, to_us
