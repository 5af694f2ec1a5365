"""The running estimate of one channel: what it is at this moment, and how sure that is.

A Kalman filter of two states, level and slope, for unevenly spaced readings. Three things are
added to the textbook's filter (Kalman, J. Basic Eng. 82 (1960) 35; from memory):

* **Flame hits.** A sensor that catches the flame reads high, never low, for a few readings on end.
  Each reading is either one of the place, normal about the prediction, or a hit, spread evenly over
  the next `hits_up_to` above it. The probability of the first weighs the update, and its doubt
  widens the variance: probabilistic data association (Bar-Shalom & Tse, Automatica 11 (1975) 451;
  from memory). How often a hit begins and how long it lasts is learned from the same weights.
* **Noise** is learned from the innovations, and never falls below half the step of the display:
  readings that repeat exactly say nothing about what is between two steps.
* **Surprise.** Nothing explains a reading far *below* the prediction, so it is never set aside. One
  moves the estimate as far as the rarest believable reading would; three start it afresh from
  there: so it cannot stay locked on hits, and a sensor that was knocked aside is followed. A run
  of high readings that agree with one another for a minute starts it afresh too. Both make it
  doubtful, because glass cannot jump.

The slope forgets itself (an integrated Ornstein-Uhlenbeck process), which is how a wall behaves
that approaches its plateau, and keeps a prediction over a long silence from running away. All
memories fade with `MEMORY_S`, so ten minutes of readings restore the estimate after a restart.
"""

import math
from collections import deque
from dataclasses import dataclass
from statistics import median

from logger.quantities import Quality, Quantity

MEMORY_S = 90.0  # e^-6.7 = 0.1 % is left after ten minutes; 90 readings at 1 Hz give noise to 6 %
FORGOTTEN = 1e-3  # a memory fades no further over one silence: the noise is still a guess
SURPRISE = 4.0  # standard deviations; 1 normal reading in 30 000 falls below (normal distribution)
SURPRISES = 3  # on end, before the past is given up
AGREEING_S = 60.0  # a burst of hits lasts a few seconds; a minute of equal readings is no burst
AGREEING = 6  # readings, for slow instruments
FEW = 3  # fewer readings than this in the window cannot contradict one another
INTERVALS = 5  # the window spans at least so many of the instrument's own intervals
REMEMBERED_INTERVALS = 9
MAX_CORRELATION = 0.95  # a factor of 39 on the variance; beyond it the readings are one reading

# What is believed about hits before any was seen, as counts of readings (our assumption).
CALM_READINGS, HITS_BEGUN = 10.0, 0.5
HIT_READINGS, HITS_GONE_ON = 8.0, 6.0  # bursts of about four readings
NOISE_READINGS = 10.0  # weight of the first guess at the noise
CORRELATION_READINGS = 20.0  # weight of "not correlated"

_SQRT_2 = math.sqrt(2.0)
_TWO_PI = 2.0 * math.pi


@dataclass(frozen=True, slots=True, kw_only=True)
class Motion:
    """How a quantity of a burning candle moves: what the filter expects before any reading."""

    walk: float  # variance the level gains a second by draughts, unit^2/s
    slope: float  # standard deviation of the slope, unit/s
    slope_memory_s: float
    noise: float  # first guess at a reading's standard deviation
    start: float  # standard deviation of a fresh start
    coarsest_step: float  # of a display, until a step was seen
    hits_up_to: float | None  # how far above the place a flame hit may read; None: no hits


