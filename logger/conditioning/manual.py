"""Three or four values that a person read off and typed: their average, and how sure it is.

Two things differ from a running estimate. So few values say little about their own spread, so the
noise of a hand-held instrument is given beforehand as if `PRIOR_READINGS` had shown it, and the
result is widened by Student's t (GUM 4.2.3 and G.3). And only values far *above* the rest are set
aside, as flame hits, and only while at least half of the values agree without them: a low value,
or two that contradict each other, stays in and makes the answer wide.
"""

import math
from collections.abc import Sequence
from dataclasses import dataclass

from logger.conditioning.correction import corrected
from logger.conditioning.student import student_t
from logger.conditioning.uncertainty import (
    COVERAGE,
    assumes_accuracy,
    rectangular,
    systematic_components,
    uniform_step,
)
from logger.errors import DataError
from logger.quantities import Channel, Estimate, Quality

NOISE_K = 1.0  # of a hand-held thermometer on a wall (common practice)
PRIOR_READINGS = 3  # how firmly that is believed: as a standard deviation of three differences
SET_ASIDE = 3.5  # standard deviations of a new value; 1 in 4000 normal ones lies above
LARGEST = 1e6  # in any unit; the squares of such are numbers still (our choice)
COVERED = 0.975  # two-sided 95 %
CONTRADICTING = 3.0  # times the noise: values that spread more do not agree on anything


@dataclass(frozen=True, slots=True, kw_only=True)
class ManualAverage:
    """The average of a few typed values; all in the same unit."""

    value: float
    standard_uncertainty: float
    repeatability: float
    used: tuple[float, ...]
    set_aside: tuple[float, ...]  # flame hits


def average(
    values: Sequence[float],
    *,
    resolution: float | None = None,
    accuracy: float | None = None,
    noise: float = NOISE_K,
) -> ManualAverage:
    """Average of `values` in any one unit; `resolution`, `accuracy`, `noise` are in it too.

    `resolution` is the step of the display, `accuracy` the half-width of the maker's limit of
    error. Raises DataError without a value or with one that is not finite.
    """
    used, set_aside = sort_out(values, noise=_noise(noise, resolution))
    repeatability = _repeatability(used, _noise(noise, resolution))
    others = [
        uniform_step(resolution) if resolution is not None else 0.0,
        rectangular(accuracy) if accuracy is not None else 0.0,
    ]
    return ManualAverage(
        value=math.fsum(used) / len(used),
        standard_uncertainty=math.hypot(repeatability, *others),
        repeatability=repeatability,
        used=used,
        set_aside=set_aside,
    )


def estimate(
    channel: Channel, values: Sequence[float], at_s: float, reflected_c: float | None = None
) -> Estimate:
    """What `values`, in the channel's unit and read at `at_s`, say about its place."""
    result = average([corrected(channel, value, reflected_c=reflected_c) for value in values])
    parts = systematic_components(channel, value=result.value, reflected_c=reflected_c)
    doubtful = (
        len(result.used) < 3
        or len(result.set_aside) >= len(result.used)
        or _contradict(result.used, NOISE_K)
    )
    return Estimate(
        channel=channel.name,
        at_s=at_s,
        value=result.value,
        standard_uncertainty=math.hypot(
            result.repeatability, *(part.standard_uncertainty for part in parts)
        ),
        repeatability=result.repeatability,
        used=len(result.used),
        rejected=len(result.set_aside),
        quality=Quality.DOUBTFUL if doubtful else Quality.GOOD,
        accuracy_assumed=assumes_accuracy(channel, None),
    )


def sorted_out(
    channel: Channel, values: Sequence[float], reflected_c: float | None = None
) -> tuple[tuple[float, ...], tuple[float, ...]]:
    """`values`, in the channel's unit, parted as `estimate` parts them: used, and set aside."""
    surface = [corrected(channel, value, reflected_c=reflected_c) for value in values]
    used, _ = sort_out(surface, noise=NOISE_K)
    return (
        tuple(value for value, here in zip(values, surface, strict=True) if here in used),
        tuple(value for value, here in zip(values, surface, strict=True) if here not in used),
    )


def sort_out(
    values: Sequence[float], *, noise: float
) -> tuple[tuple[float, ...], tuple[float, ...]]:
    """`values` parted into those that agree and flame hits, both in the order given.

    The lower half is believed; from there up, a value that stands off from the ones below it by
    more than their spread and `noise` allow is a hit, and so is all above it.
    """
    if not values or not all(math.isfinite(value) for value in values):
        raise DataError("an average needs at least one value, all of them finite numbers")
    if any(abs(value) > LARGEST for value in values):
        raise DataError(f"a value over {LARGEST:g} is not a reading of a candle: check the unit")
    ordered = sorted(values)
    believed = (len(ordered) + 1) // 2
    while believed < len(ordered):
        below = ordered[:believed]
        reach = SET_ASIDE * _spread(below, noise) * math.sqrt(1.0 + 1.0 / believed)
        if ordered[believed] - math.fsum(below) / believed > reach:
            break
        believed += 1
    limit = ordered[believed - 1] if believed > 1 or len(ordered) == 1 else ordered[-1]
    return (
        tuple(value for value in values if value <= limit),
        tuple(value for value in values if value > limit),
    )


def _noise(noise: float, resolution: float | None) -> float:
    return noise if resolution is None else max(noise, 0.5 * resolution)


def mean_and_squares(values: Sequence[float]) -> tuple[float, float]:
    """Mean, and the sum of squared deviations from it; in two passes, exact to rounding."""
    mean = math.fsum(values) / len(values)
    return mean, math.fsum((value - mean) ** 2 for value in values)


def _spread(values: Sequence[float], noise: float) -> float:
    """Standard deviation of one value, pooled with what is believed beforehand (GUM H.3.6)."""
    _, squares = mean_and_squares(values)
    return math.sqrt((PRIOR_READINGS * noise**2 + squares) / (PRIOR_READINGS + len(values) - 1))


def _contradict(values: Sequence[float], noise: float) -> bool:
    return _spread(values, noise) > CONTRADICTING * noise


def _repeatability(values: Sequence[float], noise: float) -> float:
    """Standard uncertainty of the mean, so wide that two of it hold 95 % (Student's t).

    Where the values contradict one another any of them may be the right one: two reach them all.
    """
    spread, freedom = _spread(values, noise), PRIOR_READINGS + len(values) - 1
    uncertainty = spread / math.sqrt(len(values)) * student_t(COVERED, freedom) / COVERAGE
    if not _contradict(values, noise):
        return uncertainty
    mean = math.fsum(values) / len(values)
    return max(uncertainty, max(abs(value - mean) for value in values) / COVERAGE)
