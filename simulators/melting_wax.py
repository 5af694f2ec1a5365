"""The wax of a whole candle: solid and melt pool, from the first lighting to the last.

Two bodies of wax, each of one temperature: the liquid, a disc under the flame, and the solid
around and below it. The flame warms the liquid; what the liquid gives to its two fronts, sideways
and down, less what goes on into solid and glass, melts wax or lets it freeze. The wick draws from
the liquid, so the level falls; where the pool has not reached the glass, a rim of wax stays
hanging above it. Volumes are those of solid wax: what liquid takes more (about a sixth) is left
out. A rim that hung is levelled when the pool has set.
"""

import math
from dataclasses import dataclass

from simulators.jar import FLAME_CENTRE_M, SIDES, WAX_KG_PER_M3, Grid, Vessel, Wick
from simulators.lump_of_wax import (
    MOUTH_W_PER_M2K,
    SOLID_W_PER_M2K,
    WAX_TO_BARE_WALL_W_PER_M2K,
    Around,
    FlameHeat,
    WaxFlows,
)

MELTING_C = 56.0  # paraffin 46 to 68, soy 48 to 54 (published tables)
LATENT_J_PER_G = 200.0  # 180 to 220 of commercial wax (from memory, high)
SOLID_J_PER_GK = 2.4  # 2.14 to 2.9 (published tables)
LIQUID_J_PER_GK = 2.28  # n-C25 at 70 degC (computed with the open library thermo)
_CONDUCTIVITY = 0.25  # W/(m K), solid: 0.2 to 0.25 (from memory, high)
_SIDE_W_PER_M2K = 40.0  # pool to its side; fitted to the trade's full pool in 2.5 to 5 h
_DOWN_W_PER_M2K = 15.0  # downward: warm liquid lies on colder; fitted to 6 to 13 mm after 4 h
_DEEP = 0.4  # of the solid under the pool, how far heat goes into it; fitted likewise
_THINNEST_M = 3e-4  # film of solid on the glass; for a stable step
_BEDDING_M = 4e-3  # solid never resists less than this on its way to base and front; likewise
_NOTHING_M = 1e-6
_SEED_G = 0.3  # liquid that makes a pool: a wick's foot, about 12 mm wide
_ASPECT = 0.5  # depth of it to its radius
_LEFTOVER_G = 2.0  # of solid that melts at once; likewise
_DRAW_AT_END = 0.15  # the rate rises as a container empties (common practice; size our choice)
_G_PER_M3 = 1e3 * WAX_KG_PER_M3


@dataclass(frozen=True, slots=True, kw_only=True)
class Pool:
    """The melt pool as one would measure it."""

    diameter_mm: float
    depth_mm: float
    hang_up_mm: float  # width of the rim of solid at the glass, at the pool's level