MOTIONS = {
    # Draughts of 0.5 K that last 150 s gain 2 * 0.5^2 / 150 K^2/s. Walls warm by 1-4 K/min while
    # they warm (time constants of 445 s and 2100 s: soda-lime glass of 3 mm alone, and with its
    # wax; computed from handbook figures). Noise 1 K, hits up to 100 K: common practice.
    Quantity.TEMPERATURE: Motion(
        walk=2.0 * 0.5**2 / 150.0,
        slope=0.02,
        slope_memory_s=400.0,
        noise=1.0,
        start=2.0,
        coarsest_step=1.0,
        hits_up_to=100.0,
    ),
    # A container candle loses 3-8 g/h a wick (common practice); draughts push a balance about.
    Quantity.MASS: Motion(
        walk=2.0 * 0.02**2 / 150.0,
        slope=0.003,
        slope_memory_s=3600.0,
        noise=0.1,
        start=1.0,
        coarsest_step=1.0,
        hits_up_to=None,
    ),
    Quantity.HUMIDITY: Motion(  # from memory: a room's air changes within minutes
        walk=2.0 * 1.0**2 / 150.0,
        slope=0.02,
        slope_memory_s=400.0,
        noise=1.0,
        start=3.0,
        coarsest_step=1.0,
        hits_up_to=None,
    ),
}


@dataclass(frozen=True, slots=True, kw_only=True)
class Running:
    """A running estimate at one moment."""

    value: float | None  # None: there was never a reading
    repeatability: float | None  # standard uncertainty of the random part
    slope: float  # unit/s
    used: int  # readings in the window that the value rests on
    rejected: int  # readings in the window set aside as flame hits
    quality: Quality


_NOTHING = Running(
    value=None, repeatability=None, slope=0.0, used=0, rejected=0, quality=Quality.LOST
)


