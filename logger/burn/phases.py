"""Where nobody recorded it: lighting and extinguishing as the wall's temperature shows them.

Only recorded series are searched (replay); at a live bench a person says what burns. Figures are
ours, chosen on the simulated candle: a wall warms by 3 K within ten minutes of lighting and falls
by 3 K within fifteen of extinguishing, while draughts and a window move it less or slower.
"""

from collections import deque
from dataclasses import dataclass, field

from logger.quantities import Estimate, Quality

RISE_K = 3.0  # over the lowest of the last MEMORY_S: it was lit
START_K = 0.5  # over that lowest: about when it was lit
FALL_K = 3.0  # under the highest of the last MEMORY_S, and still falling: it is out
STILL_FALLING_S = 300.0
MEMORY_S = 1200.0


@dataclass(frozen=True, slots=True)
class Found:
    """A change that the series shows: lit or out, and about since when."""

    lit: bool
    since_s: float


@dataclass(slots=True)
class _Trace:
    points: deque[tuple[float, float]] = field(default_factory=deque)  # (at_s, value_c)

    def add(self, at_s: float, value_c: float) -> None:
        self.points.append((at_s, value_c))
        while self.points[0][0] < at_s - MEMORY_S:
            self.points.popleft()

    def lit_since(self) -> float | None:
        lowest_s, lowest_c = min(self.points, key=lambda point: point[1])
        if self.points[-1][1] < lowest_c + RISE_K:
            return None
        return max(
            (at_s for at_s, value_c in self.points if value_c < lowest_c + START_K),
            default=lowest_s,
        )

    def out_since(self) -> float | None:
        now_s, now_c = self.points[-1]
        highest_s, highest_c = max(self.points, key=lambda point: point[1])
        recent_c = [value_c for at_s, value_c in self.points if at_s >= now_s - STILL_FALLING_S]
        if now_c > highest_c - FALL_K or now_c > min(recent_c[: len(recent_c) // 2 + 1]) - 0.5:
            return None
        return highest_s


class LightingFinder:
    """Follows the wall estimates of one station; says when they show a change."""

    def __init__(self) -> None:
        self._traces: dict[str, _Trace] = {}
        self._lit = False

    def see(self, estimate: Estimate) -> Found | None:
        """Take one more estimate of a place on the vessel, in order of time."""
        if estimate.value is None or estimate.quality is not Quality.GOOD:
            return None
        trace = self._traces.setdefault(estimate.channel, _Trace())
        trace.add(estimate.at_s, estimate.value)
        if not self._lit:
            since_s = trace.lit_since()
        else:  # out only when no place contradicts: a draught cools one side
            found = [other.out_since() for other in self._traces.values() if other.points]
            since_s = max((s for s in found if s is not None), default=None)
            if any(s is None for s in found):
                since_s = None
        if since_s is None:
            return None
        self._lit = not self._lit
        self._traces.clear()
        return Found(lit=self._lit, since_s=since_s)
