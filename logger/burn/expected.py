"""What a burn is expected to be like before it is seen, and what earlier burns teach about it."""

import math
from collections.abc import Sequence
from dataclasses import dataclass, replace

from logger.burn.course import Changes, Shape
from logger.burn.heat import WarmUp
from logger.burn.mixture import Normal

FAST_S = (150.0, 220.0, 320.0, 470.0, 700.0)
SLOW_S = (1100.0, 1500.0, 2000.0, 2700.0, 3600.0, 4900.0)
UNSEEN_ROOM_S = (5400.0,)

_FAST, _SLOW = Normal(mean=10.0, sd=5.0), Normal(mean=19.0, sd=7.0)
"""K: walls end 15 to 45 K above the room (common practice), a third of it at once (estimate)."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Expected:
    """What is known of a place before its burn: time constants as factors around a median."""

    fast_s: float = 300.0  # of the glass: 6 kJ/m2K over 20 W/m2K (textbook)
    fast_factor: float = 1.65
    slow_s: float = 2500.0  # of the wax: 230 g hold 600 J/K (tables), lose 0.25 W/K (an estimate
    slow_factor: float = 1.4  # by the same film coefficients for a vessel of 80 mm)
    fast_k: Normal = _FAST
    slow_k: Normal = _SLOW

    def after(self, earlier: Sequence[WarmUp]) -> "Expected":
        """Drawn towards the fits of earlier burns of the place, the default counting as one burn.

        Never narrower than a factor of 1.1 or 1.5 K: no burn repeats another exactly (choice).
        """
        fits = [fit for fit in earlier if fit.settled]
        if not fits:
            return self
        fast_s, fast_factor = _drawn_factor(
            self.fast_s, self.fast_factor, [fit.fast_s for fit in fits]
        )
        slow_s, slow_factor = _drawn_factor(
            self.slow_s, self.slow_factor, [fit.slow_s for fit in fits]
        )
        return Expected(
            fast_s=fast_s,
            fast_factor=fast_factor,
            slow_s=slow_s,
            slow_factor=slow_factor,
            fast_k=_drawn(self.fast_k, [fit.fast_k for fit in fits], least=1.5),
            slow_k=_drawn(self.slow_k, [fit.slow_k for fit in fits], least=1.5),
        )


def _drawn(prior: Normal, seen: Sequence[float], *, least: float) -> Normal:
    count = len(seen) + 1
    mean = (prior.mean + math.fsum(seen)) / count
    squares = prior.sd**2 + (prior.mean - mean) ** 2 + sum((x - mean) ** 2 for x in seen)
    return Normal(mean=mean, sd=max(math.sqrt(squares / count), least))


def _drawn_factor(median: float, factor: float, seen: Sequence[float]) -> tuple[float, float]:
    prior = Normal(mean=math.log(median), sd=math.log(factor))
    drawn = _drawn(prior, [math.log(x) for x in seen], least=math.log(1.1))
    return math.exp(drawn.mean), math.exp(drawn.sd)


def wall_shape(expected: Expected, *, room_known: bool, start_sd_k: float) -> Shape:
    """What to expect of a wall: of its rise above the room, or of itself."""
    fast = _log_normal(FAST_S, expected.fast_s, expected.fast_factor)
    slow = _log_normal(SLOW_S, expected.slow_s, expected.slow_factor)
    weights = [f * s for f in fast for s in slow]
    shape = Shape(
        terms=(FAST_S, SLOW_S),
        weights=tuple(weight / math.fsum(weights) for weight in weights),
        amplitudes=(expected.fast_k, expected.slow_k),
        start=Normal(mean=0.0, sd=start_sd_k),
        draught_k=0.5,  # what draughts do to a wall, and for how long: measured on the
        draught_s=150.0,  # simulated candle; the noise found in the fit corrects it
        changes=Changes(),
    )
    if room_known:
        return shape
    warming = Normal(mean=2.0, sd=1.5)  # of a room with people, lamps and candles (estimate)
    return replace(
        shape, terms=(FAST_S, SLOW_S, UNSEEN_ROOM_S), amplitudes=(*shape.amplitudes, warming)
    )


ROOM = Shape(
    terms=((1800.0, 5400.0, 14_400.0),),
    weights=(1 / 3, 1 / 3, 1 / 3),
    amplitudes=(Normal(mean=1.0, sd=2.0),),
    start=Normal(mean=0.0, sd=0.3),
    draught_k=0.15,
    draught_s=300.0,
    changes=Changes(ahead_per_h=0.0),  # a window to come is counted once, in the wall
)
"""A room about its first value; figures are estimates, no source."""


def _log_normal(values: Sequence[float], median: float, factor: float) -> list[float]:
    return [math.exp(-0.5 * (math.log(x / median) / math.log(factor)) ** 2) for x in values]
