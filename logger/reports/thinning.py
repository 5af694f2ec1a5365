"""Thousands of estimates into what a drawing can show, without losing a peak or bridging a gap."""

import math
from collections.abc import Iterable, Iterator, Sequence
from dataclasses import dataclass
from itertools import groupby

from logger.burn.evidence import Gap
from logger.quantities import Estimate, Quality


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
    estimates: Iterable[Estimate], gaps: Sequence[Gap], *, from_s: float, to_s: float
) -> Iterator[tuple[Estimate, ...]]:
    """The good estimates in [from_s, to_s], cut where a gap lies; inside one there is nothing.

    Both are in order of time. An estimate at a gap's very start or end is outside of it.
    """
    stretch: list[Estimate] = []
    ahead = iter(gaps)
    gap = next(ahead, None)
    for estimate in estimates:
        at_s = estimate.at_s
        if not from_s <= at_s <= to_s:
            continue
        while gap is not None and at_s >= gap.to_s:
            gap = next(ahead, None)
            if stretch:
                yield tuple(stretch)
                stretch = []
        inside = gap is not None and gap.from_s < at_s
        if estimate.quality is Quality.GOOD and estimate.value is not None and not inside:
            stretch.append(estimate)
    if stretch:
        yield tuple(stretch)


def columns(stretch: Iterable[Estimate], *, from_s: float, column_s: float) -> Iterator[Column]:
    """One for each `column_s` counted from `from_s` that holds an estimate; no peak is dropped."""
    for _, found in groupby(stretch, key=lambda e: (e.at_s - from_s) // column_s):
        here = [(e.at_s, e.value, e.expanded or 0.0) for e in found if e.value is not None]
        if not here:
            continue
        values = [value for _, value, _ in here]
        yield Column(
            at_s=(here[0][0] + here[-1][0]) / 2.0,
            mean=math.fsum(values) / len(values),
            lowest=min(values),
            highest=max(values),
            lower=min(value - expanded for _, value, expanded in here),
            upper=max(value + expanded for _, value, expanded in here),
        )
