"""Wax as in a fresh candle's first burn: one lump, its melting spread over the rise.

It has the pool's temperature and stays where it was poured. The life of a candle, with pool and
level, is `melting_wax`.
"""

import math
from dataclasses import dataclass

from simulators.jar import SIDES, Grid, Vessel, Wick

_WAX_J_PER_KGK = 2600.0  # the lump has the pool's temperature. The rest rises about 0.65 as far at
# 2400 (published: 2140 to 2900); melting 50 g at 200 kJ/kg (from memory, high) adds the rest
_POOL_W_PER_M2K = 60.0  # molten, stirred wax to glass (from memory, low)
_POOL_DEPTH_M = 0.012  # 6 to 13 mm after four hours (common practice)
SOLID_W_PER_M2K = 14.0  # 0.25 W/(m K) over some 18 mm to the glass (conductivity from memory)
WAX_TO_BARE_WALL_W_PER_M2K = 11.0  # radiation and warm gas inside, of the wax surface
MOUTH_W_PER_M2K = 6.0  # wax surface through the open mouth to the room (from memory, low)


@dataclass(frozen=True, slots=True, kw_only=True)
class FlameHeat:
    """What the flame does to the wax."""

    foot_w: float  # by its foot and the wick
    radiant_w: float  # to the whole surface
    burned_g: float  # in this step


@dataclass(frozen=True, slots=True, kw_only=True)
class Around:
    """What the wax touches and sees, degC."""

    wall_c: Grid
    base_c: float
    room_c: float


@dataclass(frozen=True, slots=True, kw_only=True)
class WaxFlows:
    """Heat that leaves the wax now, watts."""

    wall_w: Grid  # to each cell
    base_w: float
    mouth_w: float  # from its surface to the room


class LumpOfWax:
    """One temperature, one mass; burning takes nothing from it."""

    draw = 1.0  # factor on the wick's own rate
    fuel_j = 0.0  # that burned wax took along

    def __init__(self, vessel: Vessel, wick: Wick, start_c: float) -> None:
        self.level_m = vessel.wax_level_m
        self.wax_c = self._start_c = start_c
        base_m2 = 0.25 * math.pi * vessel.diameter_m**2
        self._j_per_k = 1e-3 * vessel.wax_g * _WAX_J_PER_KGK
        self._base_w_per_k = SOLID_W_PER_M2K * base_m2
        self._mouth_w_per_k = MOUTH_W_PER_M2K * vessel.mouth_m2
        self._wall_w_per_k = _to_wall_w_per_k(vessel, wick)

    @property
    def stored_j(self) -> float:
        """Heat in it above the start."""
        return self._j_per_k * (self.wax_c - self._start_c)

    def step(self, dt_s: float, flame: FlameHeat, around: Around) -> WaxFlows:
        """Take up the flame's heat for `dt_s`; what leaves it meanwhile is returned."""
        flows = WaxFlows(
            wall_w=self._wall_w_per_k * (self.wax_c - around.wall_c),
            base_w=self._base_w_per_k * (self.wax_c - around.base_c),
            mouth_w=self._mouth_w_per_k * (self.wax_c - around.room_c),
        )
        heat_w = flame.foot_w + flame.radiant_w
        left_w = heat_w - float(flows.wall_w.sum()) - flows.base_w - flows.mouth_w
        self.wax_c += dt_s / self._j_per_k * left_w
        return flows


def _to_wall_w_per_k(vessel: Vessel, wick: Wick) -> Grid:
    """Conductance from the lump to each cell: pool, solid below it, bare wall above it.

    The pool warms a side the better the nearer the wick stands to it.
    """
    side_m = 2.0 * math.pi * vessel.inner_radius_m / SIDES
    level_m = vessel.wax_level_m
    pool = vessel.overlap_m(level_m - _POOL_DEPTH_M, level_m)
    solid = vessel.overlap_m(vessel.base_m, level_m - _POOL_DEPTH_M)
    bare = vessel.overlap_m(level_m, vessel.height_m)
    cells: Grid = side_m * (
        _POOL_W_PER_M2K * pool * vessel.nearness(wick) + SOLID_W_PER_M2K * solid
    )
    cells += WAX_TO_BARE_WALL_W_PER_M2K * vessel.mouth_m2 / SIDES * bare / bare.sum()
    return cells
