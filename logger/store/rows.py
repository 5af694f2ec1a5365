"""Rows, sealed or not, as readings and estimates; for the writer's own memory and all readers."""

import json
import math
import sqlite3
from collections.abc import Callable, Iterable, Iterator
from functools import partial
from typing import Any, NamedTuple, get_args

from logger.burn.entries import Calibrated, Change, Entry, ManualReading
from logger.burn.ledger import CHANGEABLE, Ledger
from logger.burn.model import Burn
from logger.quantities import Estimate, Quality, Reading
from logger.store import sealed, zones
from logger.store.codec import load, load_entry, micros, seconds
from logger.store.damage import Damage
from logger.store.schema import one_moment

EVER_US = 2**62  # later than any stamp
_QUALITIES = {one.value: one for one in Quality}  # half the time of `Quality(text)`


class _Query(NamedTuple):
    table: str
    sql: str


# CROSS JOIN: SQLite then keeps this order of the loops, so that rows come in order of arrival
_READINGS = _Query(
    "reading",
    "SELECT reading.id, name, value, at_us FROM reading"
    " CROSS JOIN channel ON channel.id = reading.channel"
    " WHERE reading.id BETWEEN ? AND ? AND at_us >= ? AND at_us < ? AND name = coalesce(?, name)"
    " ORDER BY reading.id",
)
_ESTIMATES = _Query(
    "estimate",
    "SELECT estimate.id, name, at_us, value, standard_uncertainty, repeatability, used, rejected,"
    " quality FROM estimate CROSS JOIN channel ON channel.id = estimate.channel"
    " WHERE estimate.id BETWEEN ? AND ? AND at_us >= ? AND at_us < ? AND name = coalesce(?, name)"
    " ORDER BY estimate.id",
)
_QUERIES = {query.table: query for query in (_READINGS, _ESTIMATES)}


def readings(
    con: sqlite3.Connection, damage: Damage, channel: str | None, from_s: float, to_s: float | None
) -> Iterator[Reading]:
    """Readings with from_s <= at_s < to_s in order of arrival; None stands for all, for ever."""
    found = _within(con, damage, _READINGS, channel=channel, from_s=from_s, to_s=to_s)
    yield from damage.each("reading", found, _reading, "one reading")


Assumed = Callable[[float], bool]
"""Whether the accuracy of an estimate of that time is assumed: no column says so."""


def stated(at_s: float) -> bool:
    """For a reader that does not ask."""
    del at_s
    return False


def estimates(
    con: sqlite3.Connection,
    damage: Damage,
    channel: str | None,
    from_s: float,
    to_s: float | None,
    *,
    assumed: Assumed,
) -> Iterator[Estimate]:
    """Estimates with from_s <= at_s < to_s in order of arrival; None stands for all, for ever."""
    found = _within(con, damage, _ESTIMATES, channel=channel, from_s=from_s, to_s=to_s)
    yield from damage.each("estimate", found, partial(_estimate, assumed), "one estimate")


def spaced_estimates(
    con: sqlite3.Connection, damage: Damage, from_s: float, spacing_s: float
) -> Iterator[Estimate]:
    """Estimates of all channels from `from_s` on, those of one at least `spacing_s` apart."""
    found = _spaced(_within(con, damage, _ESTIMATES, from_s=from_s), micros(spacing_s))
    yield from damage.each("estimate", found, partial(_estimate, stated), "one estimate")


def _spaced(found: Iterator[Any], spacing_us: int) -> Iterator[Any]:
    last_us: dict[str, int] = {}
    for row in found:
        _, name, at_us, *_ = row
        if at_us - last_us.get(name, -spacing_us) >= spacing_us:  # most are not even made
            last_us[name] = at_us
            yield row


COUNTS = "NOT coalesce(CASE WHEN json_valid(body) THEN body ->> 'withdrawn' END, 0)"
"""Of a burn: that its lighting was not withdrawn."""

_CHANGES = "('Moved', 'Corrected', 'Withdrawn')"
_KINDS = "(" + ", ".join(f"'{kind.__name__}'" for kind in (*CHANGEABLE, *get_args(Change))) + ")"
_LOST = "what a person entered: a reading by hand, or what was done at the candle"
_LEDGER = (
    f"SELECT seq, kind, body, burn FROM entry WHERE kind IN {_CHANGES} OR burn = ?1"
    " OR kind = 'ManualReading' AND (at_us >= ?2 AND at_us < ?3 OR id IN"
    " (SELECT CASE WHEN json_valid(body) THEN coalesce(body ->> 'entry', body ->> 'reading') END"
    f" FROM entry WHERE kind IN {_CHANGES})) ORDER BY seq"
)


def ledger(con: sqlite3.Connection, damage: Damage, burn: Burn) -> Ledger:
    """What was entered at `burn` or is of it, as it was and as it counts."""
    span = _span_us(con, burn)
    found = con.execute(_LEDGER, (burn.id, *span))
    entered = Ledger(damage.each("entry", found, _entry, _LOST))
    return entered.only(lambda line: line.burn == burn.id or _belongs(line.now, burn, span))


def by_hand(con: sqlite3.Connection, damage: Damage, burn: Burn) -> Iterator[ManualReading]:
    """Readings that belong to `burn`, as they count, those moved there included."""
    span = _span_us(con, burn)
    for one in ledger(con, damage, burn).readings:
        if _belongs(one, burn, span):
            yield one


def _belongs(entry: Entry | None, burn: Burn, span_us: tuple[int, int]) -> bool:
    """Whether it is a reading of the burn's jar in the burn's time."""
    if not isinstance(entry, ManualReading) or entry.station != burn.station:
        return False
    return span_us[0] <= micros(entry.at_s) < span_us[1]


