"""The running estimate of one channel: what it is at this moment, and how sure that is.

A filter (`track`) follows level and slope, weighs each reading by the probability that it is one of
the place, and takes noise, draughts and hits as `learning` has found them. This module decides when
the filter's past is to be doubted.

* **Climb.** When a reading looks like a hit, a rival course is followed beside the first, on which
  the place began to climb. It takes over once the readings speak for it ten thousand to one and
  its slope is one that a wall can have: hits scatter or jump, a wall that climbs follows a line.
* **Fresh start.** Readings that the course does not explain are set aside, below it as above: a
  loose lead reads low. Once those that agree with one another outnumber those that it explains in
  the last `AGREEING_S`, the estimate starts afresh from them: it cannot stay locked on hits or on a
  broken lead, and a sensor that was knocked aside or fastened again is followed. Upwards it waits
  until no burst of hits is likely to have lasted so long. A long silence starts it afresh too.
"""

import math
from bisect import bisect_left, bisect_right
from collections import deque
from statistics import median
from typing import NamedTuple

from logger.conditioning.learning import Draughts, Hits, Noise, fade
from logger.conditioning.motion import MOTIONS, Motion
from logger.conditioning.track import Flame, Track
from logger.quantities import Quality, Quantity

SETTLED = 8  # readings; before, a course may have begun on hits
RIVAL_WINS = math.log(1e4)  # log of the odds at which the climbing course takes over
CLIMBING = 5.0  # times the usual slope ...
BELOW = 2.5  # ... and a reading so many standard deviations below: the climb may have ended
RIVAL_LOSES = 3  # readings that the first course explains meanwhile, or far below it
SLOW_STEEPEST = 0.2
STEEPEST = 3.0  # times the climb that must be believed: what is steeper is no glass
AGREEING_S = 30.0  # half of it is enough for a jump to be followed
AGREE_WITHIN = 4.0  # standard deviations of the noise, all in all: 95 % of the readings of a place
AGREEING_SHARE = 1.0 / 3.0  # of all readings; hits of 2 to 100 K have 4 % within 4 K
MOVED = 1e-4  # chance that at a given reading a sensor was moved: once in three hours (our choice)
LONGEST_INTERVAL_S = 2.5  # a flame leans for seconds, however rarely it is looked at
SILENCE_S = 300.0  # twice as long as a draught lasts: the past says nothing of now
FEW = 3  # fewer readings than this in the window cannot contradict one another
MOSTLY = 5.0  # rejected readings to each used one: the estimate rests on what is left of them
INTERVALS = 5  # the window spans at least so many of the instrument's own intervals
REMEMBERED_INTERVALS = 9


class Running(NamedTuple):
    """A running estimate at one moment."""

    at_s: float
    value: float | None  # None: there was never a reading
    repeatability: float | None  # standard uncertainty of the random part
    slope: float  # unit/s
    used: int  # readings in the window that the value rests on
    rejected: int  # readings in the window set aside as flame hits
    quality: Quality


