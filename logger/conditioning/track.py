"""One course that a place may be taking: level and slope, followed through noise and flame hits.

A Kalman filter for unevenly spaced readings (Kalman, J. Basic Eng. 82 (1960) 35; from memory). The
level is carried by a slope that forgets itself (an integrated Ornstein-Uhlenbeck process: Singer,
IEEE Trans. AES-6 (1970) 473; from memory), as a wall does that approaches its plateau, so a
prediction over a long silence does not run away; draughts add a random walk.

A sensor that catches the flame reads high, never low, for a few readings on end. Each reading is
either one of the place, normal about the prediction; or a hit, spread exponentially above it; or,
rarely, anything at all: a loose lead. The probability of the first weighs the update, as in
probabilistic data association (Bar-Shalom & Tse, Automatica 11 (1975) 451; from memory); but what
a doubtful reading would add to the variance there is left out: the likely hit is then the more
readily rejected, and errors and intervals came out better in every case tried.
"""

import math
from copy import copy
from dataclasses import dataclass
from typing import NamedTuple

from logger.conditioning.motion import Motion

UNEXPLAINED = 1e-6  # density of what is neither place nor flame, per unit: 5 deviations off

_SQRT_2 = math.sqrt(2.0)
_TWO_PI = 2.0 * math.pi


class Flame(NamedTuple):
    """What is believed of flame hits."""

    begins: float  # probability that a hit follows a calm reading
    goes_on: float  # and another hit
    height: float  # mean, above the place


@dataclass(slots=True)
class Track:
    """The state of one course. Variances are of level, of slope, and of both together."""

    motion: Motion
    level: float
    slope: float
    var: float
    cov: float
    slope_var: float
    walk: float  # variance the level gains a second by draughts, as learned
    hit_before: float = 0.5  # probability that the latest reading was a hit
    noise_var: float = 1.0  # of the reading just weighed, as are the next six
    total: float = 1.0  # variance of prediction and reading
    innovation: float = 0.0  # how far it lies above the prediction
    z: float = 0.0  # innovation in standard deviations
    weight: float = 1.0  # probability that it is one of the place
    hit: float = 0.0  # probability that it is one of the flame
    likelihood: float = 1.0  # density of what came, per unit

    @classmethod
    def begun(cls, motion: Motion, value: float, walk: float) -> "Track":
        """A course that starts at `value`, perhaps in the middle of a climb."""
        start_var, slope_var = motion.start**2, motion.start_slope**2
        return cls(motion, value, 0.0, start_var, 0.0, slope_var, walk)

    def climbing(self, elapsed_s: float) -> "Track":
        """The same course, but for a sudden climb that began at some moment of `elapsed_s`."""
        track, climb_var = copy(self), self.motion.climb**2
        track.var += climb_var * elapsed_s**2
        track.cov += climb_var * elapsed_s
        track.slope_var += climb_var
        return track

    def ahead(self, elapsed_s: float) -> tuple[float, float]:
        """What `elapsed_s` without a reading do to the level.

        How many seconds of its present slope carry it on, and what variance it gains.
        """
        motion = self.motion
        ratio = elapsed_s / motion.slope_memory_s
        e = math.exp(-ratio)
        reach_s = (1.0 - e) * motion.slope_memory_s
        wandered = (motion.slope * motion.slope_memory_s) ** 2 * (
            2.0 * ratio - 3.0 + 4.0 * e - e * e
        )
        return reach_s, (
            2.0 * reach_s * self.cov
            + reach_s**2 * self.slope_var
            + self.walk * elapsed_s
            + max(0.0, wandered)  # rounding may leave -1e-17 of a short interval
        )

    def predict(self, elapsed_s: float) -> None:
        """Move on by `elapsed_s`."""
        motion = self.motion
        e = math.exp(-elapsed_s / motion.slope_memory_s)
        slope_var = motion.slope**2
        reach_s, gained = self.ahead(elapsed_s)
        self.var += gained
        self.cov = e * (self.cov + reach_s * self.slope_var) + slope_var * reach_s * (1.0 - e)
        self.slope_var = e * e * self.slope_var + slope_var * (1.0 - e * e)
        self.level += self.slope * reach_s
        self.slope *= e

    def weigh(self, value: float, noise_var: float, hits: Flame | None) -> None:
        """Set how a reading looks from here: all from `noise_var` to `likelihood`."""
        self.innovation = value - self.level
        self.noise_var = noise_var
        self.total = self.var + noise_var
        deviation = math.sqrt(self.total)
        self.z = z = self.innovation / deviation
        of_place = math.exp(-0.5 * z * z) / math.sqrt(_TWO_PI * self.total)
        of_flame = 0.0
        if hits is not None:
            hit = self.hit_before * hits.goes_on + (1.0 - self.hit_before) * hits.begins
            of_place *= 1.0 - hit
            of_flame = hit * _above(z, deviation / hits.height) / hits.height
        self.likelihood = of_place + of_flame + UNEXPLAINED
        self.weight = of_place / self.likelihood
        self.hit = of_flame / self.likelihood

    def update(self) -> None:
        """Take in the reading just weighed."""
        weight, total = self.weight, self.total
        gain, slope_gain = self.var / total, self.cov / total
        self.level += gain * weight * self.innovation
        self.slope += slope_gain * weight * self.innovation
        known = weight * total
        self.var -= gain * gain * known
        self.cov -= gain * slope_gain * known
        self.slope_var -= slope_gain * slope_gain * known
        self.hit_before = self.hit


def _above(z: float, ratio: float) -> float:
    """Density of normal plus exponential, times the exponential's mean (`ratio`: deviation to it).

    Where the product of a large and a small number would overflow there is nothing.
    """
    if z < -10.0 or ratio > 20.0:
        return 0.0
    return math.exp(0.5 * ratio * ratio - z * ratio) * 0.5 * math.erfc((ratio - z) / _SQRT_2)
