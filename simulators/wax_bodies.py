"""Solid wax and the pool in it: masses, heights and heat; both balances close whatever happens.

The pool is a disc under the flame, the solid lies around and below it; each has one temperature.
Where the pool has not reached the glass, a rim of wax stays hanging above it. Volumes are those of
solid wax: what liquid takes more (about a sixth) is left out. A rim that hung is levelled when the
pool has set.
"""

import math
from dataclasses import dataclass

from simulators.jar import WAX_KG_PER_M3, Vessel

MELTING_C = 56.0  # paraffin 46 to 68, soy 48 to 54 (published tables)
LATENT_J_PER_G = 200.0  # 180 to 220 of commercial wax (from memory, high)
SOLID_J_PER_GK = 2.4  # 2.14 to 2.9 (published tables)
LIQUID_J_PER_GK = 2.28  # n-C25 at 70 degC (computed with the open library thermo)
SEED_G = 0.3  # liquid that makes a pool: a wick's foot, about 12 mm wide
_ASPECT = 0.5  # depth of it to its radius
_LEFTOVER_G = 2.0  # of solid that melts at once; likewise
G_PER_M3 = 1e3 * WAX_KG_PER_M3


@dataclass(frozen=True, slots=True, kw_only=True)
class Pool:
    """The melt pool as one would measure it."""

    diameter_mm: float
    depth_mm: float
    hang_up_mm: float  # width of the rim of solid at the glass, at the pool's level


