"""What a burn is expected to be like before it is seen."""

import math
from collections.abc import Sequence
from dataclasses import replace

from logger.burn.course import Changes, Shape
from logger.burn.mixture import Normal

FAST_S = (150.0, 220.0, 320.0, 470.0, 700.0)
SLOW_S = (1100.0, 1500.0, 2000.0, 2700.0, 3600.0, 4900.0)
UNSEEN_ROOM_S = (5400.0,)

# Before it is seen, a time constant lies within a factor of its median (log-normal).
FAST_MEDIAN_S, FAST_FACTOR = 300.0, 1.65  # of the glass: 6 kJ/m2K over 20 W/m2K (textbook)
SLOW_MEDIAN_S, SLOW_FACTOR = 2500.0, 1.4
"""Of the wax: 230 g hold 600 J/K (tables) and lose 0.25 W/K, an estimate by the same film
coefficients for a vessel of 80 mm."""
FAST_K, SLOW_K = Normal(mean=10.0, sd=5.0), Normal(mean=19.0, sd=7.0)
"""Walls end 15 to 45 K above the room (common practice), a third of it at once (estimate)."""


def wall_shape(*, room_known: bool, start_sd_k: float) -> Shape:
    """What to expect of a wall: of its rise above the room, or of itself."""
    fast = _log_normal(FAST_S, FAST_MEDIAN_S, FAST_FACTOR)
    slow = _log_normal(SLOW_S, SLOW_MEDIAN_S, SLOW_FACTOR)
    weights = [f * s for f in fast for s in slow]
    shape = Shape(
        terms=(FAST_S, SLOW_S),
        weights=tuple(weight / math.fsum(weights) for weight in weights),
        amplitudes=(FAST_K, SLOW_K),
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
