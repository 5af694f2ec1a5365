"""Estimates of a burn as columns: for a drawing, which needs no object for each of them."""

import sqlite3
from collections.abc import Collection, Iterator
from typing import TYPE_CHECKING, Any, NamedTuple

from logger.quantities import Quality
from logger.store import sealed, zones
from logger.store.buckets import Envelope, Spans
from logger.store.codec import micros
from logger.store.damage import Damage
from logger.store.rows import EVER_US, number
from logger.store.schema import one_moment

if TYPE_CHECKING:
    from numpy.typing import NDArray

_LIVE = (
    "SELECT estimate.id, name, at_us, value, standard_uncertainty, quality FROM estimate"
    " CROSS JOIN channel ON channel.id = estimate.channel"
    " WHERE estimate.id BETWEEN ? AND ? AND at_us >= ? AND at_us < ? ORDER BY estimate.id"
)
_QUALITIES = frozenset(Quality)


class EstimateColumns(NamedTuple):
    """Of one channel, in order of arrival; NaN where there is no number."""

    at_s: "NDArray[Any]"
    value: "NDArray[Any]"
    standard_uncertainty: "NDArray[Any]"
    quality: "NDArray[Any]"  # texts of Quality


def estimate_columns(
    con: sqlite3.Connection,
    damage: Damage,
    channels: Collection[str],
    from_s: float,
    to_s: float | None,
) -> dict[str, EstimateColumns]:
    """Of each of the channels with any: estimates with from_s <= at_s < to_s; None: for ever."""
    import numpy as np

    parts: dict[str, list[list[NDArray[Any]]]] = {}
    ends = (micros(from_s), EVER_US if to_s is None else micros(to_s))
    with one_moment(con):
        for first, last, is_sealed in zones.spans(con, "estimate", *ends):
            if is_sealed:
                found = sealed.estimate_columns(con, damage, first, ends)
            else:
                found = _live(con, damage, (first, last, *ends))
            for name, columns in found:
                if name in channels:
                    parts.setdefault(name, []).append(columns)
    made: dict[str, EstimateColumns] = {}
    for name, some in parts.items():
        at_us, *others = (np.concatenate(column) for column in zip(*some, strict=True))
        made[name] = EstimateColumns(at_us / 1e6, *others)
    return made


def envelopes(
    con: sqlite3.Connection, damage: Damage, channels: Collection[str], spans: Spans
) -> dict[str, Envelope]:
    """Lowest and highest of each channel's estimates that are not lost."""
    import numpy as np

    made = {name: Envelope(spans) for name in channels}
    ends = Envelope(spans).ends
    with one_moment(con):
        for name, envelope in made.items():
            sealed.outline(con, damage, name, envelope)
        for first, last, is_sealed in zones.spans(con, "estimate", *ends):
            if is_sealed:
                continue
            for name, columns in _live(con, damage, (first, last, *ends)):
                if name in made:
                    at_us, value, uncertainty, quality = columns
                    believed = ~np.isnan(value) & (quality != Quality.LOST.value)
                    good = quality == Quality.GOOD.value
                    kept = (one[believed] for one in (at_us, value, value, uncertainty, good))
                    made[name].add(*kept)
    return made


def _live(
    con: sqlite3.Connection, damage: Damage, asked: tuple[int, ...]
) -> "Iterator[tuple[str, list[NDArray[Any]]]]":
    """Of each channel, rows that are not sealed."""
    import numpy as np

    of_channels: dict[str, list[tuple[Any, ...]]] = {}
    for name, *row in damage.each("estimate", con.execute(_LIVE, asked), _row, "one estimate"):
        of_channels.setdefault(name, []).append(tuple(row))
    for name, rows in of_channels.items():
        at_us, value, uncertainty, quality = zip(*rows, strict=True)
        numbers = (np.array(column, dtype=np.float64) for column in (value, uncertainty))
        yield name, [np.array(at_us, dtype=np.int64), *numbers, np.array(quality)]


def _row(
    name: str, at_us: int, value: float | None, uncertainty: float | None, quality: str
) -> tuple[str, int, float | None, float | None, str]:
    """As stored. Raises ValueError or TypeError for what is damaged."""
    number((value or 0.0) + (uncertainty or 0.0))
    if quality not in _QUALITIES:
        raise ValueError(f"{quality} is no quality")
    return name, int(at_us), value, uncertainty, quality
