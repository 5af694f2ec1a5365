"""A candle in a glass vessel as a heat balance: nothing here is a drawn curve.

The flame releases what its wick burns. Most of it leaves with the plume; a part is radiated, and
geometry decides how much of that meets the wax, the wall or the open mouth; hot gas warms the wall
above the wax. Heat is stored in the glass (a grid of rings and sides, a rim, a base) and in the
wax, flows between them by conduction, and is lost outside by natural convection and radiation, and
to what the vessel stands on.

The wax is one lump of constant mass, as in a fresh candle's first burn; a `WholeCandle` has wax
that melts and is burned.
"""

import math
from dataclasses import dataclass
from typing import Protocol

import numpy as np

from simulators.heat_transfer import STEFAN_BOLTZMANN, ZERO_CELSIUS_K, convection_w_per_m2k
from simulators.jar import (
    FLAME_CENTRE_M,
    GLASS_KG_PER_M3,
    RINGS,
    SIDE_CLOCKS,
    SIDES,
    Grid,
    Vessel,
    Wick,
)
from simulators.lump_of_wax import Around, FlameHeat, LumpOfWax, WaxFlows
from simulators.room import Room

# Flame
HEAT_OF_COMBUSTION_J_PER_G = 43.8e3  # paraffin, lower value; Hamins et al., J. Fire Prot. Eng. 15
# (2005) 265-285 (from memory, medium); liquid n-alkanes C16 to C20: 43.9 (computed)
_RADIANT_SHARE = 0.18  # of a candle flame's heat (from memory, medium)
_GLASS_ABSORBS = 0.30  # of it where it meets the wall: 0.42 of a black 1700 K source lies beyond
# 2.7 um, where soda-lime glass turns opaque (Planck; temperature and edge from memory), less
# reflection and what 3 mm let through up to 4.5 um (from memory, low)
_TO_POOL_SHARE = 0.056  # flame foot and wick warm the wax; fitted to the plateaus makers see
_TO_WALL_SHARE = 0.005  # hot gas along the inner wall; fitted likewise
_TO_RIM_SHARE = 0.008  # the plume's edge at the mouth; fitted likewise
_FRESH_FLAME = 0.70  # of the full burn rate, before the pool feeds the wick; pillar candles burn
_FRESH_TAU_S = 1200.0  # nearly as much in their first hour as later (published laboratory rates)

# Glass: soda-lime container glass, published property tables
_GLASS_CONDUCTIVITY = 1.0  # W/(m K)
_GLASS_J_PER_KGK = 800.0
_GLASS_EMISSIVITY = 0.92  # hemispherical 0.84 to 0.92 (from memory, high)

_SUPPORT_W_PER_M2K = 8.0  # base on an insulating pad (from memory, low)

_DRAUGHT_SHARE = 0.18  # standard deviation of a side's convection; makes about 0.5 K on the wall
_DRAUGHT_TAU_S = 150.0  # how long a draught lasts (from memory, low)

_LONGEST_STEP_S = 5.0  # a tenth of the fastest node's own time constant


@dataclass(slots=True, kw_only=True)
class HeatBalance:
    """Where the heat went since the start, joules. Released = stored + lost."""

    released_j: float = 0.0
    plume_j: float = 0.0  # with the hot gas
    radiated_j: float = 0.0  # by the flame, through the mouth and the glass
    outside_j: float = 0.0  # from wall and rim to the room
    mouth_j: float = 0.0  # from the wax through the mouth
    support_j: float = 0.0  # from the base to what it stands on
    fuel_j: float = 0.0  # that the burned wax took along: its warmth, and that of its melting

    @property
    def lost_j(self) -> float:
        """All that is no longer in the candle."""
        gone_j = self.plume_j + self.radiated_j + self.outside_j + self.mouth_j
        return gone_j + self.support_j + self.fuel_j


class Wax(Protocol):
    """What the candle asks of its wax."""

    @property
    def level_m(self) -> float:
        """Height of its surface above the outside base."""

    @property
    def draw(self) -> float:
        """Factor on the wick's own rate."""

    @property
    def stored_j(self) -> float:
        """Heat in it above the start."""

    @property
    def fuel_j(self) -> float:
        """Heat that burned wax took along."""

    def step(self, dt_s: float, flame: FlameHeat, around: Around) -> WaxFlows:
        """Take up the flame's heat for `dt_s`, and burn; what leaves it meanwhile is returned."""


