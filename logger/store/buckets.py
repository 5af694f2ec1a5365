"""Estimates as the lowest and highest of equal stretches of time, for a curve.

Lowest and highest, and no choice of single points: where a limit matters the peak must be seen.
"""

import math
from collections.abc import Iterable
from dataclasses import dataclass

from logger.store.codec import micros


@dataclass(frozen=True, slots=True, kw_only=True)
class Bucket:
    """Lowest and highest estimate in one stretch of time; None where there is none: a gap."""

    at_s: float  # its beginning
    low: float | None
    high: float | None


@dataclass(frozen=True, slots=True, kw_only=True)
class Spans:
    """`count` stretches of `width_s` from `from_s`."""

    from_s: float
    width_s: float
    count: int

    @classmethod
    def of(cls, from_s: float, to_s: float, points: int, every_s: float) -> "Spans":
        """At most `points` of them, at least one, none shorter than estimates come."""
        step_s = max(1.0, math.ceil(every_s))  # they come on whole seconds
        count = max(1, min(points, int((to_s - from_s) // step_s)))
        return cls(from_s=from_s, width_s=(to_s - from_s) / count, count=count)

    def fill(self, estimates: Iterable[tuple[int, float]]) -> list[Bucket]:
        """Buckets of estimates given by stamp in microseconds and value."""
        lows: list[float | None] = [None] * self.count
        highs: list[float | None] = [None] * self.count
        from_us, width_us = micros(self.from_s), self.width_s * 1e6
        for at_us, value in estimates:
            index = min(int((at_us - from_us) / width_us), self.count - 1)
            low, high = lows[index], highs[index]
            lows[index] = value if low is None or value < low else low
            highs[index] = value if high is None or value > high else high
        return [
            Bucket(at_s=round(self.from_s + index * self.width_s, 6), low=low, high=high)
            for index, (low, high) in enumerate(zip(lows, highs, strict=True))
        ]
