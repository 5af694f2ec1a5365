"""Where nobody recorded it: lighting and extinguishing as the wall's temperature shows them.

Only recorded series are searched (replay); at a live bench a person says what burns.
"""

from dataclasses import dataclass

from logger.burn.trace import Trace
from logger.quantities import Estimate, Quality


@dataclass(frozen=True, slots=True)
class PhaseChange:
    """A change that the series shows: lit or out, and about since when."""

    lit: bool
    since_s: float


class LightingFinder:
    """Follows the wall estimates of one station; says when they show a change."""

    def __init__(self) -> None:
        self._traces: dict[str, Trace] = {}
        self._falling_s: dict[str, float] = {}  # by channel: since when it falls
        self._lit = False

    def see(self, estimate: Estimate) -> PhaseChange | None:
        """Take one more estimate of a place on the vessel, in order of time."""
        if estimate.value is None or estimate.quality is not Quality.GOOD:
            return None
        trace = self._traces.setdefault(estimate.channel, Trace())
        trace.add(estimate.at_s, estimate.value)
        since_s = self._out(estimate.channel, trace) if self._lit else trace.lit_since()
        if since_s is None:
            return None
        self._lit = not self._lit
        self._traces.clear()
        self._falling_s.clear()
        return PhaseChange(lit=self._lit, since_s=since_s)

    def _out(self, channel: str, trace: Trace) -> float | None:
        """When the first place began to fall, once every place does: a draught cools one side."""
        since_s = trace.out_since()
        if since_s is None:
            self._falling_s.pop(channel, None)
        else:
            self._falling_s.setdefault(channel, since_s)
        if len(self._falling_s) < len(self._traces):
            return None
        return min(self._falling_s.values())