class Candle:
    """One candle; starts cold, at the room's temperature, unlit."""

    def __init__(
        self,
        wick: Wick,
        room: Room | None = None,
        vessel: Vessel | None = None,
        *,
        draught_share: float = _DRAUGHT_SHARE,
        seed: int = 0,
    ) -> None:
        self.wick = wick
        self.room = Room() if room is None else room
        self.vessel = vessel = Vessel() if vessel is None else vessel
        self.elapsed_s = 0.0
        self.burned_g = 0.0
        self.ledger = HeatBalance()
        self._rng = np.random.default_rng(seed)
        self._draught_share = draught_share
        self._draught = draught_share * self._rng.standard_normal(SIDES)
        self._lit_at_s: float | None = None
        self._leans_w = np.zeros((RINGS, SIDES))
        self._leaning_w = 0.0  # their sum

        ring_m = vessel.height_m / RINGS
        side_m = math.pi * vessel.diameter_m / SIDES
        self._ring_m = ring_m
        self._cell_m2 = ring_m * side_m
        rim_m2 = 2.0 * SIDES * side_m * 0.005  # a lip 5 mm high, open on both faces
        self._rim_m2 = rim_m2
        base_m2 = 0.25 * math.pi * vessel.diameter_m**2
        self._support_w_per_k = _SUPPORT_W_PER_M2K * base_m2

        glass_j_per_m3k = GLASS_KG_PER_M3 * _GLASS_J_PER_KGK
        self._cell_j_per_k = glass_j_per_m3k * self._cell_m2 * vessel.wall_m
        self._rim_j_per_k = 0.5 * glass_j_per_m3k * rim_m2 * vessel.wall_m
        self._base_j_per_k = glass_j_per_m3k * base_m2 * vessel.base_m

        along = _GLASS_CONDUCTIVITY * vessel.wall_m * side_m / ring_m
        around = _GLASS_CONDUCTIVITY * vessel.wall_m * ring_m / side_m
        self._along = along * _second_difference(RINGS, closed=False)
        self._around = around * _second_difference(SIDES, closed=True)
        self._rim_w_per_k = 2.0 * along  # each side to the rim: half a ring of glass
        self._base_w_per_k = 2.0 * along  # each side to the base, likewise

        self._start_c = self.room_c
        self._wall_c = np.full((RINGS, SIDES), self._start_c)
        self.wax: Wax = self._poured()
        self._aim()
        self.base_c = self._start_c
        self.rim_c = self._start_c

    def _poured(self) -> Wax:
        """The wax of this candle, cold."""
        return LumpOfWax(self.vessel, self.wick, self._start_c)

    def _aim(self) -> None:
        """Share the flame's heat out for where wick and level are now."""
        level_m = self._aimed_m = self.wax.level_m
        radiant, to_wax = _radiant_shares(self.vessel, self.wick, level_m)
        absorbed = _RADIANT_SHARE * _GLASS_ABSORBS * radiant
        bare = np.clip(np.arange(1, RINGS + 1) - level_m / self._ring_m, 0.0, 1.0)
        sides = radiant.sum(axis=0) / radiant.sum()
        self._wall_share = absorbed + _TO_WALL_SHARE * np.outer(bare / bare.sum(), sides)
        self._wax_share = _RADIANT_SHARE * to_wax
        self._radiated_share = _RADIANT_SHARE * (1.0 - to_wax) - float(absorbed.sum())
        self._plume_share = 1.0 - _RADIANT_SHARE - _TO_POOL_SHARE - _TO_WALL_SHARE - _TO_RIM_SHARE

    @property
    def lit(self) -> bool:
        """Whether the flame burns."""
        return self._lit_at_s is not None

    @property
    def room_c(self) -> float:
        """Air of the room now, degC."""
        return self.room.air_c(self.elapsed_s)

    @property
    def hottest_wall_c(self) -> float:
        """The hottest cell of the wall, degC."""
        return float(self._wall_c.max())

    @property
    def stored_j(self) -> float:
        """Heat in glass and wax above the start."""
        return (
            self._cell_j_per_k * float((self._wall_c - self._start_c).sum())
            + self.wax.stored_j
            + self._base_j_per_k * (self.base_c - self._start_c)
            + self._rim_j_per_k * (self.rim_c - self._start_c)
        )

    def light(self) -> None:
        """Light the wick; lighting a burning one changes nothing."""
        if self._lit_at_s is None:
            self._lit_at_s = self.elapsed_s

    def extinguish(self) -> None:
        """Put the flame out."""
        self._lit_at_s = None

    def lean(self, toward_clock: int, power_w: float) -> None:
        """Let the flame lean: `power_w` of its plume meets the bare wall on one side; 0 ends it.

        6 W on a cell heat it by about 1 K/s (computed: 9 cm^2 of glass, 3 mm thick, take 5.7 J/K).
        """
        if not 0.0 <= power_w <= 20.0 or toward_clock not in SIDE_CLOCKS:
            raise ValueError("a flame leans to a side of the grid, with 0 to 20 W")
        self._leans_w[:] = 0.0
        ring = min(RINGS - 1, int((self.wax.level_m + FLAME_CENTRE_M) / self._ring_m))
        self._leans_w[ring, SIDE_CLOCKS.index(toward_clock)] = power_w
        self._leaning_w = power_w

    def flame_w(self) -> float:
        """Heat the flame releases now, watts."""
        return self._burn_g_per_s() * HEAT_OF_COMBUSTION_J_PER_G

    def wall_c(self, height_mm: float, clock: float) -> float:
        """Outside of the wall at a height above the outside base and a clock position, degC.

        Between the cells' centres it is linear; raises ValueError off the vessel.
        """
        if not 0.0 <= height_mm <= 1e3 * self.vessel.height_m or not 0.0 <= clock <= 12.0:
            raise ValueError(f"no wall at {height_mm:g} mm, {clock:g} o'clock")
        ring = min(max(1e-3 * height_mm / self._ring_m - 0.5, 0.0), RINGS - 1.0)
        low = min(int(ring), RINGS - 2)
        side = clock * SIDES / 12.0
        left = int(side)
        toward_right = side - left
        row = self._wall_c[low] + (ring - low) * (self._wall_c[low + 1] - self._wall_c[low])
        at_left, at_right = row[left % SIDES], row[(left + 1) % SIDES]
        return float(at_left + toward_right * (at_right - at_left))

    def step(self, dt_s: float) -> None:
        """Go on by `dt_s` seconds; long steps are cut, so that any length is stable."""
        if dt_s < 0.0:
            raise ValueError("time does not run backwards")
        pieces = math.ceil(dt_s / _LONGEST_STEP_S)
        for _ in range(pieces):
            self._advance(dt_s / pieces)

    def _burn_g_per_s(self) -> float:
        if self._lit_at_s is None:
            return 0.0
        fresh = math.exp((self._lit_at_s - self.elapsed_s) / _FRESH_TAU_S)
        full = self.wax.draw * self.wick.burn_g_per_h / 3600.0
        return full * (1.0 - (1.0 - _FRESH_FLAME) * fresh)

    def _advance(self, dt_s: float) -> None:
        """One explicit Euler step: every flow is taken at the present temperatures."""
        wall_c, room_c = self._wall_c, self.room_c
        burn_g_per_s = self._burn_g_per_s()
        flame_w = burn_g_per_s * HEAT_OF_COMBUSTION_J_PER_G
        room_k4 = (room_c + ZERO_CELSIUS_K) ** 4
        still = convection_w_per_m2k(
            float(wall_c.sum()) / wall_c.size, room_c, self.vessel.height_m
        )
        moved = still * self.room.air_movement(self.elapsed_s)

        emitted = _GLASS_EMISSIVITY * STEFAN_BOLTZMANN * ((wall_c + ZERO_CELSIUS_K) ** 4 - room_k4)
        convected = moved * np.maximum(1.0 + self._draught, 0.2) * (wall_c - room_c)
        outside_w = self._cell_m2 * (emitted + convected)
        to_rim_w = self._rim_w_per_k * (wall_c[-1] - self.rim_c)
        to_base_w = self._base_w_per_k * (wall_c[0] - self.base_c)
        rim_k4 = (self.rim_c + ZERO_CELSIUS_K) ** 4
        rim_outside_w = self._rim_m2 * (
            _GLASS_EMISSIVITY * STEFAN_BOLTZMANN * (rim_k4 - room_k4)
            + moved * (self.rim_c - room_c)
        )
        burned_g = dt_s * burn_g_per_s
        of_wax = self.wax.step(
            dt_s,
            FlameHeat(
                foot_w=flame_w * _TO_POOL_SHARE,
                radiant_w=flame_w * self._wax_share,
                burned_g=burned_g,
            ),
            Around(wall_c=wall_c, base_c=self.base_c, room_c=room_c),
        )
        support_w = self._support_w_per_k * (self.base_c - room_c)

        heating_w = flame_w * self._wall_share
        leaning_w = self._leaning_w if self.lit else 0.0
        if leaning_w > 0.0:
            heating_w += self._leans_w
        heating_w = heating_w - outside_w + of_wax.wall_w
        heating_w += self._along @ wall_c + wall_c @ self._around
        heating_w[-1] -= to_rim_w
        heating_w[0] -= to_base_w
        rim_w = flame_w * _TO_RIM_SHARE + float(to_rim_w.sum()) - rim_outside_w
        base_w = float(to_base_w.sum()) + of_wax.base_w - support_w

        self._wall_c = wall_c + (dt_s / self._cell_j_per_k) * heating_w
        self.rim_c += dt_s / self._rim_j_per_k * rim_w
        self.base_c += dt_s / self._base_j_per_k * base_w

        ledger = self.ledger
        ledger.released_j += dt_s * flame_w
        ledger.plume_j += dt_s * (flame_w * self._plume_share - leaning_w)
        ledger.radiated_j += dt_s * flame_w * self._radiated_share
        ledger.outside_j += dt_s * (float(outside_w.sum()) + rim_outside_w)
        ledger.mouth_j += dt_s * of_wax.mouth_w
        ledger.support_j += dt_s * support_w
        ledger.fuel_j = self.wax.fuel_j
        self.burned_g += burned_g
        self.elapsed_s += dt_s
        # Ornstein-Uhlenbeck, exact for any step: the variance does not depend on dt_s.
        kept = math.exp(-dt_s / _DRAUGHT_TAU_S)
        fresh = self._draught_share * math.sqrt(1.0 - kept * kept)
        self._draught = kept * self._draught + fresh * self._rng.standard_normal(SIDES)