def _span_us(con: sqlite3.Connection, burn: Burn) -> tuple[int, int]:
    """From its lighting to the next of its station."""
    (found,) = con.execute(
        f"SELECT min(lit_us) FROM burn WHERE station = ? AND lit_us > ? AND {COUNTS}",
        (burn.station, micros(burn.lit_s)),
    ).fetchone()
    return micros(burn.lit_s), EVER_US if found is None else int(found)


def entries_since(
    con: sqlite3.Connection, damage: Damage, from_s: float, burns: Iterable[Burn]
) -> Iterator[tuple[Entry, str | None]]:
    """What was entered since then or at these `burns`, each with the burn it was entered at."""
    found = con.execute(
        f"SELECT seq, kind, body, burn FROM entry WHERE kind IN {_KINDS}"
        " AND (entered_us >= ? OR burn IN (SELECT value FROM json_each(?))) ORDER BY seq",
        (micros(from_s), json.dumps([burn.id for burn in burns])),
    )
    yield from damage.each("entry", found, _entry, _LOST)


def calibrations(con: sqlite3.Connection, damage: Damage) -> Iterator[Calibrated]:
    """All calibrations, in the order of their entry."""
    found = con.execute(
        "SELECT seq, body FROM calibration CROSS JOIN entry ON entry.seq = calibration.entry"
        " ORDER BY calibration.entry"
    )
    yield from damage.each(
        "entry", found, lambda body: load(Calibrated, body), "a calibration of a channel"
    )


def _entry(kind: str, body: str, burn: str | None) -> tuple[Entry, str | None]:
    return load_entry(kind, body), burn


def _reading(name: str, value: float, at_us: int) -> Reading:
    return Reading(channel=name, value=value, at_s=seconds(at_us))


def _estimate(assumed: Assumed, *columns: Any) -> Estimate:
    name, at_us, value, standard_uncertainty, repeatability, used, rejected, quality = columns
    number((value or 0.0) + (standard_uncertainty or 0.0) + (repeatability or 0.0))
    at_s = seconds(at_us)
    return Estimate(
        channel=name,
        at_s=at_s,
        value=value,
        standard_uncertainty=standard_uncertainty,
        repeatability=repeatability,
        used=int(used),
        rejected=int(rejected),
        quality=_QUALITIES[quality],
        accuracy_assumed=assumed(at_s),
    )


def number(value: float | None) -> float | None:
    """As stored; SQLite keeps whatever a damaged or edited row holds."""
    if value is not None and not math.isfinite(value):
        raise ValueError(f"{value} is not a finite number")
    return value


def last_reading_us(con: sqlite3.Connection, after_id: int) -> int | None:
    """Stamp of the newest reading beyond `after_id`."""
    row = con.execute(
        "SELECT at_us FROM reading WHERE id > ? ORDER BY id DESC LIMIT 1", (after_id,)
    ).fetchone()
    return None if row is None else int(row[0])


def latest_us(con: sqlite3.Connection) -> int:
    """The latest bench time that anything was stored at; 0 where nothing was."""
    (found,) = con.execute(
        "SELECT max(at_us) FROM (SELECT max(last_seen_us, coalesce(ended_us, 0)) AS at_us FROM run"
        " UNION ALL SELECT * FROM (SELECT at_us FROM reading ORDER BY id DESC LIMIT 1)"
        " UNION ALL SELECT * FROM (SELECT at_us FROM estimate ORDER BY id DESC LIMIT 1)"
        " UNION ALL SELECT * FROM (SELECT entered_us FROM entry ORDER BY seq DESC LIMIT 1)"
        " UNION ALL SELECT * FROM (SELECT time_us FROM event ORDER BY seq DESC LIMIT 1))"
        " WHERE typeof(at_us) = 'integer'"
    ).fetchone()
    return found or 0


def numbered(
    con: sqlite3.Connection, damage: Damage, table: str, first: int, last: int = EVER_US
) -> Iterator[tuple[int, Reading | Estimate]]:
    """Rows `first` to `last` of a table with their numbers, sealed or not, in order of arrival."""
    read = _TABLES[table]
    found = ((row[0], *row) for row in _rows_of(con, damage, table, first, last))
    yield from damage.each(table, found, lambda id_, *row: (id_, read(*row)), f"one {table}")


_TABLES: dict[str, Callable[..., Reading | Estimate]] = {
    "reading": _reading,
    "estimate": partial(_estimate, stated),
}


def _rows_of(
    con: sqlite3.Connection, damage: Damage, table: str, first: int, last: int
) -> Iterator[tuple[Any, ...]]:
    ever = (-EVER_US, EVER_US)
    with one_moment(con):
        for begin, end, is_sealed in zones.spans(con, table, *ever, from_row=first):
            if end < first or begin > last:
                continue
            if is_sealed:
                of_zone = sealed.rows(con, damage, (table, begin), channel=None, ends=ever)
                yield from (row for row in of_zone if first <= row[0] <= last)
            else:
                numbers = (max(first, begin), min(last, end))
                yield from con.execute(_QUERIES[table].sql, (*numbers, *ever, None))


def _within(
    con: sqlite3.Connection,
    damage: Damage,
    query: _Query,
    *,
    channel: str | None = None,
    from_s: float,
    to_s: float | None = None,
) -> Iterator[Any]:
    ends = (micros(from_s), EVER_US if to_s is None else micros(to_s))
    with one_moment(con):  # else a zone could be sealed between asking for it and reading it
        for first, last, is_sealed in zones.spans(con, query.table, *ends):
            if is_sealed:
                zone = (query.table, first)
                yield from sealed.rows(con, damage, zone, channel=channel, ends=ends)
            else:
                yield from con.execute(query.sql, (first, last, *ends, channel))
