"""Rows back into readings and estimates; for the writer's own memory and for all readers."""

import sqlite3
from collections.abc import Iterator
from typing import Any, NamedTuple

from logger.burn.by_hand import ReadingsByHand
from logger.burn.entries import Calibrated, ManualReading, Moved
from logger.quantities import Estimate, Quality, Reading
from logger.store import zones
from logger.store.codec import load, micros, seconds

EVER_US = 2**62  # later than any stamp


class _Query(NamedTuple):
    table: str
    sql: str


# CROSS JOIN: SQLite then keeps this order of the loops, so that rows come in order of arrival
_READINGS = _Query(
    "reading",
    "SELECT name, value, at_us FROM reading CROSS JOIN channel ON channel.id = reading.channel"
    " WHERE reading.id BETWEEN ? AND ? AND at_us >= ? AND at_us < ? AND name = coalesce(?, name)"
    " ORDER BY reading.id",
)
_ESTIMATES = _Query(
    "estimate",
    "SELECT name, at_us, value, standard_uncertainty, repeatability, used, rejected, quality"
    " FROM estimate CROSS JOIN channel ON channel.id = estimate.channel"
    " WHERE estimate.id BETWEEN ? AND ? AND at_us >= ? AND at_us < ? AND name = coalesce(?, name)"
    " ORDER BY estimate.id",
)
_BELIEVED = _Query(
    "estimate",
    "SELECT at_us, value FROM estimate CROSS JOIN channel ON channel.id = estimate.channel"
    " WHERE estimate.id BETWEEN ? AND ? AND at_us >= ? AND at_us < ? AND name = ?"
    " AND quality <> 'lost' AND value IS NOT NULL ORDER BY estimate.id",
)


def readings(
    con: sqlite3.Connection, channel: str | None, from_s: float, to_s: float | None
) -> Iterator[Reading]:
    """Readings with from_s <= at_s < to_s in order of arrival; None stands for all, for ever."""
    for name, value, at_us in _within(con, _READINGS, channel, from_s, to_s):
        yield Reading(channel=name, value=value, at_s=seconds(at_us))


def estimates(
    con: sqlite3.Connection, channel: str | None, from_s: float, to_s: float | None
) -> Iterator[Estimate]:
    """Estimates with from_s <= at_s < to_s in order of arrival; None stands for all, for ever."""
    for row in _within(con, _ESTIMATES, channel, from_s, to_s):
        yield _estimate(row)


def spaced_estimates(
    con: sqlite3.Connection, from_s: float, spacing_s: float
) -> Iterator[Estimate]:
    """Estimates of all channels from `from_s` on, those of one at least `spacing_s` apart."""
    last_us: dict[str, int] = {}
    spacing_us = micros(spacing_s)
    for row in _within(con, _ESTIMATES, None, from_s, None):
        name, at_us = row[:2]
        if at_us - last_us.get(name, -spacing_us) >= spacing_us:  # most are not even made
            last_us[name] = at_us
            yield _estimate(row)


def _estimate(row: Any) -> Estimate:
    name, at_us, value, standard_uncertainty, repeatability, used, rejected, quality = row
    return Estimate(
        channel=name,
        at_s=seconds(at_us),
        value=value,
        standard_uncertainty=standard_uncertainty,
        repeatability=repeatability,
        used=used,
        rejected=rejected,
        quality=Quality(quality),
    )


def believed(
    con: sqlite3.Connection, channel: str, from_s: float, to_s: float
) -> Iterator[tuple[int, float]]:
    """Stamp in microseconds and value of the channel's estimates that are not lost."""
    yield from _within(con, _BELIEVED, channel, from_s, to_s)


def by_hand(con: sqlite3.Connection, station: str, lit_us: int) -> Iterator[ManualReading]:
    """Readings that belong to the burn lit then on `station`, those moved there included."""
    (next_us,) = con.execute(
        "SELECT min(lit_us) FROM burn WHERE station = ? AND lit_us > ?", (station, lit_us)
    ).fetchone()
    end_us = EVER_US if next_us is None else next_us
    found = con.execute(
        "SELECT kind, body FROM entry WHERE kind = 'Moved'"
        " OR kind = 'ManualReading' AND at_us >= ? AND at_us < ? ORDER BY seq",
        (lit_us, end_us),
    )
    here = ReadingsByHand(
        load(Moved, body) if kind == "Moved" else load(ManualReading, body) for kind, body in found
    )
    yield from (reading for reading in here.readings if reading.station == station)


def calibrations(con: sqlite3.Connection) -> Iterator[Calibrated]:
    """All calibrations, in the order of their entry."""
    found = con.execute(
        "SELECT body FROM calibration CROSS JOIN entry ON entry.seq = calibration.entry"
        " ORDER BY calibration.entry"
    )
    yield from (load(Calibrated, body) for (body,) in found)


def last_reading_us(con: sqlite3.Connection, after_id: int) -> int | None:
    """Stamp of the newest reading beyond `after_id`."""
    row = con.execute(
        "SELECT at_us FROM reading WHERE id > ? ORDER BY id DESC LIMIT 1", (after_id,)
    ).fetchone()
    return None if row is None else int(row[0])


def latest_us(con: sqlite3.Connection) -> int | None:
    """The latest bench time that anything was stored at."""
    (found,) = con.execute(
        "SELECT max(at_us) FROM (SELECT max(last_seen_us, coalesce(ended_us, 0)) AS at_us FROM run"
        " UNION ALL SELECT * FROM (SELECT at_us FROM reading ORDER BY id DESC LIMIT 1)"
        " UNION ALL SELECT * FROM (SELECT at_us FROM estimate ORDER BY id DESC LIMIT 1)"
        " UNION ALL SELECT * FROM (SELECT entered_us FROM entry ORDER BY seq DESC LIMIT 1)"
        " UNION ALL SELECT * FROM (SELECT time_us FROM event ORDER BY seq DESC LIMIT 1))"
    ).fetchone()
    return None if found is None else int(found)


def _within(
    con: sqlite3.Connection,
    query: _Query,
    channel: str | None,
    from_s: float,
    to_s: float | None,
) -> Iterator[Any]:
    from_us = micros(from_s)
    end_us = EVER_US if to_s is None else micros(to_s)
    for first, last in zones.spans(con, query.table, from_us, end_us):
        yield from con.execute(query.sql, (first, last, from_us, end_us, channel))