class RunningEstimate:
    """Readings in, value of any later moment out; constant cost a reading."""

    def __init__(
        self,
        *,
        window_s: float = 30.0,
        resolution: float | None = None,
        motion: Motion = MOTIONS[Quantity.TEMPERATURE],
    ) -> None:
        self._motion = motion
        self._window_s = window_s
        self._noise = Noise(motion, resolution)
        self._hits = Hits(motion)
        self._draughts = Draughts(motion)
        self.last_s: float | None = None  # stamp of the latest reading, refused ones included
        self._intervals: deque[float] = deque(maxlen=REMEMBERED_INTERVALS)
        self.interval_s: float | None = None  # median of those; dropouts do not move it
        self._span_s = window_s  # the window, never shorter than a few of those intervals
        self._kept: deque[tuple[float, float, bool]] = deque()  # (at_s, value, used) of the window
        self._used = 0  # of those kept
        self._track: Track | None = None
        self._track_s = 0.0  # moment of the track
        self._used_s = 0.0  # of the latest reading that the track explained
        self._burst = 0.0  # readings that no burst of hits outlasts, as believed then
        self._unused = 0  # readings since
        self._followed = 0  # readings that the track rests on
        self._value = self._shown = 0.0  # of the latest reading
        self._rival: Track | None = None
        self._rival_odds = 0.0  # log: how much better it explains the readings
        self._followed_rival = 0  # readings since it began
        self._fits = 0.0  # of these it explains
        self._explained = 0  # that the first course explains, or that lie far below the rival
        self._jumped_s: float | None = None
        self._doubted_until_s = -math.inf

    @property
    def latest(self) -> tuple[float, bool] | None:
        """The latest reading, NaN where it can be no value at all, and whether it was used."""
        return self._kept[-1][1:] if self._kept else None

    @property
    def burst_s(self) -> float:
        """How long hits may go on before a moved sensor is likelier, as seen of late."""
        return self._burst * (self.interval_s or 0.0)

    @property
    def walk(self) -> float:
        """Variance that draughts add a second, as learned; unit^2/s."""
        return self._draughts.walk()

    @property
    def jumped_s(self) -> float | None:
        """When the estimate last started afresh, apart from its first reading."""
        return self._jumped_s

    @property
    def noise(self) -> float:
        """Standard deviation of one reading, as learned."""
        return math.sqrt(self._noise.var())

    def add(self, at_s: float, value: float, *, shown: float | None = None) -> None:
        """Take a reading in; an `at_s` before the latest is taken as of the same moment.

        `shown` is what the instrument displayed, where `value` was corrected by something that
        moves: whether a reading repeats is judged by it.
        """
        lowest, highest = self._motion.possible
        if not lowest <= value <= highest:
            self.refuse(at_s)
            return
        shown = value if shown is None else shown
        at_s = self._arrived(at_s)
        silence_s = max(SILENCE_S, INTERVALS * (self.interval_s or 0.0))
        track = self._track
        if track is None or at_s - self._track_s > silence_s:
            track = self._begin(at_s, value)
            used = True
        else:
            used = self._follow(track, at_s, value, shown)
        self._value, self._shown = value, shown
        self._keep(at_s, value, used)
        if used:
            self._used_s, self._unused = at_s, 0
            self._burst = self._longest_burst()
        else:
            self._unused += 1
            self._start_afresh(track, at_s, value)

    def refuse(self, at_s: float) -> None:
        """Count a reading that can be no value at all: rejected, though not silent."""
        self._keep(self._arrived(at_s), math.nan, False)

    def shift(self, by: float) -> None:
        """The same readings count `by` more from now on: their correction has changed."""
        self._value += by
        for track in (self._track, self._rival):
            if track is not None:
                track.level += by

    def at(self, now_s: float) -> Running:
        """The estimate at `now_s`, not before the latest reading. Changes nothing.

        Up to a window after the latest reading the slope carries the value on; then it stays,
        and the uncertainty holds what the slope would have added.
        """
        span_s = self._span_s
        used, rejected = self._counts(now_s - span_s)
        track = self._track
        if track is None:
            return Running(
                at_s=now_s,
                value=None,
                repeatability=None,
                slope=0.0,
                used=used,
                rejected=rejected,
                quality=Quality.LOST,
            )
        reach_s, gained = track.ahead(max(0.0, now_s - self._track_s))
        carried_s = min(reach_s, span_s)
        variance = track.var * self._noise.correlated() + gained
        return Running(
            at_s=now_s,
            value=track.level + track.slope * carried_s,
            repeatability=math.sqrt(variance + (track.slope * (reach_s - carried_s)) ** 2),
            slope=track.slope,
            used=used,
            rejected=rejected,
            quality=self._quality(now_s, used, rejected),
        )

    def _quality(self, now_s: float, used: int, rejected: int) -> Quality:
        if used == 0:
            return Quality.LOST
        few = used < FEW or self._followed < SETTLED
        if few or now_s < self._doubted_until_s or rejected > MOSTLY * used:
            return Quality.DOUBTFUL
        return Quality.GOOD

    # one reading

    def _begin(self, at_s: float, value: float) -> Track:
        track = self._track = Track.begun(self._motion, value, self._draughts.walk())
        self._track_s = at_s
        self._rival = None
        self._followed = 1
        self._noise.skip()
        return track

    def _follow(self, track: Track, at_s: float, value: float, shown: float) -> bool:
        elapsed_s, self._track_s = at_s - self._track_s, at_s
        kept = fade(elapsed_s)
        self._noise.learn_step(value - self._value, shown == self._shown, kept)
        noise_var = self._noise.var()
        seen = value, noise_var, self._hits.flame(math.sqrt(noise_var))
        track.walk = self._draughts.walk()
        track.predict(elapsed_s)
        track.weigh(*seen)
        before = track.hit_before
        winner = self._winner(track, at_s, elapsed_s, seen)
        if winner is not None:
            track = self._track = winner
            self._rival = None
        else:
            self._draughts.learn(track, at_s, kept)
            track.update()
        self._hits.learn(before, track, kept)
        self._noise.learn(track, kept)
        self._followed += track.weight > 0.5
        return track.weight > 0.5

    def _winner(
        self,
        track: Track,
        at_s: float,
        elapsed_s: float,
        seen: tuple[float, float, Flame | None],
    ) -> Track | None:
        """Follow the climbing course, where there is cause for one, until it wins or loses."""
        rival = self._rival
        if rival is not None:
            rival.predict(elapsed_s)
        elif track.hit > 0.5 or (track.z < -BELOW and track.slope > CLIMBING * self._motion.slope):
            rival = self._rival = track.climbing(at_s - self._used_s)
            self._rival_odds, self._fits = 0.0, 0.0
            self._followed_rival = self._explained = 0
        else:
            return None
        rival.weigh(*seen)
        rival.update()
        self._rival_odds += math.log(rival.likelihood / track.likelihood)
        self._followed_rival += 1
        self._fits += rival.weight
        steepest = STEEPEST if self._outlasts_bursts() else SLOW_STEEPEST
        fits = self._fits > AGREEING_SHARE * self._followed_rival
        falls = rival.level < track.level
        possible = fits and (falls or rival.slope <= steepest * self._motion.climb)
        if possible and self._rival_odds > RIVAL_WINS:
            # What looked like a climb may have been a step, or be over.
            rival.slope_var = max(rival.slope_var, (0.5 * rival.slope) ** 2)
            return rival
        if track.weight > 0.5 or rival.weight + rival.hit < 0.5:
            self._explained += 1
            # One that lost ground has no doubt of its slope left: the next hit begins another.
            if self._explained >= RIVAL_LOSES or self._rival_odds <= 0.0:
                self._rival = None
        return None

    def _longest_burst(self) -> float:
        """Readings after which a moved sensor is likelier than hits that began and still go on."""
        flame = self._hits.flame(0.0)
        if flame is None:
            return 0.0
        pace = LONGEST_INTERVAL_S / max(LONGEST_INTERVAL_S, self.interval_s or 0.0)
        return pace * max(0.0, math.log(MOVED / flame.begins) / math.log(flame.goes_on))

    def _outlasts_bursts(self, readings: int = 0) -> bool:
        """Whether no burst of hits is likely to have lasted so long without a reading explained."""
        return max(self._unused, readings) >= self._burst

    def _start_afresh(self, track: Track, at_s: float, value: float) -> None:
        """Give up the past, where readings that agree with this one outnumber those explained."""
        interval_s = self.interval_s or 0.0
        span_s = min(self._span_s, max(AGREEING_S, INTERVALS * interval_s))
        lately = [one for one in self._kept if one[0] > at_s - span_s]
        used = sum(one[2] for one in lately)
        within = AGREE_WITHIN * max(self.noise, 0.5 * self._motion.noise)
        near = [one for one in lately if not one[2] and abs(one[1] - value) <= within]
        if len(near) <= max(used, AGREEING_SHARE * len(lately)):
            return
        lowest = _fullest([one[1] for one in near], within)
        agreeing = [one for one in near if lowest <= one[1] <= lowest + within]
        if len(agreeing) <= max(used, AGREEING_SHARE * len(lately)):
            return
        if value > track.level:
            # Half of a burst came within the second half of its time; what alternates did not.
            middle_s = agreeing[len(agreeing) // 2][0]
            half = sum(one[0] >= middle_s for one in lately)
            if not self._outlasts_bursts(2 * half):
                return
        doubted = self._burst * interval_s if value > track.level else self._span_s
        self._doubted_until_s = at_s + doubted
        self._jumped_s = at_s
        self._follow_anew(agreeing)

    def _follow_anew(self, readings: list[tuple[float, float, bool]]) -> None:
        """A course that begins with `readings`, which are all of the place."""
        first_s, first, _ = readings[0]
        track = self._begin(first_s, first)
        track.slope_var = (CLIMBING * self._motion.slope) ** 2  # it may be climbing
        for at_s, value, _ in readings[1:]:
            track.predict(at_s - self._track_s)
            track.weigh(value, self._noise.var(), None)
            track.update()
            self._track_s = at_s
        self._followed = len(readings)

    # the window

    def _arrived(self, at_s: float) -> float:
        if self.last_s is not None:
            at_s = max(at_s, self.last_s)
            if at_s > self.last_s:
                self._intervals.append(at_s - self.last_s)
                self.interval_s = median(self._intervals)
                self._span_s = max(self._window_s, INTERVALS * self.interval_s)
        self.last_s = at_s
        return at_s

    def _keep(self, at_s: float, value: float, used: bool) -> None:
        self._kept.append((at_s, value, used))
        self._used += used
        oldest_s = at_s - self._span_s
        while self._kept[0][0] <= oldest_s:
            self._used -= self._kept.popleft()[2]

    def _counts(self, since_s: float) -> tuple[int, int]:
        """Used and rejected readings later than `since_s`."""
        used, kept = self._used, len(self._kept)
        for at_s, _, was_used in self._kept:
            if at_s > since_s:
                break
            used -= was_used
            kept -= 1
        return used, kept - used


def _fullest(values: list[float], width: float) -> float:
    """Where the span of `width` begins that holds the most of `values`; the lowest of equals."""
    values = sorted(values)
    return max(values, key=lambda low: bisect_right(values, low + width) - bisect_left(values, low))
