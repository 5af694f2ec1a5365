"""Student's t: how much further one must reach where a spread is known from few values only."""

import math
from functools import lru_cache


@lru_cache(maxsize=256)
def student_t(probability: float, degrees_of_freedom: int) -> float:
    """The factor t with P(T <= t) = `probability`, for `probability` of one half or more.

    The distribution is summed in closed form (Abramowitz & Stegun 26.7.3 and 26.7.4; from memory,
    checked against tables) and inverted by bisection. Raises ValueError outside its range.
    """
    if not 0.5 <= probability < 1.0 or degrees_of_freedom < 1:
        raise ValueError("student_t needs 0.5 <= probability < 1 and a degree of freedom")
    low, high = 0.0, 1.0
    while _student_below(high, degrees_of_freedom) < probability:
        high *= 2.0
    while high - low > 1e-12 * high:
        middle = 0.5 * (low + high)
        if _student_below(middle, degrees_of_freedom) < probability:
            low = middle
        else:
            high = middle
    return 0.5 * (low + high)


def _student_below(t: float, degrees_of_freedom: int) -> float:
    """P(T <= t) for t >= 0."""
    angle = math.atan(t / math.sqrt(degrees_of_freedom))
    cosine, sine = math.cos(angle), math.sin(angle)
    odd = degrees_of_freedom % 2
    term = total = cosine if odd else 1.0
    if degrees_of_freedom == 1:
        total = 0.0
    for k in range(3 if odd else 2, degrees_of_freedom - 1, 2):
        term *= (k - 1.0) / k * cosine**2
        total += term
    within = 2.0 / math.pi * (angle + sine * total) if odd else sine * total
    return 0.5 + 0.5 * within
