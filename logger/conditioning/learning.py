"""What the running estimate takes for granted and yet learns: noise, draughts, and flame hits.

All memories fade with `MEMORY_S`, so that what is older than ten minutes leaves no trace; that of
draughts, which need more readings, twice as slowly.
"""

import math
from collections import deque

from logger.conditioning.motion import Motion
from logger.conditioning.track import Flame, Track

MEMORY_S = 90.0  # e^-6.7 = 0.1 % is left after ten minutes; 90 readings at 1 Hz give noise to 8 %
FORGOTTEN = 1e-3  # a memory fades no further over one silence: the noise is still a guess
MAX_CORRELATION = 0.95  # a factor of 39 on the variance; beyond it the readings are one reading

# What is believed before any reading, as counts of readings (our assumption).
CALM_READINGS, HITS_BEGUN = 10.0, 0.5
HIT_READINGS, HITS_GONE_ON = 8.0, 6.0  # bursts of about four readings
NOISE_READINGS = 10.0  # weight of the first guess at the noise
HEIGHT_READINGS = 2.0  # weight of the first guess at how high hits read
LOWEST_HEIGHT = 2.0  # times the noise: what is lower cannot be told from it
CORRELATION_READINGS = 5.0  # weight of "not correlated"
WALK_INFORMATION = 0.5  # of the first guess at draughts: a factor of e in variance, either way
WALK_RANGE = (-2.5, 3.5)  # log of the factor: draughts of 0.15 to 3 K
WALK_DELAY_S = 4.0  # what is alike for less is the sensor's noise
WALK_PUSH = 3.0  # standard deviations that count at most: a climb or a jump is no draught


def fade(elapsed_s: float) -> float:
    """Share of a memory that is left after `elapsed_s`."""
    return max(FORGOTTEN, math.exp(-elapsed_s / MEMORY_S))


class Hits:
    """How often hits begin, how long they go on, how high they read: a chain of two states."""

    __slots__ = ("_begun", "_calm", "_gone_on", "_heights", "_hit", "_motion", "_seen")

    def __init__(self, motion: Motion) -> None:
        self._motion = motion
        self._calm, self._begun = CALM_READINGS, HITS_BEGUN
        self._hit, self._gone_on = HIT_READINGS, HITS_GONE_ON
        self._seen, self._heights = HEIGHT_READINGS, HEIGHT_READINGS * (motion.hit_height or 0.0)

    def flame(self, noise: float) -> Flame | None:
        """What is believed of hits; None where the quantity has none."""
        if self._motion.hit_height is None:
            return None
        height = max(self._heights / self._seen, LOWEST_HEIGHT * noise)
        return Flame(self._begun / self._calm, self._gone_on / self._hit, height)

    def learn(self, before: float, track: Track, kept: float) -> None:
        """From the probability that the reading before was a hit, and the one just weighed.

        The first beliefs come back as readings fade: hits are never taken for extinct.
        """
        fresh, hit = 1.0 - kept, track.hit
        self._calm = self._calm * kept + CALM_READINGS * fresh + 1.0 - before
        self._begun = self._begun * kept + HITS_BEGUN * fresh + (1.0 - before) * hit
        self._hit = self._hit * kept + HIT_READINGS * fresh + before
        self._gone_on = self._gone_on * kept + HITS_GONE_ON * fresh + before * hit
        if self._motion.hit_height is not None:
            believed = HEIGHT_READINGS * fresh
            self._seen = self._seen * kept + believed + hit
            self._heights = self._heights * kept + believed * self._motion.hit_height
            self._heights += hit * max(0.0, track.innovation)


class Draughts:
    """How fast the level wanders, from innovations that keep their sign: the estimate lags.

    The log of its variance follows the gradient of the innovations' likelihood (recursive
    prediction error: Ljung & Soderstrom 1983; from memory), for the gain of a filter at rest.
    """

    __slots__ = ("_drift", "_known", "_late", "_log", "_walk")

    def __init__(self, motion: Motion) -> None:
        self._walk = motion.walk
        self._log = 0.0  # of the factor on what is believed at first
        self._known = WALK_INFORMATION  # Fisher information on it
        self._late: deque[tuple[float, float]] = deque()  # innovations of the last few seconds
        self._drift = 0.0  # derivative of the level by the gain, in standard deviations

    def walk(self) -> float:
        """Variance that the level gains a second: its mean, so far as it is known (lognormal)."""
        return self._walk * math.exp(self._log + 0.5 / self._known)

    def learn(self, track: Track, at_s: float, kept: float) -> None:
        """From a reading just weighed by `track`, before its update."""
        kept = math.sqrt(kept)
        gain = track.var / track.total
        push = track.weight * min(WALK_PUSH, max(-WALK_PUSH, track.z))
        fresh = (1.0 - kept) * WALK_INFORMATION
        self._known = self._known * kept + fresh + track.weight * gain / 8.0
        self._late.append((at_s, push))
        while self._late[0][0] < at_s - WALK_DELAY_S:
            self._drift += self._late.popleft()[1]
        most = WALK_PUSH / math.sqrt(2.0 * gain)  # its own standard deviation, where they are white
        drift = min(most, max(-most, self._drift))
        self._log += (0.5 * gain * push * drift - fresh * self._log) / self._known
        self._log = min(WALK_RANGE[1], max(WALK_RANGE[0], self._log))
        self._drift *= 1.0 - track.weight * gain


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

        r less half its own standard error, n^-1/2: what chance alone shows counts little. It is
        that of a mean of readings whose correlation fades as r^k (Bartlett 1946; from memory).
        """
        r = self._product / self._products - 0.5 / math.sqrt(self._products)
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
