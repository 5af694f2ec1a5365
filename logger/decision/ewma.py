"""The chart of exponentially weighted moving averages, which finds small lasting shifts.

NIST/SEMATECH handbook of statistical methods, 6.3.2.4: each point is the weight times the new
value plus the rest times the point before; limits are three standard deviations of the point.
"""

import math
from collections.abc import Iterator, Sequence
from dataclasses import dataclass

WEIGHT = 0.3  # the handbook: usually between 0.2 and 0.3
WIDTH = 3.0  # standard deviations; the handbook's


@dataclass(frozen=True, slots=True, kw_only=True)
class EwmaPoint:
    """A value, the average up to it, and between what the average should lie."""

    value: float
    average: float
    lower: float
    upper: float

    @property
    def out(self) -> bool:
        """Whether the average has left its limits."""
        return not self.lower <= self.average <= self.upper


def ewma(
    values: Sequence[float],
    *,
    target: float,
    sd: float,
    target_u: float = 0.0,
) -> Iterator[EwmaPoint]:
    """The chart of `values` about `target`; `sd` is the standard deviation of one value.

    The first points average fewer values, so their limits are narrower (the exact variance, of
    which the handbook gives the limit for many points). `target_u` is the standard uncertainty of
    a target that is itself a mean of few values: it shifts all points alike.
    """
    average = target
    for count, value in enumerate(values, start=1):
        average = WEIGHT * value + (1.0 - WEIGHT) * average
        variance = WEIGHT / (2.0 - WEIGHT) * (1.0 - (1.0 - WEIGHT) ** (2 * count))
        reach = WIDTH * math.hypot(sd * math.sqrt(variance), target_u)
        yield EwmaPoint(value=value, average=average, lower=target - reach, upper=target + reach)