def _second_difference(size: int, *, closed: bool) -> Grid:
    """Matrix of what each node gains from its neighbours; columns sum to zero: nothing is lost."""
    links = np.zeros((size, size))
    for left in range(size if closed else size - 1):
        right = (left + 1) % size
        links[left, right] += 1.0
        links[right, left] += 1.0
    matrix: Grid = links - np.diag(links.sum(axis=0))
    return matrix


def _radiant_shares(vessel: Vessel, wick: Wick, level_m: float) -> tuple[Grid, float]:
    """Shares of a point flame's radiation that meet each cell of the wall, and the wax.

    A patch seen under the solid angle dA cos / d^2 gets dA cos / (4 pi d^2); the wax is a disc
    under the flame; the rest leaves through the mouth.
    """
    fine_rings, fine_sides = 10 * RINGS, 15 * SIDES
    radius_m, flame_m = vessel.inner_radius_m, level_m + FLAME_CENTRE_M
    height_m = (np.arange(fine_rings) + 0.5)[:, np.newaxis] * vessel.height_m / fine_rings
    # Sides are centred on their clock position: the first starts half a side before 12 o'clock.
    angle = ((np.arange(fine_sides) + 0.5) / fine_sides - 0.5 / SIDES) * 2.0 * math.pi
    patch_m2 = (vessel.height_m / fine_rings) * (2.0 * math.pi * radius_m / fine_sides)
    toward = angle - wick.toward_clock * math.pi / 6.0
    offset_m = 1e-3 * wick.offset_mm
    inward_m = radius_m - offset_m * np.cos(toward)
    distance2_m2 = radius_m**2 + offset_m**2 - 2.0 * radius_m * offset_m * np.cos(toward)
    distance2_m2 = distance2_m2 + (height_m - flame_m) ** 2
    fine = np.where(
        height_m > level_m,
        patch_m2 * inward_m / (4.0 * math.pi * distance2_m2**1.5),
        0.0,
    )
    cells: Grid = fine.reshape(RINGS, 10, SIDES, 15).sum(axis=(1, 3))
    to_wax = 0.5 * (1.0 - FLAME_CENTRE_M / math.hypot(FLAME_CENTRE_M, radius_m))
    return cells, to_wax
