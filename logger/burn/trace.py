"""The last ten minutes of one place on the vessel: does it rise, does it fall, how fast.

Figures are ours, chosen on the simulated candle: a wall warms by 3 K within ten minutes of
lighting and falls by 3 K within fifteen of extinguishing, while draughts move it less.
"""

from collections import deque
from dataclasses import dataclass, field

RISE_K = 3.0  # over the lowest of the last MEMORY_S: it was lit
START_K = 0.5  # off that lowest or highest: about when it began
FALL_K = 3.0  # under the highest of the last MEMORY_S, and still falling: it is out
STILL_FALLING_S = 300.0
MEMORY_S = 600.0
RISEN_AGAIN_K = 1.0  # over the lowest of STILL_FALLING_S: it falls no more


class _Lowest:
    """The lowest value of the last `over_s`: kept is what may yet be the lowest."""

    __slots__ = ("_kept", "_over_s")

    def __init__(self, over_s: float) -> None:
        self._over_s = over_s
        self._kept: deque[tuple[float, float]] = deque()  # (at_s, value), rising

    def add(self, at_s: float, value: float) -> float:
        """Take one more; the lowest with it."""
        kept = self._kept
        while kept and kept[-1][1] >= value:
            kept.pop()
        kept.append((at_s, value))
        while kept[0][0] < at_s - self._over_s:
            kept.popleft()
        return kept[0][1]


@dataclass(slots=True)
class Trace:
    """Estimates of one place, in order of time.

    What they show is found once for each that comes: the rules ask at every tick.
    """

    points: deque[tuple[float, float]] = field(default_factory=deque)  # (at_s, value_c)
    _lowest: _Lowest = field(default_factory=lambda: _Lowest(MEMORY_S))
    _lowest_lately: _Lowest = field(default_factory=lambda: _Lowest(STILL_FALLING_S))
    _lowest_negative: _Lowest = field(default_factory=lambda: _Lowest(MEMORY_S))
    lit_since: float | None = None  # about when a rise began that only a flame makes
    out_since: float | None = None  # about when a fall began that goes on
    rises: bool = False  # it has risen lately: what fell falls no more

    def add(self, at_s: float, value_c: float) -> None:
        """Take one more, later than all before."""
        self.points.append((at_s, value_c))
        while self.points[0][0] < at_s - MEMORY_S:
            self.points.popleft()
        self.lit_since = self._find_lit(self._lowest.add(at_s, value_c))
        self.out_since = self._find_out(-self._lowest_negative.add(at_s, -value_c))
        self.rises = value_c > self._lowest_lately.add(at_s, value_c) + RISEN_AGAIN_K

    def _find_lit(self, lowest_c: float) -> float | None:
        if self.points[-1][1] < lowest_c + RISE_K:
            return None
        late_first = reversed(self.points)
        return next(at_s for at_s, value_c in late_first if value_c <= lowest_c + START_K)

    def _find_out(self, highest_c: float) -> float | None:
        now_s, now_c = self.points[-1]
        if now_c > highest_c - FALL_K:
            return None
        recent_c = [value_c for at_s, value_c in self.points if at_s >= now_s - STILL_FALLING_S]
        if now_c > min(recent_c[: len(recent_c) // 2 + 1]) - 0.5:
            return None
        late_first = reversed(self.points)
        return next(at_s for at_s, value_c in late_first if value_c >= highest_c - START_K)

    def rate_k_per_min(self, over_s: float) -> float | None:
        """Mean rate of change over the last `over_s`; None while less is known."""
        now_s, now_c = self.points[-1]
        if self.points[0][0] > now_s - over_s:
            return None
        then_s, then_c = next(p for p in reversed(self.points) if p[0] <= now_s - over_s)
        return (now_c - then_c) / (now_s - then_s) * 60.0
