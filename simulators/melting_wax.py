"""The wax of a whole candle, from the first lighting to the last: where its heat goes.

The flame warms the pool; what the pool gives to its two fronts, sideways and down, less what goes
on into solid and glass, melts wax or lets it set. The wick draws from the pool, so the level falls.
"""

import math

from simulators.jar import FLAME_CENTRE_M, SIDES, Grid, Vessel, Wick
from simulators.lump_of_wax import (
    MOUTH_W_PER_M2K,
    SOLID_W_PER_M2K,
    WAX_TO_BARE_WALL_W_PER_M2K,
    Around,
    FlameHeat,
    WaxFlows,
)
from simulators.wax_bodies import MELTING_C, SEED_G, WaxBodies

_CONDUCTIVITY = 0.25  # W/(m K), solid: 0.2 to 0.25 (from memory, high)
_SIDE_W_PER_M2K = 40.0  # pool to its side; fitted to the trade's full pool in 2.5 to 5 h
_DOWN_W_PER_M2K = 15.0  # downward: warm liquid lies on colder; fitted to 6 to 13 mm after 4 h
_DEEP = 0.4  # of the solid under the pool, how far heat goes into it; fitted likewise
_THINNEST_M = 3e-4  # film of solid on the glass; for a stable step
_BEDDING_M = 4e-3  # solid never resists less than this on its way to base and front; likewise
_NOTHING_M = 1e-6
_DRAW_AT_END = 0.15  # the rate rises as a container empties (common practice; size our choice)


class MeltingWax(WaxBodies):
    """Wax poured and set, at `start_c`, with its wick in it."""

    def __init__(self, vessel: Vessel, wick: Wick, start_c: float) -> None:
        super().__init__(vessel, start_c)
        self._near = vessel.nearness(wick)
        self._side_m = 2.0 * math.pi * self.radius_m / SIDES
        self._poured_g = vessel.wax_g

    def set_wick(self, wick: Wick) -> None:
        """Say which wick stands in it now."""
        self._near = self.vessel.nearness(wick)

    @property
    def draw(self) -> float:
        """Factor on the wick's own rate."""
        return 1.0 + _DRAW_AT_END * (1.0 - self.mass_g / self._poured_g)

    def step(self, dt_s: float, flame: FlameHeat, around: Around) -> WaxFlows:
        """Take up the flame's heat for `dt_s`, and burn; what leaves it meanwhile is returned."""
        wall_c, base_c, room_c = around.wall_c, around.base_c, around.room_c
        vessel, liquid_c, solid_c = self.vessel, self.liquid_c, self.solid_c
        pooled = self.liquid_g >= SEED_G
        pool_m2 = math.pi * self.pool_m**2 if pooled else 0.0
        share = pool_m2 / vessel.mouth_m2
        under_m = self.floor_m - vessel.base_m

        bare = vessel.overlap_m(self.level_m, vessel.height_m)
        bare_w_per_k = WAX_TO_BARE_WALL_W_PER_M2K * vessel.mouth_m2 / SIDES * bare / bare.sum()
        below = vessel.overlap_m(vessel.base_m, self.floor_m)
        hanging = vessel.overlap_m(self.level_m, self.rim_m)
        touched_m2 = self._side_m * (below + hanging)
        mouth_w_per_k = MOUTH_W_PER_M2K * vessel.mouth_m2
        through_m2 = vessel.mouth_m2 - (pool_m2 if under_m <= _NOTHING_M else 0.0)
        bed_w_per_m2k = _CONDUCTIVITY / max(_DEEP * under_m, _BEDDING_M)

        of_solid = ((1.0 - share) * bare_w_per_k + SOLID_W_PER_M2K * touched_m2) * (
            solid_c - wall_c
        )
        base_w = bed_w_per_m2k * through_m2 * (solid_c - base_c)
        mouth_w = (1.0 - share) * mouth_w_per_k * (solid_c - room_c)
        self.solid_j -= dt_s * (float(of_solid.sum()) + base_w + mouth_w)
        if not pooled:
            self.seed(dt_s * (flame.foot_w + flame.radiant_w), flame.burned_g)
            return WaxFlows(wall_w=of_solid, base_w=base_w, mouth_w=mouth_w)

        of_liquid = share * bare_w_per_k * (liquid_c - wall_c)
        liquid_base_w = _DOWN_W_PER_M2K * (vessel.mouth_m2 - through_m2) * (liquid_c - base_c)
        liquid_mouth_w = share * mouth_w_per_k * (liquid_c - room_c)
        given_w = float(of_liquid.sum()) + liquid_base_w + liquid_mouth_w
        rim_w = (1.0 - self._share_seen()) * flame.radiant_w
        self.solid_j += dt_s * rim_w
        self.liquid_j += dt_s * (flame.foot_w + flame.radiant_w - rim_w - given_w)
        beside = self._sideways(dt_s, wall_c, liquid_c)
        if under_m > _NOTHING_M:
            self._downward(dt_s, pool_m2, bed_w_per_m2k, liquid_c, solid_c)
        self.burn(flame.burned_g)
        self.settle()
        return WaxFlows(
            wall_w=of_solid + of_liquid + beside,
            base_w=base_w + liquid_base_w,
            mouth_w=mouth_w + liquid_mouth_w,
        )

    def _share_seen(self) -> float:
        """Of the flame's radiation on the wax, the part that meets the pool."""
        pool, whole = (
            1.0 - FLAME_CENTRE_M / math.hypot(FLAME_CENTRE_M, radius_m)
            for radius_m in (self.pool_m, self.radius_m)
        )
        return pool / whole

    def _sideways(self, dt_s: float, wall_c: Grid, liquid_c: float) -> Grid:
        """Move the front at the pool's side; the heat that the glass beside it takes, watts.

        It takes it through the rim of solid, or where none is left, from the liquid itself.
        """
        area_m2 = self._side_m * self.vessel.overlap_m(self.floor_m, self.level_m) * self._near
        film_m = max(self.radius_m * math.log(self.radius_m / self.pool_m), _THINNEST_M)
        through: Grid = _CONDUCTIVITY / film_m * area_m2 * (MELTING_C - wall_c)
        front_m2 = 2.0 * math.pi * self.pool_m * self.depth_m
        front_w, out_w = _SIDE_W_PER_M2K * front_m2 * (liquid_c - MELTING_C), float(through.sum())
        if self.pool_m >= self.radius_m and front_w >= out_w:
            direct: Grid = _SIDE_W_PER_M2K * area_m2 * (liquid_c - wall_c)
            self.liquid_j -= dt_s * float(direct.sum())
            return direct
        self.liquid_j -= dt_s * out_w
        self.widen(dt_s * (front_w - out_w))
        return through

    def _downward(
        self, dt_s: float, pool_m2: float, bed_w_per_m2k: float, liquid_c: float, solid_c: float
    ) -> None:
        """Move the front under the pool; what goes through it warms the solid."""
        out_w = bed_w_per_m2k * pool_m2 * (MELTING_C - solid_c)
        self.liquid_j -= dt_s * out_w
        self.solid_j += dt_s * out_w
        self.deepen(dt_s * (_DOWN_W_PER_M2K * pool_m2 * (liquid_c - MELTING_C) - out_w))
