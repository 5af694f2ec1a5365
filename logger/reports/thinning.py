"""Thousands of estimates into what a drawing can show, without losing a peak or bridging a gap."""

from collections.abc import Iterator
from dataclasses import dataclass
from itertools import groupby
from operator import itemgetter

from logger.reports.place_line import PlaceLine


@dataclass(frozen=True, slots=True, kw_only=True)
class Column:
    """The estimates that fall into one column of the drawing."""

    at_s: float  # their middle
    mean: float
    lowest: float
    highest: float
    lower: float  # least of value minus expanded uncertainty (k = 2)
    upper: float  # greatest of value plus expanded uncertainty


def stretches(
    line: PlaceLine, *, from_s: float, to_s: float, column_s: float
) -> Iterator[list[Column]]:
    """The good estimates in [from_s, to_s] in columns of `column_s` from `from_s`; no peak is lost.

    They are cut where a gap lies, and inside one there is nothing. An estimate at a gap's very
    start or end is outside of it.
    """
    import numpy as np

    shown = line.on_line(from_s, to_s)
    at_s, value, expanded = (
        line.at_s[shown],
        line.value[shown],
        line.expanded[shown],
    )
    if not len(at_s):
        return
    gap = line.gap_number()[shown]
    place = (at_s - from_s) // column_s
    ends = np.flatnonzero((np.diff(gap) != 0) | (np.diff(place) != 0)) + 1
    starts = np.concatenate(([0], ends))
    lasts = np.concatenate((ends, [len(at_s)])) - 1
    figures = zip(
        gap[starts].tolist(),
        ((at_s[starts] + at_s[lasts]) / 2.0).tolist(),
        (np.add.reduceat(value, starts) / (lasts - starts + 1)).tolist(),
        np.minimum.reduceat(value, starts).tolist(),
        np.maximum.reduceat(value, starts).tolist(),
        np.minimum.reduceat(value - expanded, starts).tolist(),
        np.maximum.reduceat(value + expanded, starts).tolist(),
        strict=True,
    )
    for _, of_stretch in groupby(figures, itemgetter(0)):
        yield [
            Column(
                at_s=middle_s, mean=mean, lowest=lowest, highest=highest, lower=lower, upper=upper
            )
            for _, middle_s, mean, lowest, highest, lower, upper in of_stretch
        ]
