"""What a probe or an infrared sensor makes of a true temperature; the truth stays beside it."""

import math
from dataclasses import dataclass

import numpy as np

from simulators.heat_transfer import ZERO_CELSIUS_K

BURST_READINGS = 4.0
"""Mean length of a burst of flame hits, readings (common practice: a flame leans for seconds)."""


@dataclass(frozen=True, slots=True, kw_only=True)
class SimulatedReading:
    """One reading with what it should have been: `error_k` is what an estimator has to undo."""

    true_c: float  # the surface, at this moment
    value_c: float | None  # None: the reading was lost
    hit: bool = False  # the spot caught the flame

    @property
    def error_k(self) -> float | None:
        """Reading minus truth; None where nothing was read."""
        return None if self.value_c is None else self.value_c - self.true_c


class Bursts:
    """A state that comes and goes: a two-state Markov chain, one step a reading."""

    def __init__(self, share: float, mean_length: float, rng: np.random.Generator) -> None:
        """`share`: long-run share of readings inside; `mean_length`: readings in one burst."""
        leave = 1.0 / mean_length
        if not 0.0 <= share < 1.0 or mean_length < 1.0:
            raise ValueError("a share lies in 0 to below 1, a burst has at least one reading")
        enter = leave * share / (1.0 - share)  # balance of flows: share * leave = rest * enter
        if enter > 1.0:
            raise ValueError(f"bursts of {mean_length:g} cannot fill a share of {share:g}")
        self._enter, self._leave, self._rng = enter, leave, rng
        self.inside = bool(rng.random() < share)

    def next(self) -> bool:
        """Whether the next reading lies in a burst."""
        draw = self._rng.random()
        self.inside = draw >= self._leave if self.inside else draw < self._enter
        return self.inside


@dataclass(frozen=True, slots=True, kw_only=True)
class Ailment:
    """What can be wrong with a probe that goes on sending; times in seconds since its start."""

    dropout_c: float | None = None  # what it sends instead of a lost reading; None: nothing
    drift_k_per_h: float = 0.0
    noise_lasts_s: float = 0.0  # correlation time of its noise; 0: white
    frozen_from_s: float = math.inf  # from when it repeats its last number
    off_from_s: float = math.inf  # from when it comes off the wall ...
    off_tau_s: float = 120.0  # ... slowly: towards the air, with this time constant
    stepped_from_s: float = math.inf  # from when it reads `step_k` higher: knocked, or aimed anew
    step_k: float = 0.0


class ContactProbe:
    """A bead on the glass: first-order lag, fixed offset, noise, resolution, dropouts.

    Defaults are a small bead under tape and a ten-bit converter (from memory, medium).
    """

    def __init__(
        self,
        *,
        lag_s: float = 8.0,
        offset_k: float = 0.0,
        noise_k: float = 0.15,
        resolution_k: float = 0.1,
        dropout_share: float = 0.0,
        ailment: Ailment | None = None,
        seed: int = 0,
    ) -> None:
        self.lag_s = lag_s
        self.ailment = Ailment() if ailment is None else ailment
        self._elapsed_s = self._noise = 0.0
        self._shown_c: float | None = None
        self.offset_k = offset_k
        self.noise_k = noise_k
        self.resolution_k = resolution_k
        self._rng = np.random.default_rng(seed)
        self._dropouts = Bursts(dropout_share, 1.0 / (1.0 - dropout_share), self._rng)
        self._bead_c: float | None = None
        self.last: SimulatedReading | None = None

    def sample(self, true_c: float, dt_s: float, air_c: float = 22.0) -> float | None:
        """Read `dt_s` after the last reading; the first finds the bead settled.

        `air_c` is what a probe feels that has come off. The lag is solved exactly for a truth that
        holds its new value over `dt_s`.
        """
        ill, self._elapsed_s = self.ailment, self._elapsed_s + dt_s
        off_s = max(0.0, self._elapsed_s - ill.off_from_s)
        felt_c = air_c + (true_c - air_c) * math.exp(-off_s / ill.off_tau_s)
        if self._bead_c is None:
            self._bead_c = felt_c
        followed = 1.0 - math.exp(-dt_s / self.lag_s) if self.lag_s > 0.0 else 1.0
        self._bead_c += followed * (felt_c - self._bead_c)
        kept = math.exp(-dt_s / ill.noise_lasts_s) if ill.noise_lasts_s > 0.0 else 0.0
        fresh = math.sqrt(1.0 - kept * kept) * float(self._rng.standard_normal())
        self._noise = kept * self._noise + fresh
        off_k = self.offset_k + ill.drift_k_per_h * self._elapsed_s / 3600.0
        if self._elapsed_s >= ill.stepped_from_s:
            off_k += ill.step_k
        value_c = _stepped(self._bead_c + off_k + self.noise_k * self._noise, self.resolution_k)
        if self._elapsed_s >= ill.frozen_from_s and self._shown_c is not None:
            value_c = self._shown_c
        self._shown_c = value_c
        lost = self._dropouts.next()
        self.last = SimulatedReading(true_c=true_c, value_c=ill.dropout_c if lost else value_c)
        return self.last.value_c


