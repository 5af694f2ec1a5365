"""Axes: round steps for temperatures and times, and the way from a value to a place on paper."""

import math
from dataclasses import dataclass

_TIME_STEPS_S = (60, 120, 300, 600, 900, 1800, 3600, 7200, 14400, 28800, 86400)


@dataclass(frozen=True, slots=True, kw_only=True)
class Scale:
    """A linear map of [low, high] onto [start, end]; downwards where start is greater."""

    low: float
    high: float
    start: float
    end: float

    def __call__(self, value: float) -> float:
        """Where `value` lies."""
        return self.start + (value - self.low) / (self.high - self.low) * (self.end - self.start)


def round_step(span: float, about: int) -> float:
    """The step of 1, 2 or 5 times a power of ten that parts `span` > 0 into `about` or fewer."""
    least = span / about
    power = 10.0 ** math.floor(math.log10(least))
    return next(step * power for step in (1.0, 2.0, 5.0, 10.0) if step * power >= least * 0.999)


def ticks(low: float, high: float, step: float) -> tuple[float, ...]:
    """The multiples of `step` in [low, high]."""
    first, last = math.ceil(low / step - 1e-9), math.floor(high / step + 1e-9)
    return tuple(count * step for count in range(first, last + 1))


def time_step_s(span_s: float, about: int) -> float:
    """A step that a clock shows, parting `span_s` into `about` or fewer."""
    return float(next((s for s in _TIME_STEPS_S if span_s <= s * about), _TIME_STEPS_S[-1]))
