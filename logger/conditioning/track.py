"""One course that a place may be taking: level and slope, followed through noise and flame hits.

A Kalman filter for unevenly spaced readings (Kalman, J. Basic Eng. 82 (1960) 35; from memory). The
level is carried by a slope that forgets itself (an integrated Ornstein-Uhlenbeck process: Singer,
IEEE Trans. AES-6 (1970) 473; from memory), as a wall does that approaches its plateau, so a
prediction over a long silence does not run away; draughts add a random walk.

A sensor that catches the flame reads high, never low, for a few readings on end. Each reading is
either one of the place, normal about the prediction, or a hit, spread evenly over the next
`hits_up_to` above it. The probability of the first weighs the update, as in probabilistic data
association (Bar-Shalom & Tse, Automatica 11 (1975) 451; from memory); but what a doubtful reading
would add to the variance there is left out: the likely hit is then the more readily rejected, and
errors and intervals came out better in every case tried.
"""

import math
from copy import copy
from dataclasses import dataclass

from logger.conditioning.motion import Motion

_SQRT_2 = math.sqrt(2.0)
_TWO_PI = 2.0 * math.pi


@dataclass(slots=True)
class Track:
    """The state of one course. Variances are of level, of slope, and of both together."""

    motion: Motion
    level: float
    slope: float
    var: float
    cov: float
    slope_var: float
    hit_before: float = 0.5  # probability that the latest reading was a hit
    noise_var: float = 1.0  # of the reading just weighed, as are the next five
    total: float = 1.0  # variance of prediction and reading
    innovation: float = 0.0  # how far it lies above the prediction
    z: float = 0.0  # innovation in standard deviations
    weight: float = 1.0  # probability that it is one of the place
    likelihood: float = 1.0  # density of what came, per unit

    @classmethod
    def begun(cls, motion: Motion, value: float) -> "Track":
        """A course that starts at `value`, perhaps in the middle of a climb."""
        return cls(motion, value, 0.0, motion.start**2, 0.0, motion.start_slope**2)

    def climbing(self, elapsed_s: float) -> "Track":
        """The same course, but for a sudden climb that began at some moment of `elapsed_s`."""
        track, climb_var = copy(self), self.motion.climb**2
        track.var += climb_var * elapsed_s**2
        track.cov += climb_var * elapsed_s
        track.slope_var += climb_var
        return track

    def reach_s(self, elapsed_s: float) -> float:
        """How many seconds of its present slope carry the level over `elapsed_s`."""
        memory_s = self.motion.slope_memory_s
        return (1.0 - math.exp(-elapsed_s / memory_s)) * memory_s

    def var_after(self, elapsed_s: float) -> float:
        """Variance that `elapsed_s` without a reading add to the level."""
        motion = self.motion
        ratio = elapsed_s / motion.slope_memory_s
        e = math.exp(-ratio)
        reach_s = (1.0 - e) * motion.slope_memory_s
        wandered = (motion.slope * motion.slope_memory_s) ** 2 * (
            2.0 * ratio - 3.0 + 4.0 * e - e * e
        )
        return (
            2.0 * reach_s * self.cov
            + reach_s**2 * self.slope_var
            + motion.walk * elapsed_s
            + max(0.0, wandered)  # rounding may leave -1e-17 of a short interval
        )

    def predict(self, elapsed_s: float) -> None:
        """Move on by `elapsed_s`."""
        motion = self.motion
        e = math.exp(-elapsed_s / motion.slope_memory_s)
        reach_s = (1.0 - e) * motion.slope_memory_s
        slope_var = motion.slope**2
        self.var += self.var_after(elapsed_s)
        self.cov = e * (self.cov + reach_s * self.slope_var) + slope_var * reach_s * (1.0 - e)
        self.slope_var = e * e * self.slope_var + slope_var * (1.0 - e * e)
        self.level += self.slope * reach_s
        self.slope *= e

    def weigh(self, value: float, noise_var: float, hit_odds: tuple[float, float]) -> None:
        """Set how a reading looks from here: `innovation`, `total`, `z`, `weight`, `likelihood`.

        `hit_odds` are the probabilities that a hit follows a calm reading, and another hit.
        """
        self.innovation = value - self.level
        self.noise_var = noise_var
        self.total = self.var + noise_var
        self.z = z = self.innovation / math.sqrt(self.total)
        of_place = math.exp(-0.5 * z * z) / math.sqrt(_TWO_PI * self.total)
        span = self.motion.hits_up_to
        if span is None:
            self.weight, self.likelihood = 1.0, of_place
            return
        begins, goes_on = hit_odds
        hit = self.hit_before * goes_on + (1.0 - self.hit_before) * begins
        of_place *= 1.0 - hit
        of_flame = hit * 0.5 * math.erfc(-z / _SQRT_2) / span
        self.likelihood = of_place + of_flame
        self.weight = of_place / self.likelihood if of_place > 0.0 else float(z < 0.0)

    def update(self, bound: float = math.inf) -> None:
        """Take in the reading just weighed, as if no further off than `bound` deviations."""
        weight, total = self.weight, self.total
        reach = bound * math.sqrt(total)
        innovation = min(reach, max(-reach, self.innovation))
        gain, slope_gain = self.var / total, self.cov / total
        self.level += gain * weight * innovation
        self.slope += slope_gain * weight * innovation
        known = weight * total
        self.var -= gain * gain * known
        self.cov -= gain * slope_gain * known
        self.slope_var -= slope_gain * slope_gain * known
        self.hit_before = 1.0 - weight
