"""Worlds that a running estimate may find itself in, as data, and a burn in each.

Truth is written here on its own, not taken from the simulated candle: two time constants, slow
draughts, a warming room, in two burns of five a window opened. A world says what a sensor makes of
it, and what else happens.
"""

import math
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

Array = NDArray[np.float64]
Flags = NDArray[np.bool_]

BURN_S = 14_400
FALLEN_KEEPS = 0.1  # of its rise above the room, once a probe has come off slowly


@dataclass(frozen=True, kw_only=True)
class World:
    """What a sensor reads, and what happens to it; defaults are those of the first figures."""

    hits: float = 0.0  # share of readings that catch the flame
    burst_s: float | None = None  # mean length of a burst; None: four readings
    steady: bool = False  # a burst keeps its height
    hit_k: float | None = None  # mean height, exponential; None: evenly 2 to 100 K
    dropouts: float = 0.0  # share of readings that are `dropout_c` instead
    dropout_c: float = 0.0
    draught_k: float = 0.5  # standard deviation; they last 150 s
    every_s: float = 1.0
    step_k: float = 0.0  # of the display
    noise_k: float = 1.0
    noise_lasts_s: float = 0.0  # its correlation time; 0: white
    climb_k_per_s: float = 0.0  # a flame that leans: from `event_share` of the burn on ...
    climb_k: float = 0.0  # ... by so much; with no rate, a step that stays
    drift_k_per_h: float = 0.0  # of the sensor
    frozen_from: float | None = None  # share of the burn from which one number repeats
    comes_off_s: float | None = None  # a probe leaves the wall, with this time constant
    event_share: float = 0.7
    room_known: bool = False  # whether the estimate is told the room


@dataclass(frozen=True)
class Burn:
    """What was true, and what a sensor made of it."""

    at_s: Array
    truth: Array  # of the place
    room: Array
    readings: Array
    hits: Flags
    event_s: float


def burn(seed: int, world: World, *, duration_s: float = BURN_S) -> Burn:
    """One burn; the same seed gives the same truth and noise whatever the hits and dropouts."""
    rng = np.random.default_rng([seed, 1])
    t = np.arange(0.0, duration_s, world.every_s)
    n = len(t)
    fast_s, slow_s = rng.uniform(200.0, 500.0), rng.uniform(1500.0, 3000.0)
    fast_share, rise_k = rng.uniform(0.2, 0.5), rng.uniform(18.0, 38.0)
    room = rng.uniform(19.0, 24.0) + rng.uniform(0.5, 4.0) * (1.0 - np.exp(-t / 5400.0))
    wall = rise_k * (
        1.0 - fast_share * np.exp(-t / fast_s) - (1.0 - fast_share) * np.exp(-t / slow_s)
    )
    if rng.random() < 0.4:
        opened_s, fall_k = rng.uniform(0.15, 0.9) * duration_s, rng.uniform(2.0, 6.0)
        wall -= np.where(t > opened_s, fall_k * (1.0 - np.exp(-(t - opened_s) / fast_s)), 0.0)
    truth = room + wall + world.draught_k * wander(rng, n, world.every_s / 150.0)
    white = rng.normal(size=n)
    event_s = world.event_share * duration_s
    after_s = np.maximum(0.0, t - event_s)
    if world.climb_k_per_s:
        truth = truth + np.minimum(world.climb_k, world.climb_k_per_s * after_s)
    else:
        truth = truth + np.where(t >= event_s, world.climb_k, 0.0)
    seen = truth + world.drift_k_per_h * t / 3600.0
    if world.comes_off_s is not None:
        kept = FALLEN_KEEPS + (1.0 - FALLEN_KEEPS) * np.exp(-after_s / world.comes_off_s)
        seen = room + (seen - room) * kept
    if world.noise_lasts_s:
        white = wander(rng, n, world.every_s / world.noise_lasts_s)
    readings = seen + world.noise_k * white
    chance = np.random.default_rng([seed, 2, round(100 * world.hits)])
    length = 4.0 if world.burst_s is None else max(1.0, world.burst_s / world.every_s)
    hits, number = bursts(chance, n, world.hits, length)
    count = int(number.max()) + 1 if world.steady else n
    if world.hit_k is None:
        heights = chance.uniform(2.0, 100.0, count)
    else:
        heights = chance.exponential(world.hit_k, count)
    if world.steady:
        heights = heights[number]
    readings = readings + np.where(hits, heights, 0.0)
    if world.step_k:
        readings = world.step_k * np.round(readings / world.step_k)
    if world.dropouts:
        lost = np.random.default_rng([seed, 3]).random(n) < world.dropouts
        readings = np.where(lost, world.dropout_c, readings)
    if world.frozen_from is not None:
        first = int(world.frozen_from * n)
        readings[first:] = readings[first]
    return Burn(t, truth, room, readings, hits, event_s)


def wander(rng: np.random.Generator, n: int, forgets: float) -> Array:
    """A stationary first-order autoregression of standard deviation 1."""
    keep = math.exp(-forgets)
    steps = rng.normal(scale=math.sqrt(1.0 - keep**2), size=n)
    level, levels = rng.normal(), np.empty(n)
    for i, step in enumerate(steps):
        level = keep * level + step
        levels[i] = level
    return levels


def bursts(
    rng: np.random.Generator, n: int, share: float, length: float = 4.0
) -> tuple[Flags, NDArray[np.int64]]:
    """Where bursts of `length` readings on average cover `share`; and each reading's burst."""
    hits, number = np.zeros(n, dtype=bool), np.zeros(n, dtype=np.int64)
    if share == 0.0:
        return hits, number
    leave, enter = 1.0 / length, share / (1.0 - share) / length
    hit, count = bool(rng.random() < share), 0
    for i, chance in enumerate(rng.random(n)):
        if chance < (leave if hit else enter):
            hit, count = not hit, count + 1
        hits[i], number[i] = hit, count
    return hits, number