class MeltingWax:
    """Wax poured and set, at `start_c`; see the module."""

    def __init__(self, vessel: Vessel, wick: Wick, start_c: float) -> None:
        self._vessel, self._start_c = vessel, start_c
        self._radius_m = vessel.inner_radius_m
        self._near = vessel.nearness(wick)
        self._side_m = 2.0 * math.pi * self._radius_m / SIDES
        self._pool_m = 0.0  # radius
        self._depth_m = 0.0
        self._rim_m = self.level_m = vessel.wax_level_m  # of wax at the glass, and at the wick
        self._poured_g = vessel.wax_g
        self._liquid_j = 0.0  # of enthalpy, above solid wax at the start
        self._solid_j = 0.0
        self.fuel_j = 0.0  # that the burned wax took along

    def set_wick(self, wick: Wick) -> None:
        """Say which wick stands in it now."""
        self._near = self._vessel.nearness(wick)

    @property
    def liquid_g(self) -> float:
        """Mass of the pool."""
        return _G_PER_M3 * math.pi * self._pool_m**2 * self._depth_m

    @property
    def mass_g(self) -> float:
        """Mass of all wax."""
        rim_m2 = math.pi * (self._radius_m**2 - self._pool_m**2)
        base_m = self._vessel.base_m
        inside_m3 = math.pi * self._pool_m**2 * (self.level_m - base_m)
        return _G_PER_M3 * (inside_m3 + rim_m2 * (self._rim_m - base_m))

    @property
    def solid_g(self) -> float:
        """Mass of what is not molten."""
        return max(self.mass_g - self.liquid_g, 0.0)

    @property
    def liquid_c(self) -> float:
        """Temperature of the pool, degC; the melting point where there is none."""
        mass_g = self.liquid_g
        if mass_g <= 0.0:
            return MELTING_C
        return MELTING_C + (self._liquid_j / mass_g - self._melt_j_per_g) / LIQUID_J_PER_GK

    @property
    def solid_c(self) -> float:
        """Temperature of the solid, degC; the melting point where there is none."""
        mass_g = self.solid_g
        if mass_g <= 0.0:
            return MELTING_C
        return self._start_c + self._solid_j / (mass_g * SOLID_J_PER_GK)

    @property
    def pool(self) -> Pool:
        """The melt pool now."""
        return Pool(
            diameter_mm=2e3 * self._pool_m,
            depth_mm=1e3 * self._depth_m,
            hang_up_mm=1e3 * (self._radius_m - self._pool_m),
        )

    @property
    def draw(self) -> float:
        """Factor on the wick's own rate."""
        return 1.0 + _DRAW_AT_END * (1.0 - self.mass_g / self._poured_g)

    @property
    def stored_j(self) -> float:
        """Heat in it above the start."""
        return self._liquid_j + self._solid_j

    @property
    def _melt_j_per_g(self) -> float:
        """Enthalpy of wax just molten."""
        return SOLID_J_PER_GK * (MELTING_C - self._start_c) + LATENT_J_PER_G

    @property
    def _floor_m(self) -> float:
        return self.level_m - self._depth_m

    def step(self, dt_s: float, flame: FlameHeat, around: Around) -> WaxFlows:
        """Take up the flame's heat for `dt_s`, and burn; what leaves it meanwhile is returned."""
        wall_c, base_c, room_c = around.wall_c, around.base_c, around.room_c
        vessel, liquid_c, solid_c = self._vessel, self.liquid_c, self.solid_c
        pooled = self.liquid_g >= _SEED_G
        pool_m2 = math.pi * self._pool_m**2 if pooled else 0.0
        share = pool_m2 / vessel.mouth_m2
        under_m = self._floor_m - vessel.base_m

        bare = vessel.overlap_m(self.level_m, vessel.height_m)
        bare_w_per_k = WAX_TO_BARE_WALL_W_PER_M2K * vessel.mouth_m2 / SIDES * bare / bare.sum()
        below = vessel.overlap_m(vessel.base_m, self._floor_m)
        hanging = vessel.overlap_m(self.level_m, self._rim_m)
        touched_m2 = self._side_m * (below + hanging)
        mouth_w_per_k = MOUTH_W_PER_M2K * vessel.mouth_m2
        through_m2 = vessel.mouth_m2 - (pool_m2 if under_m <= _NOTHING_M else 0.0)
        bed_w_per_m2k = _CONDUCTIVITY / max(_DEEP * under_m, _BEDDING_M)

        of_solid = ((1.0 - share) * bare_w_per_k + SOLID_W_PER_M2K * touched_m2) * (
            solid_c - wall_c
        )
        base_w = bed_w_per_m2k * through_m2 * (solid_c - base_c)
        mouth_w = (1.0 - share) * mouth_w_per_k * (solid_c - room_c)
        self._solid_j -= dt_s * (float(of_solid.sum()) + base_w + mouth_w)
        if not pooled:
            self._seed(dt_s * (flame.foot_w + flame.radiant_w), flame.burned_g)
            return WaxFlows(wall_w=of_solid, base_w=base_w, mouth_w=mouth_w)

        of_liquid = share * bare_w_per_k * (liquid_c - wall_c)
        liquid_base_w = _DOWN_W_PER_M2K * (vessel.mouth_m2 - through_m2) * (liquid_c - base_c)
        liquid_mouth_w = share * mouth_w_per_k * (liquid_c - room_c)
        given_w = float(of_liquid.sum()) + liquid_base_w + liquid_mouth_w
        rim_w = (1.0 - self._share_seen()) * flame.radiant_w
        self._solid_j += dt_s * rim_w
        self._liquid_j += dt_s * (flame.foot_w + flame.radiant_w - rim_w - given_w)
        beside = self._melt_sideways(dt_s, wall_c, liquid_c, solid_c)
        if under_m > _NOTHING_M:
            self._melt_down(dt_s, pool_m2, bed_w_per_m2k, liquid_c, solid_c)
        self._burn(flame.burned_g)
        self._settle()
        return WaxFlows(
            wall_w=of_solid + of_liquid + beside,
            base_w=base_w + liquid_base_w,
            mouth_w=mouth_w + liquid_mouth_w,
        )

    def _share_seen(self) -> float:
        """Of the flame's radiation on the wax, the part that meets the pool."""
        pool, whole = (
            1.0 - FLAME_CENTRE_M / math.hypot(FLAME_CENTRE_M, radius_m)
            for radius_m in (self._pool_m, self._radius_m)
        )
        return pool / whole

    def _seed(self, heat_j: float, burned_g: float) -> None:
        """Before there is a pool: the flame melts a drop at its foot, and burns of it."""
        if heat_j <= 0.0:
            return
        melted_g = heat_j / self._to_melt_j_per_g(self.solid_c)
        liquid_g = self.liquid_g + melted_g
        self._solid_j -= melted_g * SOLID_J_PER_GK * (self.solid_c - self._start_c)
        self._liquid_j += melted_g * self._melt_j_per_g
        burned_g = min(burned_g, liquid_g)
        burned_j = self._liquid_j * burned_g / liquid_g
        self._liquid_j -= burned_j
        self.fuel_j += burned_j
        mass_g = self.mass_g - burned_g
        self._level_out(mass_g)
        self._pool_m = ((liquid_g - burned_g) / (_G_PER_M3 * math.pi * _ASPECT)) ** (1.0 / 3.0)
        self._depth_m = _ASPECT * self._pool_m

    def _melt_sideways(self, dt_s: float, wall_c: Grid, liquid_c: float, solid_c: float) -> Grid:
        """Move the front at the pool's side; the heat that the glass beside it takes, watts.

        It takes it through the rim of solid, or where none is left, from the liquid itself.
        """
        area_m2 = self._side_m * self._vessel.overlap_m(self._floor_m, self.level_m) * self._near
        film_m = max(self._radius_m * math.log(self._radius_m / self._pool_m), _THINNEST_M)
        through: Grid = _CONDUCTIVITY / film_m * area_m2 * (MELTING_C - wall_c)
        front_m2 = 2.0 * math.pi * self._pool_m * self._depth_m
        front_w, out_w = _SIDE_W_PER_M2K * front_m2 * (liquid_c - MELTING_C), float(through.sum())
        if self._pool_m >= self._radius_m and front_w >= out_w:
            direct: Grid = _SIDE_W_PER_M2K * area_m2 * (liquid_c - wall_c)
            self._liquid_j -= dt_s * float(direct.sum())
            return direct
        rim_m2 = math.pi * (self._radius_m**2 - self._pool_m**2)
        rim_g = _G_PER_M3 * rim_m2 * (self._rim_m - self._floor_m)
        self._liquid_j -= dt_s * out_w
        grown_m3 = self._melt(dt_s * (front_w - out_w), rim_g, solid_c) / _G_PER_M3
        before_m2, floor_m = self._pool_m**2, self._floor_m
        if grown_m3 >= 0.0:
            after_m2 = before_m2 + grown_m3 / (math.pi * (self._rim_m - floor_m))
            after_m2 = min(after_m2, self._radius_m**2)
            poured_in = (after_m2 - before_m2) * self._rim_m
            self.level_m = (before_m2 * self.level_m + poured_in) / after_m2
            self._depth_m = self.level_m - floor_m
        else:
            after_m2 = before_m2 + grown_m3 / (math.pi * self._depth_m)
            rim_was, rim_is = self._radius_m**2 - before_m2, self._radius_m**2 - after_m2
            frozen = (before_m2 - after_m2) * self.level_m
            self._rim_m = (rim_was * self._rim_m + frozen) / rim_is
        self._pool_m = math.sqrt(after_m2)
        return through

    def _melt_down(
        self, dt_s: float, pool_m2: float, bed_w_per_m2k: float, liquid_c: float, solid_c: float
    ) -> None:
        """Move the front under the pool; what goes through it warms the solid."""
        under_g = _G_PER_M3 * pool_m2 * (self._floor_m - self._vessel.base_m)
        out_w = bed_w_per_m2k * pool_m2 * (MELTING_C - solid_c)
        self._liquid_j -= dt_s * out_w
        self._solid_j += dt_s * out_w
        net_w = _DOWN_W_PER_M2K * pool_m2 * (liquid_c - MELTING_C) - out_w
        grown_g = self._melt(dt_s * net_w, under_g, solid_c)
        self._depth_m += grown_g / (_G_PER_M3 * math.pi * self._pool_m**2)

    def _melt(self, net_j: float, there_g: float, solid_c: float) -> float:
        """Mass that heat at a front makes liquid, of `there_g`; below zero what sets there.

        Its enthalpy changes sides. What the front passed on was taken from the liquid before:
        where wax sets, its latent heat is given back to it.
        """
        if net_j >= 0.0:
            melted_g = min(net_j / self._to_melt_j_per_g(solid_c), there_g)
            sensible_j = SOLID_J_PER_GK * (solid_c - self._start_c)
        else:
            melted_g = max(net_j / LATENT_J_PER_G, -0.5 * self.liquid_g)
            sensible_j = self._melt_j_per_g - LATENT_J_PER_G
        # Melting keeps in the liquid the heat that it cost; setting brings the latent heat back.
        self._solid_j -= melted_g * sensible_j
        self._liquid_j += melted_g * sensible_j
        return melted_g

    def _burn(self, burned_g: float) -> None:
        liquid_g = self.liquid_g
        burned_g = min(burned_g, liquid_g)
        burned_j = self._liquid_j * burned_g / liquid_g
        self._liquid_j -= burned_j
        self.fuel_j += burned_j
        sunk_m = burned_g / (_G_PER_M3 * math.pi * self._pool_m**2)
        self.level_m -= sunk_m
        self._depth_m -= sunk_m
        if self._pool_m >= self._radius_m:
            self._rim_m = self.level_m

    def _settle(self) -> None:
        """What is colder than molten wax sets; small rests become like what is around them."""
        lacking_j = self.liquid_g * self._melt_j_per_g - self._liquid_j
        if lacking_j > 0.0:
            set_g = min(lacking_j / LATENT_J_PER_G, self.liquid_g)
            set_j = set_g * (self._melt_j_per_g - LATENT_J_PER_G)
            self._liquid_j -= set_j
            self._solid_j += set_j
            self._depth_m -= set_g / (_G_PER_M3 * math.pi * self._pool_m**2)
        mass_g = self.mass_g
        if self.liquid_g < _SEED_G:
            self._solid_j += self._liquid_j
            self._liquid_j = self._pool_m = self._depth_m = 0.0
            self._level_out(mass_g)
        elif self.solid_g < _LEFTOVER_G:
            self._liquid_j += self._solid_j
            self._solid_j, self._pool_m = 0.0, self._radius_m
            self._level_out(mass_g)
            self._depth_m = self.level_m - self._vessel.base_m

    def _level_out(self, mass_g: float) -> None:
        filled_m = mass_g / (_G_PER_M3 * self._vessel.mouth_m2)
        self.level_m = self._rim_m = self._vessel.base_m + filled_m

    def _to_melt_j_per_g(self, solid_c: float) -> float:
        return SOLID_J_PER_GK * (MELTING_C - solid_c) + LATENT_J_PER_G
