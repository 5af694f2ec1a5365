"""What a simulated candle is made of: a glass jar, and a wick."""

import math
from dataclasses import dataclass
from functools import cached_property

import numpy as np
from numpy.typing import NDArray

Grid = NDArray[np.float64]

RINGS = 6
SIDE_CLOCKS = (12, 3, 6, 9)
SIDES = len(SIDE_CLOCKS)

WAX_KG_PER_M3 = 900.0  # paraffin, solid (published tables)
FLAME_CENTRE_M = 0.019  # above the wax: a 6 mm wick and half a 25 mm flame (common practice)
GLASS_KG_PER_M3 = 2520.0  # soda-lime container glass (published tables)


@dataclass(frozen=True, slots=True, kw_only=True)
class Wick:
    """What sets the flame: how fast it burns wax, and how far off the axis it stands."""

    burn_g_per_h: float
    offset_mm: float = 0.0
    toward_clock: int = 3
    tab_neck_mm: float = 6.0  # of the metal foot: below it the wick draws no wax

    def __post_init__(self) -> None:
        if not 0.0 < self.burn_g_per_h <= 15.0:
            raise ValueError("a wick burns more than 0 and at most 15 g/h")
        if not 0.0 <= self.offset_mm <= 20.0:
            raise ValueError("a wick stands 0 to 20 mm off the axis")
        if not 0.0 <= self.tab_neck_mm <= 20.0:
            raise ValueError("the neck of a wick's tab is 0 to 20 mm high")


WICKS = {
    "wick-4": Wick(burn_g_per_h=4.0),
    "wick-5": Wick(burn_g_per_h=5.0),
    "wick-6": Wick(burn_g_per_h=6.0),
    "wick-8": Wick(burn_g_per_h=8.0),
}
"""Wicks for the default vessel, 4 to 8 g/h (common practice for 80 mm): the last is too large."""


@dataclass(frozen=True, kw_only=True)  # without slots: what follows from its sizes is kept
class Vessel:
    """A straight glass jar and how high it is filled."""

    diameter_m: float = 0.080  # outside
    height_m: float = 0.090
    wall_m: float = 0.003
    base_m: float = 0.006
    wax_level_m: float = 0.065  # above the outside base

    @cached_property
    def inner_radius_m(self) -> float:
        """Radius of the inside."""
        return 0.5 * self.diameter_m - self.wall_m

    @cached_property
    def mouth_m2(self) -> float:
        """Area of the mouth, and of the wax surface."""
        return math.pi * self.inner_radius_m**2

    @property
    def glass_g(self) -> float:
        """Mass of the empty jar."""
        wall_m3 = math.pi * (self.diameter_m - self.wall_m) * self.height_m * self.wall_m
        base_m3 = 0.25 * math.pi * self.diameter_m**2 * self.base_m
        return 1e3 * GLASS_KG_PER_M3 * (wall_m3 + base_m3)

    @property
    def wax_g(self) -> float:
        """Mass of wax it is filled with."""
        return 1e3 * WAX_KG_PER_M3 * self.mouth_m2 * (self.wax_level_m - self.base_m)

    @cached_property
    def _edges_m(self) -> tuple[Grid, Grid]:
        """Lower and upper edge of each ring; columns."""
        edges_m = np.array([[self.height_m / RINGS * edge] for edge in range(RINGS + 1)])
        return edges_m[:-1], edges_m[1:]

    def overlap_m(self, low_m: float, high_m: float) -> Grid:
        """How much of each ring lies between two heights above the outside base; a column."""
        lower_m, upper_m = self._edges_m
        shared: Grid = np.minimum(upper_m, high_m) - np.maximum(lower_m, low_m)
        return np.maximum(shared, 0.0)

    def nearness(self, wick: Wick) -> Grid:
        """How much better the pool warms each side than with a centred wick."""
        toward = 2.0 * math.pi * (np.arange(SIDES) / SIDES - wick.toward_clock / 12.0)
        radius_m = self.inner_radius_m
        near: Grid = radius_m / (radius_m - 1e-3 * wick.offset_mm * np.cos(toward))
        return near