class InfraredSensor:
    """A spot on the wall: emissivity, reflected room, noise, and bursts that catch the flame."""

    def __init__(
        self,
        *,
        emissivity: float = 0.92,
        emissivity_set: float = 1.0,
        noise_k: float = 1.0,
        resolution_k: float = 0.1,
        hit_share: float = 0.0,
        hit_k: tuple[float, float] = (2.0, 100.0),
        burst_readings: float = BURST_READINGS,
        dropout_share: float = 0.0,
        seed: int = 0,
    ) -> None:
        """`emissivity` is of the surface, `emissivity_set` what the instrument assumes."""
        self.emissivity = emissivity
        self.emissivity_set = emissivity_set
        self.noise_k = noise_k
        self.resolution_k = resolution_k
        self.hit_k = hit_k
        self._rng = np.random.default_rng(seed)
        self._hits = Bursts(hit_share, burst_readings, self._rng)
        self._dropouts = Bursts(dropout_share, 1.0 / (1.0 - dropout_share), self._rng)
        self.last: SimulatedReading | None = None

    def sample(self, true_c: float, reflected_c: float, *, lit: bool = True) -> float | None:
        """Read a surface at `true_c` in which surroundings at `reflected_c` are mirrored.

        `lit`: whether there is a flame to catch.
        """
        value_c = apparent_c(true_c, reflected_c, self.emissivity, self.emissivity_set)
        value_c += self.noise_k * float(self._rng.standard_normal())
        hit = self._hits.next() and lit
        if hit:
            value_c += float(self._rng.uniform(*self.hit_k))
        lost = self._dropouts.next()
        self.last = SimulatedReading(
            true_c=true_c,
            value_c=None if lost else _stepped(value_c, self.resolution_k),
            hit=hit,
        )
        return self.last.value_c


def apparent_c(
    true_c: float, reflected_c: float, emissivity: float, emissivity_set: float = 1.0
) -> float:
    """What an infrared instrument shows, degC: broadband, signal = T^4, air does not matter.

    It receives emissivity * T^4 + (1 - emissivity) * T_reflected^4 and takes this for its own
    setting, with the same reflected temperature.
    """
    true_k4 = (true_c + ZERO_CELSIUS_K) ** 4
    reflected_k4 = (reflected_c + ZERO_CELSIUS_K) ** 4
    received = emissivity * true_k4 + (1.0 - emissivity) * reflected_k4
    shown_k4 = (received - (1.0 - emissivity_set) * reflected_k4) / emissivity_set
    return float(shown_k4**0.25) - ZERO_CELSIUS_K


def _stepped(value: float, step: float) -> float:
    return value if step == 0.0 else step * round(value / step)
