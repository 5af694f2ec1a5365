"""A straight line through points by least squares, and how well they fix it."""

import math
from collections.abc import Iterable
from dataclasses import dataclass


@dataclass(frozen=True, slots=True, kw_only=True)
class StraightLine:
    """The line y = mean_y + slope (x - mean_x) (simple linear regression, any textbook)."""

    count: int  # of points
    mean_x: float
    mean_y: float
    squares: float  # of x about its mean, summed
    slope: float
    residual: float  # of y about the line, squared and summed

    @property
    def residual_sd(self) -> float | None:
        """Standard deviation of y about the line; None for two points, which always fit."""
        free = self.count - 2
        return math.sqrt(self.residual / free) if free > 0 else None

    @property
    def slope_sd(self) -> float | None:
        """Standard deviation of the slope."""
        sd = self.residual_sd
        return None if sd is None else sd / math.sqrt(self.squares)

    def at(self, x: float) -> float:
        """The line's y at `x`."""
        return self.mean_y + self.slope * (x - self.mean_x)


def straight_line(points: Iterable[tuple[float, float]]) -> StraightLine | None:
    """The line of least squares through (x, y); None where all have one x, or there are none."""
    points = list(points)
    count = len(points)
    if not count:
        return None
    mean_x = math.fsum(x for x, _ in points) / count
    mean_y = math.fsum(y for _, y in points) / count
    squares = math.fsum((x - mean_x) ** 2 for x, _ in points)
    if squares == 0.0:
        return None
    slope = math.fsum((x - mean_x) * (y - mean_y) for x, y in points) / squares
    residual = math.fsum((y - mean_y - slope * (x - mean_x)) ** 2 for x, y in points)
    return StraightLine(
        count=count,
        mean_x=mean_x,
        mean_y=mean_y,
        squares=squares,
        slope=slope,
        residual=residual,
    )
