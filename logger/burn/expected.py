"""What a burn is expected to be like before it is seen: usually, and after the candle's last burn.

Figures without a source are ours, from development burns of the simulated candle.
"""

import itertools
import math
from collections.abc import Sequence
from dataclasses import dataclass
from typing import TYPE_CHECKING

from logger.burn.course import Disturbance, Shape

if TYPE_CHECKING:
    from logger.burn.hypotheses import Posterior

FAST_S = (150.0, 220.0, 320.0, 470.0, 700.0)
SLOW_S = (1100.0, 1500.0, 2000.0, 2700.0, 3600.0, 4900.0)
CLIMB_S = (28_800.0,)  # so slow that it hardly bends within a burn

DRAUGHTS = Disturbance(sd_k=0.5, tau_s=150.0)  # the noise found in the fit corrects it
# What comes and goes within the hour: above a measured room a flame that flickers and wanders,
# below it windows too.
ABOVE_ROOM = Disturbance(sd_k=0.7, tau_s=3000.0)
UNSEEN_ROOM = Disturbance(sd_k=1.6, tau_s=3000.0)

FULL_BURN_S = 14_400.0  # the usual test burn (common practice); a shorter one changes less
CHANGED = (0.15, 0.15, 0.0)  # from one burn of a candle to its next: share of each amplitude ...
CHANGED_K = (0.0, 0.0, 6.0)  # ... and beyond it
HOTTER_K = (0.0, 1.0, 3.0)  # a candle heats more as it burns down (common practice)
CHANGED_LOG = 0.12  # of the logarithm of a time constant


@dataclass(frozen=True, slots=True, kw_only=True)
class TimeConstant:
    """Within `factor` of its median in two cases of three (log-normal)."""

    median_s: float
    factor: float


@dataclass(frozen=True, slots=True, kw_only=True)
class Expected:
    """A warm-up of one place: a fast and a slow term, and one that climbs on."""

    above_room: bool  # the rise above a measured room, or the wall itself
    fast: TimeConstant
    slow: TimeConstant
    amplitudes_k: tuple[float, ...]  # fast, slow, climb
    covariance_k2: tuple[tuple[float, ...], ...]  # of these


def _usual(*, above_room: bool, climb_k: float, climb_sd_k: float) -> Expected:
    return Expected(
        above_room=above_room,
        # Of the glass: 6 kJ/m2K over 20 W/m2K (textbook).
        fast=TimeConstant(median_s=300.0, factor=1.65),
        # Of the wax: 230 g hold 600 J/K (tables) and lose 0.25 W/K, an estimate by the same film
        # coefficients for a vessel of 80 mm.
        slow=TimeConstant(median_s=2500.0, factor=1.4),
        # Walls end 15 to 45 K above the room (common practice), a third of it at once (estimate).
        amplitudes_k=(10.0, 19.0, climb_k),
        covariance_k2=((5.0**2, 0.0, 0.0), (0.0, 7.0**2, 0.0), (0.0, 0.0, climb_sd_k**2)),
    )


ANY_ABOVE_ROOM = _usual(above_room=True, climb_k=3.0, climb_sd_k=5.0)
ANY_ALONE = _usual(above_room=False, climb_k=4.0, climb_sd_k=5.0)  # the room warms too (estimate)


def wall_shape(expected: Expected, *, start_sd_k: float) -> Shape:
    """The course of a place that is expected to do so."""
    fast, slow = _weights(FAST_S, expected.fast), _weights(SLOW_S, expected.slow)
    weights = [f * s for f, s in itertools.product(fast, slow)]
    return Shape(
        terms=(FAST_S, SLOW_S, CLIMB_S),
        weights=tuple(weight / math.fsum(weights) for weight in weights),
        means_k=(0.0, *expected.amplitudes_k),
        covariance_k2=(
            (start_sd_k**2, 0.0, 0.0, 0.0),
            *((0.0, *row) for row in expected.covariance_k2),
        ),
        disturbances=(DRAUGHTS, ABOVE_ROOM if expected.above_room else UNSEEN_ROOM),
    )


ROOM = Shape(
    terms=((1800.0, 5400.0, 14_400.0),),
    weights=(1 / 3, 1 / 3, 1 / 3),
    means_k=(0.0, 1.0),
    covariance_k2=((0.3**2, 0.0), (0.0, 2.0**2)),
    # people moving about, and windows
    disturbances=(Disturbance(sd_k=0.15, tau_s=300.0), Disturbance(sd_k=1.6, tau_s=3000.0)),
)
"""A room about its first value; figures are estimates, no source."""


def after(posterior: "Posterior", *, above_room: bool) -> Expected:
    """What to expect of the same place in the candle's next burn: as this one, a bit hotter."""
    import numpy as np

    course, weights = posterior.course, posterior.weights
    amplitudes, covariances = posterior.amplitudes[:, 1:], posterior.covariance[:, 1:, 1:]
    means = weights @ amplitudes
    apart = amplitudes - means
    covariance = np.einsum("h,hij->ij", weights, covariances)
    covariance += np.einsum("h,hi,hj->ij", weights, apart, apart)
    share = min((course.last_s or 0.0) / FULL_BURN_S, 1.0)
    covariance += share * np.diag((np.array(CHANGED) * means) ** 2 + np.array(CHANGED_K) ** 2)
    means += share * np.array(HOTTER_K)
    logs = np.log(course.taus_s[posterior.columns[:, 1:3] - 1])
    medians = weights @ logs
    fast, slow = (
        TimeConstant(median_s=math.exp(median), factor=math.exp(sd))
        for median, sd in zip(
            medians.tolist(),
            np.sqrt(weights @ (logs - medians) ** 2 + CHANGED_LOG**2).tolist(),
            strict=True,
        )
    )
    return Expected(
        above_room=above_room,
        fast=fast,
        slow=slow,
        amplitudes_k=tuple(means.tolist()),
        covariance_k2=tuple(tuple(row) for row in covariance.tolist()),
    )


def _weights(values_s: Sequence[float], expected: TimeConstant) -> list[float]:
    log_factor = math.log(expected.factor)
    return [math.exp(-0.5 * (math.log(x / expected.median_s) / log_factor) ** 2) for x in values_s]
