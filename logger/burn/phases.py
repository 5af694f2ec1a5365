"""Where nobody recorded it: lighting and extinguishing as the wall's temperature shows them.

Only recorded series are searched (replay); at a live bench a person says what burns.
"""

from dataclasses import dataclass

from logger.burn.trace import Trace
from logger.quantities import Estimate, Quality


@dataclass(frozen=True, slots=True)
class Found:
    """A change that the series shows: lit or out, and about since when."""

    lit: bool
    since_s: float


class LightingFinder:
    """Follows the wall estimates of one station; says when they show a change."""

    def __init__(self) -> None:
        self._traces: dict[str, Trace] = {}
        self._lit = False

    def see(self, estimate: Estimate) -> Found | None:
        """Take one more estimate of a place on the vessel, in order of time."""
        if estimate.value is None or estimate.quality is not Quality.GOOD:
            return None
        trace = self._traces.setdefault(estimate.channel, Trace())
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