class WaxBodies:
    """Wax poured and set, at `start_c`."""

    def __init__(self, vessel: Vessel, start_c: float) -> None:
        self.vessel, self._start_c = vessel, start_c
        self.radius_m = vessel.inner_radius_m
        self.pool_m = 0.0  # radius
        self.depth_m = 0.0
        self.rim_m = self.level_m = vessel.wax_level_m  # of wax at the glass, and at the wick
        self.liquid_j = 0.0  # enthalpy above solid wax at the start
        self.solid_j = 0.0
        self.fuel_j = 0.0  # that the burned wax took along

    @property
    def liquid_g(self) -> float:
        """Mass of the pool."""
        return G_PER_M3 * math.pi * self.pool_m**2 * self.depth_m

    @property
    def mass_g(self) -> float:
        """Mass of all wax."""
        rim_m2 = math.pi * (self.radius_m**2 - self.pool_m**2)
        base_m = self.vessel.base_m
        inside_m3 = math.pi * self.pool_m**2 * (self.level_m - base_m)
        return G_PER_M3 * (inside_m3 + rim_m2 * (self.rim_m - base_m))

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
        return MELTING_C + (self.liquid_j / mass_g - self._melt_j_per_g) / LIQUID_J_PER_GK

    @property
    def solid_c(self) -> float:
        """Temperature of the solid, degC; the melting point where there is none."""
        mass_g = self.solid_g
        if mass_g <= 0.0:
            return MELTING_C
        return self._start_c + self.solid_j / (mass_g * SOLID_J_PER_GK)

    @property
    def pool(self) -> Pool:
        """The melt pool now."""
        return Pool(
            diameter_mm=2e3 * self.pool_m,
            depth_mm=1e3 * self.depth_m,
            hang_up_mm=1e3 * (self.radius_m - self.pool_m),
        )

    @property
    def stored_j(self) -> float:
        """Heat in it above the start."""
        return self.liquid_j + self.solid_j

    @property
    def _melt_j_per_g(self) -> float:
        """Enthalpy of wax just molten."""
        return SOLID_J_PER_GK * (MELTING_C - self._start_c) + LATENT_J_PER_G

    @property
    def floor_m(self) -> float:
        """Height of the pool's bottom."""
        return self.level_m - self.depth_m

    def seed(self, heat_j: float, burned_g: float) -> None:
        """Before there is a pool: the flame melts a drop at its foot, and burns of it."""
        if heat_j <= 0.0:
            return
        melted_g = heat_j / self._to_melt_j_per_g(self.solid_c)
        liquid_g = self.liquid_g + melted_g
        self.solid_j -= melted_g * SOLID_J_PER_GK * (self.solid_c - self._start_c)
        self.liquid_j += melted_g * self._melt_j_per_g
        burned_g = min(burned_g, liquid_g)
        burned_j = self.liquid_j * burned_g / liquid_g
        self.liquid_j -= burned_j
        self.fuel_j += burned_j
        mass_g = self.mass_g - burned_g
        self._level_out(mass_g)
        self.pool_m = ((liquid_g - burned_g) / (G_PER_M3 * math.pi * _ASPECT)) ** (1.0 / 3.0)
        self.depth_m = _ASPECT * self.pool_m

    def widen(self, net_j: float) -> None:
        """Heat at the pool's side: it melts the rim there, or where it lacks, wax sets."""
        solid_c, floor_m, before_m2 = self.solid_c, self.floor_m, self.pool_m**2
        rim_m2 = math.pi * (self.radius_m**2 - before_m2)
        rim_g = G_PER_M3 * rim_m2 * (self.rim_m - floor_m)
        grown_m3 = self._melt(net_j, rim_g, solid_c) / G_PER_M3
        if grown_m3 >= 0.0:
            after_m2 = before_m2 + grown_m3 / (math.pi * (self.rim_m - floor_m))
            after_m2 = min(after_m2, self.radius_m**2)
            poured_in = (after_m2 - before_m2) * self.rim_m
            self.level_m = (before_m2 * self.level_m + poured_in) / after_m2
            self.depth_m = self.level_m - floor_m
        else:
            after_m2 = before_m2 + grown_m3 / (math.pi * self.depth_m)
            rim_was, rim_is = self.radius_m**2 - before_m2, self.radius_m**2 - after_m2
            frozen = (before_m2 - after_m2) * self.level_m
            self.rim_m = (rim_was * self.rim_m + frozen) / rim_is
        self.pool_m = math.sqrt(after_m2)

    def deepen(self, net_j: float) -> None:
        """Heat under the pool: it melts what is there, or where it lacks, wax sets."""
        pool_m2 = math.pi * self.pool_m**2
        under_g = G_PER_M3 * pool_m2 * (self.floor_m - self.vessel.base_m)
        self.depth_m += self._melt(net_j, under_g, self.solid_c) / (G_PER_M3 * pool_m2)

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
        self.solid_j -= melted_g * sensible_j
        self.liquid_j += melted_g * sensible_j
        return melted_g

    def burn(self, burned_g: float) -> None:
        """Let the wick draw from the pool, with the heat that is in it."""
        liquid_g = self.liquid_g
        burned_g = min(burned_g, liquid_g)
        burned_j = self.liquid_j * burned_g / liquid_g
        self.liquid_j -= burned_j
        self.fuel_j += burned_j
        sunk_m = burned_g / (G_PER_M3 * math.pi * self.pool_m**2)
        self.level_m -= sunk_m
        self.depth_m -= sunk_m
        if self.pool_m >= self.radius_m:
            self.rim_m = self.level_m

    def settle(self) -> None:
        """What is colder than molten wax sets; small rests become like what is around them."""
        lacking_j = self.liquid_g * self._melt_j_per_g - self.liquid_j
        if lacking_j > 0.0:
            set_g = min(lacking_j / LATENT_J_PER_G, self.liquid_g)
            set_j = set_g * (self._melt_j_per_g - LATENT_J_PER_G)
            self.liquid_j -= set_j
            self.solid_j += set_j
            self.depth_m -= set_g / (G_PER_M3 * math.pi * self.pool_m**2)
        mass_g = self.mass_g
        if self.liquid_g < SEED_G:
            self.solid_j += self.liquid_j
            self.liquid_j = self.pool_m = self.depth_m = 0.0
            self._level_out(mass_g)
        elif self.solid_g < _LEFTOVER_G:
            self.liquid_j += self.solid_j
            self.solid_j, self.pool_m = 0.0, self.radius_m
            self._level_out(mass_g)
            self.depth_m = self.level_m - self.vessel.base_m

    def _level_out(self, mass_g: float) -> None:
        filled_m = mass_g / (G_PER_M3 * self.vessel.mouth_m2)
        self.level_m = self.rim_m = self.vessel.base_m + filled_m

    def _to_melt_j_per_g(self, solid_c: float) -> float:
        return SOLID_J_PER_GK * (MELTING_C - solid_c) + LATENT_J_PER_G