class RunningEstimate:
    """Readings in, value of any later moment out; constant cost a reading."""

    def __init__(
        self,
        *,
        window_s: float = 30.0,
        resolution: float | None = None,
        motion: Motion = MOTIONS[Quantity.TEMPERATURE],
    ) -> None:
        self.last_s: float | None = None
        self._window_s = window_s
        self._resolution = resolution
        self._motion = motion
        self._level = self._slope = 0.0
        self._var = self._cov = self._slope_var = 0.0  # of level, of both, of slope
        self._noise_weight = NOISE_READINGS
        self._noise_sum = NOISE_READINGS * motion.noise**2
        self._calm, self._begun = CALM_READINGS, HITS_BEGUN
        self._hit, self._gone_on = HIT_READINGS, HITS_GONE_ON
        self._hit_before = 0.5  # probability that the latest reading was a hit
        self._product = 0.0  # of neighbouring innovations, for their correlation
        self._products = CORRELATION_READINGS
        self._innovation: float | None = None  # the latest, standardised, unless it was a hit
        self._surprises = 0
        self._agreeing = 0
        self._agreeing_since_s = 0.0
        self._jumped_s = -math.inf
        self._latest = self._shown = 0.0
        self._step = motion.coarsest_step if resolution is None else resolution
        self._intervals: deque[float] = deque(maxlen=REMEMBERED_INTERVALS)
        self._kept: deque[tuple[float, bool]] = deque()  # (at_s, used) of the window
        self._used = 0

    @property
    def interval_s(self) -> float | None:
        """Median of the latest intervals between readings; dropouts do not move it."""
        return median(self._intervals) if self._intervals else None

    @property
    def noise(self) -> float:
        """Standard deviation of one reading, as learned; at least half a step of the display."""
        return math.sqrt(self._noise_var())

    @property
    def step(self) -> float:
        """Step of the display: as stated, else the smallest change seen of late."""
        return self._step

    def add(self, at_s: float, value: float, *, shown: float | None = None) -> None:
        """Take a reading in; `at_s` must not fall.

        `shown` is what the instrument displayed, where `value` was corrected by something that
        moves: whether a reading repeats is judged by it.
        """
        shown = value if shown is None else shown
        if self.last_s is None:
            self.last_s = at_s
            self._latest, self._shown = value, shown
            self._start(value)
            self._keep(at_s, True)
            return
        elapsed_s = max(0.0, at_s - self.last_s)
        self.last_s = max(at_s, self.last_s)
        if elapsed_s > 0.0:
            self._intervals.append(elapsed_s)
        fade = max(FORGOTTEN, math.exp(-elapsed_s / MEMORY_S))
        self._learn_step(value, shown, fade)
        self._predict(elapsed_s)
        noise_var = self._noise_var()
        total = self._var + noise_var
        deviation = math.sqrt(total)
        innovation = value - self._level
        z = innovation / deviation
        weight = self._weight(z, total)
        surprised = z < -SURPRISE or (self._motion.hits_up_to is None and z > SURPRISE)
        if surprised:
            self._surprises += 1
            innovation = math.copysign(SURPRISE * deviation, z)
        elif weight > 0.5:
            self._surprises = max(0, self._surprises - 1)
        starting = len(self._kept) < SURPRISES
        jumps = surprised and (starting or self._surprises >= SURPRISES)
        if self._agrees(at_s, value, weight, noise_var):
            jumps, weight = True, 1.0
        self._latest, self._shown = value, shown
        if jumps:
            self._start(value)
            self._jumped_s = at_s
            self._noise_sum *= 1.5  # or the noise was underrated: a few jumps on end will tell
        else:
            self._update(innovation, weight, total)
            self._learn(z, weight, innovation**2 / total * noise_var, fade, surprised)
        self._keep(at_s, weight > 0.5)

    def at(self, now_s: float) -> Running:
        """The estimate at `now_s`, not before the latest reading. Changes nothing.

        Up to a window after the latest reading the slope carries the value on; then it stays,
        and the uncertainty holds what the slope would have added.
        """
        if self.last_s is None:
            return _NOTHING
        elapsed_s = max(0.0, now_s - self.last_s)
        window_s = self._span_s()
        e = math.exp(-elapsed_s / self._motion.slope_memory_s)
        reach_s = (1.0 - e) * self._motion.slope_memory_s
        carried_s = min(reach_s, window_s)
        variance = (
            self._var * self._correlated()
            + 2.0 * reach_s * self._cov
            + reach_s**2 * self._slope_var
            + self._motion.walk * elapsed_s
            + self._slope_gain(elapsed_s, e)
            + (self._slope * (reach_s - carried_s)) ** 2
        )
        used, rejected = self._counts(now_s - window_s)
        return Running(
            value=self._level + self._slope * carried_s,
            repeatability=math.sqrt(variance),
            slope=self._slope * e,
            used=used,
            rejected=rejected,
            quality=self._quality(now_s, window_s, used, rejected),
        )

    def _counts(self, since_s: float) -> tuple[int, int]:
        used, kept = self._used, len(self._kept)
        for at_s, was_used in self._kept:
            if at_s >= since_s:
                break
            used -= was_used
            kept -= 1
        return used, kept - used

    def _quality(self, now_s: float, window_s: float, used: int, rejected: int) -> Quality:
        if used == 0:
            return Quality.LOST
        if used < FEW or rejected > used or now_s - self._jumped_s < window_s or self._surprises:
            return Quality.DOUBTFUL
        return Quality.GOOD

    def _span_s(self) -> float:
        """The window, never shorter than a few of the instrument's own intervals."""
        interval_s = self.interval_s
        return self._window_s if interval_s is None else max(self._window_s, INTERVALS * interval_s)

    def _start(self, value: float) -> None:
        self._level, self._slope = value, 0.0
        self._var, self._cov = self._motion.start**2, 0.0
        self._slope_var = self._motion.slope**2
        self._surprises = self._agreeing = 0
        self._innovation = None

    def _slope_gain(self, elapsed_s: float, e: float) -> float:
        """Variance that the wandering of the slope adds to the level (integrated OU process)."""
        memory_s = self._motion.slope_memory_s
        return (self._motion.slope * memory_s) ** 2 * max(
            0.0, 2.0 * elapsed_s / memory_s - 3.0 + 4.0 * e - e * e
        )

    def _predict(self, elapsed_s: float) -> None:
        motion = self._motion
        e = math.exp(-elapsed_s / motion.slope_memory_s)
        reach_s = (1.0 - e) * motion.slope_memory_s
        slope_var = motion.slope**2
        self._level += self._slope * reach_s
        self._slope *= e
        self._var += (
            2.0 * reach_s * self._cov
            + reach_s**2 * self._slope_var
            + motion.walk * elapsed_s
            + self._slope_gain(elapsed_s, e)
        )
        self._cov = e * (self._cov + reach_s * self._slope_var) + slope_var * reach_s * (1.0 - e)
        self._slope_var = e * e * self._slope_var + slope_var * (1.0 - e * e)

    def _weight(self, z: float, total: float) -> float:
        """Probability that a reading `z` standard deviations high is one of the place."""
        span = self._motion.hits_up_to
        if span is None:
            return 1.0
        before = self._hit_before
        hit = before * self._gone_on / self._hit + (1.0 - before) * self._begun / self._calm
        of_place = (1.0 - hit) * math.exp(-0.5 * z * z) / math.sqrt(_TWO_PI * total)
        of_flame = hit * 0.5 * math.erfc(-z / _SQRT_2) / span
        return of_place / (of_place + of_flame) if of_place > 0.0 else float(z < 0.0)

    def _update(self, innovation: float, weight: float, total: float) -> None:
        gain, slope_gain = self._var / total, self._cov / total
        self._level += gain * weight * innovation
        self._slope += slope_gain * weight * innovation
        known = weight * total - weight * (1.0 - weight) * innovation**2
        self._var -= gain * gain * known
        self._cov -= gain * slope_gain * known
        self._slope_var -= slope_gain * slope_gain * known

    def _learn(self, z: float, weight: float, squared: float, fade: float, surprised: bool) -> None:
        """How noisy, how correlated and how often hit, from this reading's innovation."""
        hit, before, fresh = 1.0 - weight, self._hit_before, 1.0 - fade
        self._calm = self._calm * fade + CALM_READINGS * fresh + 1.0 - before
        self._begun = self._begun * fade + HITS_BEGUN * fresh + (1.0 - before) * hit
        self._hit = self._hit * fade + HIT_READINGS * fresh + before
        self._gone_on = self._gone_on * fade + HITS_GONE_ON * fresh + before * hit
        self._hit_before = hit
        if surprised:
            self._innovation = None
            return
        self._noise_weight = self._noise_weight * fade + weight
        self._noise_sum = self._noise_sum * fade + weight * squared
        self._product *= fade
        self._products = self._products * fade + CORRELATION_READINGS * fresh
        if self._innovation is not None:
            self._product += weight * z * self._innovation
            self._products += weight
        self._innovation = z if weight > 0.5 else None

    def _correlated(self) -> float:
        """What correlation between neighbours adds to the variance: (1 + r) / (1 - r)."""
        r = min(MAX_CORRELATION, max(0.0, self._product / self._products))
        return (1.0 + r) / (1.0 - r)

    def _noise_var(self) -> float:
        return max(self._noise_sum / self._noise_weight, 0.25 * self._step**2, 1e-8)

    def _learn_step(self, value: float, shown: float, fade: float) -> None:
        if self._resolution is not None:
            return
        if shown == self._shown:
            self._step = min(self._motion.coarsest_step, self._step / fade)
        else:
            self._step = min(self._step, abs(value - self._latest))

    def _agrees(self, at_s: float, value: float, weight: float, noise_var: float) -> bool:
        """Whether what was taken for hits has agreed with itself too long to be a flame."""
        if weight > 0.5:
            self._agreeing = 0
            return False
        apart = max(3.0 * math.sqrt(noise_var), self._motion.noise)
        if self._agreeing == 0 or abs(value - self._latest) > SURPRISE * apart:
            self._agreeing, self._agreeing_since_s = 1, at_s
            return False
        self._agreeing += 1
        return self._agreeing >= AGREEING and at_s - self._agreeing_since_s >= AGREEING_S

    def _keep(self, at_s: float, used: bool) -> None:
        self._kept.append((at_s, used))
        self._used += used
        oldest_s = at_s - self._span_s()
        while self._kept[0][0] < oldest_s:
            self._used -= self._kept.popleft()[1]
