"""The room a simulated candle burns in: slow warming, and a window somebody may open."""

import math
from dataclasses import dataclass

_SETTLING_TAU_S = 12 * 3600.0  # slow warming comes to its end overnight (from memory, low)
_RECOVERY_TAU_S = 900.0  # until the walls have warmed the air again (from memory, medium)


@dataclass(frozen=True, slots=True, kw_only=True)
class Window:
    """A window opened for a while: colder air comes in, and all of it moves more."""

    opens_s: float  # since the room's start
    closes_s: float
    pull_down_k: float = 4.0  # how far the air falls if it stays open (from memory, medium)
    tau_s: float = 480.0  # air is exchanged some eight times an hour (from memory, medium)
    air_movement: float = 1.3  # convection at a surface against still air (from memory, low)

    def __post_init__(self) -> None:
        if not 0.0 <= self.opens_s < self.closes_s:
            raise ValueError("a window opens before it closes")


@dataclass(frozen=True, slots=True, kw_only=True)
class Room:
    """Air temperature as a function of time; without state, so that candles may share a room."""

    start_c: float = 22.0
    warming_k_per_h: float = 0.3  # at first; lamps, people, candles of an evening (from memory)
    window: Window | None = None

    def air_c(self, elapsed_s: float) -> float:
        """Air temperature `elapsed_s` after the start, degC."""
        warmed_s = _SETTLING_TAU_S * (1.0 - math.exp(-elapsed_s / _SETTLING_TAU_S))
        undisturbed_c = self.start_c + self.warming_k_per_h * warmed_s / 3600.0
        window = self.window
        if window is None or elapsed_s <= window.opens_s:
            return undisturbed_c
        open_s = min(elapsed_s, window.closes_s) - window.opens_s
        fallen_k = window.pull_down_k * (1.0 - math.exp(-open_s / window.tau_s))
        if elapsed_s > window.closes_s:
            fallen_k *= math.exp((window.closes_s - elapsed_s) / _RECOVERY_TAU_S)
        return undisturbed_c - fallen_k

    def air_movement(self, elapsed_s: float) -> float:
        """Factor on natural convection: 1 in still air."""
        window = self.window
        if window is None or not window.opens_s <= elapsed_s < window.closes_s:
            return 1.0
        return window.air_movement
