"""What the running estimate takes for granted and yet learns: a sensor's noise, and its hits.

All memories fade with `MEMORY_S`, so that what is older than ten minutes leaves no trace.
"""

import math

from logger.conditioning.motion import Motion
from logger.conditioning.track import Track

MEMORY_S = 90.0  # e^-6.7 = 0.1 % is left after ten minutes; 90 readings at 1 Hz give noise to 8 %
FORGOTTEN = 1e-3  # a memory fades no further over one silence: the noise is still a guess
MAX_CORRELATION = 0.95  # a factor of 39 on the variance; beyond it the readings are one reading

# What is believed before any reading, as counts of readings (our assumption).
CALM_READINGS, HITS_BEGUN = 10.0, 0.5
HIT_READINGS, HITS_GONE_ON = 8.0, 6.0  # bursts of about four readings
NOISE_READINGS = 10.0  # weight of the first guess at the noise
CORRELATION_READINGS = 20.0  # weight of "not correlated"


def fade(elapsed_s: float) -> float:
    """Share of a memory that is left after `elapsed_s`."""
    return max(FORGOTTEN, math.exp(-elapsed_s / MEMORY_S))


class Hits:
    """How often hits begin, and how long they go on: counts of a chain of two states."""

    __slots__ = ("_begun", "_calm", "_gone_on", "_hit")

    def __init__(self) -> None:
        self._calm, self._begun = CALM_READINGS, HITS_BEGUN
        self._hit, self._gone_on = HIT_READINGS, HITS_GONE_ON

    def odds(self) -> tuple[float, float]:
        """Probabilities that a hit follows a calm reading, and another hit."""
        return self._begun / self._calm, self._gone_on / self._hit

    def learn(self, before: float, hit: float, kept: float) -> None:
        """From the probabilities that the reading before was a hit, and that this one is.

        The first beliefs come back as readings fade: hits are never taken for extinct.
        """
        fresh = 1.0 - kept
        self._calm = self._calm * kept + CALM_READINGS * fresh + 1.0 - before
        self._begun = self._begun * kept + HITS_BEGUN * fresh + (1.0 - before) * hit
        self._hit = self._hit * kept + HIT_READINGS * fresh + before
        self._gone_on = self._gone_on * kept + HITS_GONE_ON * fresh + before * hit


class Noise:
    """Scatter of a sensor's readings, from the innovations that were none of the flame."""

    __slots__ = (
        "_coarsest",
        "_latest",
        "_product",
        "_products",
        "_readings",
        "_shared",
        "_squares",
        "_stated",
        "step",
    )

    def __init__(self, motion: Motion, resolution: float | None) -> None:
        self._coarsest = motion.coarsest_step
        self._stated = resolution is not None
        self.step = motion.coarsest_step if resolution is None else resolution
        self._readings = NOISE_READINGS
        self._shared = self._squares = NOISE_READINGS * motion.noise**2
        self._product, self._products = 0.0, CORRELATION_READINGS  # of neighbouring innovations
        self._latest: float | None = None  # innovation, in standard deviations

    def var(self) -> float:
        """Variance of a reading; a standard deviation is at least half a step of the display.

        `_shared` gives noise and prediction each their part of the innovations' variance, as
        expectation maximisation does. It goes to nothing where the place moves less than its
        motion allows; there the prediction is the last reading, and half of it all is noise.
        """
        shared = max(self._shared, 0.5 * self._squares) / self._readings
        return max(shared, 0.25 * self.step**2, 1e-8)

    def correlated(self) -> float:
        """What correlation between neighbours multiplies a variance by: (1 + r) / (1 - r).

        r less its own standard error, n^-1/2: what chance alone shows is not counted. The factor
        is that of a mean of readings whose correlation fades as r^k (Bartlett 1946; from memory).
        """
        r = self._product / self._products - 1.0 / math.sqrt(self._products)
        r = min(MAX_CORRELATION, max(0.0, r))
        return (1.0 + r) / (1.0 - r)

    def learn(self, track: Track, kept: float) -> None:
        """From a reading just weighed by `track`."""
        weight, z = track.weight, track.z
        square = weight * z * z
        self._readings = self._readings * kept + weight
        self._shared = self._shared * kept + square * track.noise_var
        self._squares = self._squares * kept + square * track.total
        self._product *= kept
        self._products = self._products * kept + CORRELATION_READINGS * (1.0 - kept)
        if self._latest is not None:
            self._product += weight * z * self._latest
            self._products += weight
        self._latest = z if weight > 0.5 else None

    def skip(self) -> None:
        """The next reading has no neighbour to be correlated with."""
        self._latest = None

    def learn_step(self, change: float, repeats: bool, kept: float) -> None:
        """From the change between two readings, or that the display repeats itself.

        The step is the smallest change seen of late: next to nothing where the digits are many,
        and unknown, so as coarse as displays are, while nothing changes.
        """
        if self._stated:
            return
        if repeats:
            self.step = min(self._coarsest, self.step / kept)
        else:
            self.step = min(self.step, abs(change))
