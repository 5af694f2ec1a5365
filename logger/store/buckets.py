"""Estimates as the lowest and highest of equal stretches of time, for a curve.

Lowest and highest, and no choice of single points: where a limit matters the peak must be seen.
"""

import math
from dataclasses import dataclass
from typing import TYPE_CHECKING, Any

from logger.store.codec import micros

if TYPE_CHECKING:
    from numpy.typing import NDArray


@dataclass(frozen=True, slots=True, kw_only=True)
class Bucket:
    """Lowest and highest estimate in one stretch of time; None where there is none: a gap."""

    at_s: float  # its beginning
    low: float | None
    high: float | None
    standard_uncertainty: float | None = None  # the largest; None where it is not known
    doubtful: bool = False  # none of them is good


LEVEL_S = 600.0  # what sealed estimates have a lowest and highest of; our choice, as the next
_LEVELS_FROM = 4  # of them in a span: wider ones are rounded up to whole ones, by a fifth at most


@dataclass(frozen=True, slots=True, kw_only=True)
class Spans:
    """`count` stretches of `width_s` from `from_s`."""

    from_s: float
    width_s: float
    count: int

    @classmethod
    def of(cls, from_s: float, to_s: float, points: int, every_s: float) -> "Spans":
        """At most `points` of them, at least one, none shorter than estimates come.

        Those of 40 min and more begin and end on whole levels, the first before `from_s`, the last
        after `to_s`: months are then drawn from levels alone.
        """
        if (to_s - from_s) / points >= _LEVELS_FROM * LEVEL_S:
            from_s = from_s // LEVEL_S * LEVEL_S
            width_s = math.ceil((to_s - from_s) / points / LEVEL_S) * LEVEL_S
            return cls(from_s=from_s, width_s=width_s, count=math.ceil((to_s - from_s) / width_s))
        step_s = max(1.0, math.ceil(every_s))  # they come on whole seconds
        count = max(1, min(points, int((to_s - from_s) // step_s)))
        return cls(from_s=from_s, width_s=(to_s - from_s) / count, count=count)

    @property
    def of_levels(self) -> bool:
        """Whether each holds whole levels."""
        return self.from_s % LEVEL_S == 0.0 and self.width_s % LEVEL_S == 0.0


class Envelope:
    """The lowest and highest of each of `spans`, of what was added so far."""

    def __init__(self, spans: Spans) -> None:
        import numpy as np

        self.spans = spans
        self.width_us = spans.width_s * 1e6
        self.ends = (micros(spans.from_s), micros(spans.from_s + spans.count * spans.width_s))
        self._lows: NDArray[Any] = np.full(spans.count, np.inf)
        self._highs: NDArray[Any] = np.full(spans.count, -np.inf)
        self._uncertainties: NDArray[Any] = np.full(spans.count, -np.inf)
        self._good: NDArray[Any] = np.zeros(spans.count, dtype=bool)

    def add(
        self,
        at_us: "NDArray[Any]",
        low: "NDArray[Any]",
        high: "NDArray[Any]",
        uncertainty: "NDArray[Any] | None" = None,
        good: "NDArray[Any] | None" = None,
    ) -> None:
        """Believed estimates by their stamps; those outside the spans are left out.

        Levels have no `uncertainty`, and what they are of counts as `good`; so where spans hold
        whole levels it is the same of rows.
        """
        import numpy as np

        if self.spans.of_levels:
            uncertainty = good = None
        inside = (at_us >= self.ends[0]) & (at_us < self.ends[1])
        index = ((at_us[inside] - self.ends[0]) / self.width_us).astype(np.int64)
        index = np.minimum(index, self.spans.count - 1)
        np.minimum.at(self._lows, index, low[inside])  # reduceat would fill an empty span
        np.maximum.at(self._highs, index, high[inside])  # from the next
        if uncertainty is not None:
            known = np.where(np.isnan(uncertainty), -np.inf, uncertainty)
            np.maximum.at(self._uncertainties, index, known[inside])
        self._good[index if good is None else index[good[inside]]] = True

    def buckets(self) -> list[Bucket]:
        """All of the spans."""
        from_s, width_s = self.spans.from_s, self.spans.width_s
        columns = (self._lows, self._highs, self._uncertainties, self._good)
        rows = zip(*(column.tolist() for column in columns), strict=True)
        return [
            Bucket(
                at_s=round(from_s + index * width_s, 6),
                low=low if low <= high else None,
                high=high if low <= high else None,
                standard_uncertainty=uncertainty if uncertainty >= 0.0 else None,
                doubtful=low <= high and not good,
            )
            for index, (low, high, uncertainty, good) in enumerate(rows)
        ]
