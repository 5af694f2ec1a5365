"""Estimates as the lowest and highest of equal stretches of time, for a curve.

Lowest and highest, and no choice of single points: where a limit matters the peak must be seen.
"""

import math
from dataclasses import dataclass

from logger.store.codec import micros


@dataclass(frozen=True, slots=True, kw_only=True)
class Bucket:
    """Lowest and highest estimate in one stretch of time; None where there is none: a gap."""

    at_s: float  # its beginning
    low: float | None
    high: float | None


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
        self.spans = spans
        self.width_us = spans.width_s * 1e6
        self.ends = (micros(spans.from_s), micros(spans.from_s + spans.count * spans.width_s))
        self._lows: list[float | None] = [None] * spans.count
        self._highs: list[float | None] = [None] * spans.count

    def index(self, at_us: int) -> int:
        """Which of the spans this stamp, not before the first, is in."""
        return min(int((at_us - self.ends[0]) / self.width_us), self.spans.count - 1)

    def add(self, index: int, lowest: float, highest: float) -> None:
        """Estimates of one span."""
        low, high = self._lows[index], self._highs[index]
        self._lows[index] = lowest if low is None or lowest < low else low
        self._highs[index] = highest if high is None or highest > high else high

    def buckets(self) -> list[Bucket]:
        """All of the spans."""
        from_s, width_s = self.spans.from_s, self.spans.width_s
        return [
            Bucket(at_s=round(from_s + index * width_s, 6), low=low, high=high)
            for index, (low, high) in enumerate(zip(self._lows, self._highs, strict=True))
        ]
