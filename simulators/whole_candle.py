"""A candle from its first lighting to its last: it can be weighed, and goes out by itself."""

from simulators.candle import Candle, Wax
from simulators.jar import Wick
from simulators.melting_wax import MeltingWax
from simulators.wax_bodies import Pool

_AIM_AGAIN_M = 1e-3  # the flame's heat is shared out anew as often as the level fell this far


class WholeCandle(Candle):
    """A candle whose wax melts and is burned; built, lit, put out and stepped as any.

    It goes out by itself when the pool is down to the neck of the wick's tab (`lit` tells).
    """

    def _poured(self) -> Wax:
        self.melting_wax = MeltingWax(self.vessel, self.wick, self._start_c)
        return self.melting_wax

    @property
    def mass_g(self) -> float:
        """What a balance shows: vessel and wax."""
        return self.vessel.glass_g + self.melting_wax.mass_g

    @property
    def wax_g(self) -> float:
        """Mass of the wax that is left."""
        return self.melting_wax.mass_g

    @property
    def level_mm(self) -> float:
        """Height of the wax at the wick, above the outside base."""
        return 1e3 * self.melting_wax.level_m

    @property
    def pool(self) -> Pool:
        """The melt pool now."""
        return self.melting_wax.pool

    def rewick(self, wick: Wick) -> None:
        """Set another wick into the same wax, as for a shared pour. Raises ValueError while lit."""
        if self.lit:
            raise ValueError("a burning candle takes no other wick")
        self.wick = wick
        self.melting_wax.set_wick(wick)
        self._aim()

    def _advance(self, dt_s: float) -> None:
        super()._advance(dt_s)
        if self.lit and self.level_mm - 1e3 * self.vessel.base_m <= self.wick.tab_neck_mm:
            self.extinguish()
        if abs(self.melting_wax.level_m - self._aimed_m) >= _AIM_AGAIN_M:
            self._aim()
