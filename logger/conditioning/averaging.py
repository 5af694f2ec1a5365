"""The running estimate of one channel: what it is at this moment, and how sure that is.

A filter (`track`) follows level and slope, weighs each reading by the probability that it is none
of the flame, and takes noise and hits as `learning` has found them. This module decides when the
filter's past is to be doubted.

* **Climb.** When a reading looks like a hit, a rival course is followed beside the first, on which
  the place began to climb. It takes over once the readings speak for it ten thousand to one and
  its slope is one that a wall can have: hits scatter or jump, a wall that climbs follows a line.
* **Surprise.** Nothing explains a reading far *below* the prediction, so it is never set aside. One
  moves the estimate as far as the rarest believable reading would; three start it afresh from
  there: it cannot stay locked on hits, and a sensor that was knocked aside is followed. High
  readings that agree with one another for a minute start it afresh too. Both make it doubtful,
  because glass cannot jump.
"""

import math
from collections import deque
from dataclasses import dataclass
from statistics import median

from logger.conditioning.learning import Hits, Noise, fade
from logger.conditioning.motion import MOTIONS, Motion
from logger.conditioning.track import Track
from logger.quantities import Quality, Quantity

SURPRISE = 4.0  # standard deviations; 1 normal reading in 30 000 falls below (normal distribution)
SURPRISES = 3  # without a believable one between, and the past is given up
SETTLED = 8  # readings; before, a course may have begun on hits, and one lower reading ends it
RIVAL_WINS = math.log(1e4)  # log of the odds at which the climbing course takes over
RIVAL_LOSES = 3  # readings that the first course explains meanwhile
STEEPEST = 2.0  # times the climb that must be believed: what is steeper is no glass
UNEXPLAINED = 1e-6  # density of what neither course explains, so that one glitch decides nothing
AGREEING_S = 60.0  # a burst of hits lasts a few seconds; a minute of equal readings is no burst
AGREEING = 6  # readings, for slow instruments
FEW = 3  # fewer readings than this in the window cannot contradict one another
INTERVALS = 5  # the window spans at least so many of the instrument's own intervals
REMEMBERED_INTERVALS = 9


@dataclass(frozen=True, slots=True, kw_only=True)
class Running:
    """A running estimate at one moment."""

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
        self._hits = Hits()
        self._last_s: float | None = None  # of the latest reading, refused ones included
        self._intervals: deque[float] = deque(maxlen=REMEMBERED_INTERVALS)
        self._interval_s: float | None = None
        self._kept: deque[tuple[float, bool]] = deque()  # (at_s, used) of the window
        self._used = 0  # of those kept
        self._track: Track | None = None
        self._track_s = 0.0  # moment of the track
        self._used_s = 0.0  # of the latest reading that the track explained
        self._followed = 0  # readings since the track began
        self._value = self._shown = 0.0  # of the latest reading
        self._rival: Track | None = None
        self._rival_odds = 0.0  # log: how much better it explains the readings
        self._explained = 0  # readings since it began that the first course explains
        self._surprises = 0
        self._agreeing = 0
        self._agreeing_since_s = 0.0
        self._jumped_s: float | None = None

    @property
    def last_s(self) -> float | None:
        """Stamp of the latest reading."""
        return self._last_s

    @property
    def interval_s(self) -> float | None:
        """Median of the latest intervals between readings; dropouts do not move it."""
        return self._interval_s

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
        if self._track is None:
            self._begin(at_s, value)
            used = True
        else:
            used = self._follow(self._track, at_s, value, shown)
        self._followed += 1
        self._value, self._shown = value, shown
        self._keep(at_s, used)

    def refuse(self, at_s: float) -> None:
        """Count a reading that can be no value at all: rejected, though not silent."""
        self._keep(self._arrived(at_s), False)

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
        span_s = self._span_s()
        used, rejected = self._counts(now_s - span_s)
        track = self._track
        if track is None:
            return Running(
                value=None,
                repeatability=None,
                slope=0.0,
                used=used,
                rejected=rejected,
                quality=Quality.LOST,
            )
        elapsed_s = max(0.0, now_s - self._track_s)
        reach_s = track.reach_s(elapsed_s)
        carried_s = min(reach_s, span_s)
        variance = track.var * self._noise.correlated() + track.var_after(elapsed_s)
        return Running(
            value=track.level + track.slope * carried_s,
            repeatability=math.sqrt(variance + (track.slope * (reach_s - carried_s)) ** 2),
            slope=track.slope,
            used=used,
            rejected=rejected,
            quality=self._quality(now_s - span_s, used, rejected),
        )

    def _quality(self, since_s: float, used: int, rejected: int) -> Quality:
        if used == 0:
            return Quality.LOST
        few = used < FEW or self._followed < SETTLED
        jumped = self._jumped_s is not None and self._jumped_s > since_s
        if few or jumped or rejected > used or self._surprises:
            return Quality.DOUBTFUL
        return Quality.GOOD

    # one reading

    def _begin(self, at_s: float, value: float) -> None:
        self._track = Track.begun(self._motion, value)
        self._track_s = self._used_s = at_s
        self._rival = None
        self._followed = self._surprises = self._agreeing = 0

    def _follow(self, track: Track, at_s: float, value: float, shown: float) -> bool:
        elapsed_s, self._track_s = at_s - self._track_s, at_s
        kept = fade(elapsed_s)
        self._noise.learn_step(value - self._value, shown == self._shown, kept)
        seen = value, self._noise.var(), self._hits.odds()
        track.predict(elapsed_s)
        track.weigh(*seen)
        before, surprised = track.hit_before, False
        winner = self._winner(track, at_s, elapsed_s, seen)
        if winner is not None:
            track = self._track = winner
            self._rival, self._surprises = None, 0
        else:
            surprised = self._surprised(track)
            if self._gives_up(track, at_s, value, surprised):
                self._begin(at_s, value)
                self._jumped_s = at_s
                self._noise.skip()
                return True
            track.update(SURPRISE if surprised else math.inf)
        self._hits.learn(before, 1.0 - track.weight, kept)
        if surprised:
            self._noise.skip()
        else:
            self._noise.learn(track, kept)
        if track.weight > 0.5:
            self._used_s = at_s
        return track.weight > 0.5

    def _winner(
        self,
        track: Track,
        at_s: float,
        elapsed_s: float,
        seen: tuple[float, float, tuple[float, float]],
    ) -> Track | None:
        """Follow the climbing course, where there is cause for one, until it wins or loses."""
        rival = self._rival
        if rival is not None:
            rival.predict(elapsed_s)
        elif track.weight < 0.5 and self._motion.climb > 0.0:
            rival = self._rival = track.climbing(at_s - self._used_s)
            self._rival_odds, self._explained = 0.0, 0
        else:
            return None
        rival.weigh(*seen)
        rival.update()
        self._rival_odds += math.log(
            max(UNEXPLAINED, rival.likelihood) / max(UNEXPLAINED, track.likelihood)
        )
        possible = rival.slope <= STEEPEST * self._motion.climb
        if possible and self._rival_odds > RIVAL_WINS:
            return rival
        if track.weight > 0.5:
            self._explained += 1
            # One that lost ground has no doubt of its slope left: the next hit begins another.
            if self._explained >= RIVAL_LOSES or self._rival_odds <= 0.0:
                self._rival = None
        return None

    def _surprised(self, track: Track) -> bool:
        if track.z < -SURPRISE or (self._motion.hits_up_to is None and track.z > SURPRISE):
            self._surprises += 1
            return True
        if track.weight > 0.5:
            self._surprises = max(0, self._surprises - 1)
        return False

    def _gives_up(self, track: Track, at_s: float, value: float, surprised: bool) -> bool:
        """Whether the past is to be given up for this reading."""
        if surprised and (self._surprises >= SURPRISES or self._followed < SETTLED):
            return True
        if track.weight > 0.5:
            self._agreeing = 0
            return False
        apart = SURPRISE * max(3.0 * math.sqrt(track.noise_var), self._motion.noise)
        if self._agreeing == 0 or abs(value - self._value) > apart:
            self._agreeing, self._agreeing_since_s = 1, at_s
            return False
        self._agreeing += 1
        return self._agreeing >= AGREEING and at_s - self._agreeing_since_s >= AGREEING_S

    # the window

    def _arrived(self, at_s: float) -> float:
        if self._last_s is not None:
            at_s = max(at_s, self._last_s)
            if at_s > self._last_s:
                self._intervals.append(at_s - self._last_s)
                self._interval_s = median(self._intervals)
        self._last_s = at_s
        return at_s

    def _span_s(self) -> float:
        """The window, never shorter than a few of the instrument's own intervals."""
        return max(self._window_s, INTERVALS * (self._interval_s or 0.0))

    def _keep(self, at_s: float, used: bool) -> None:
        self._kept.append((at_s, used))
        self._used += used
        oldest_s = at_s - self._span_s()
        while self._kept[0][0] <= oldest_s:
            self._used -= self._kept.popleft()[1]

    def _counts(self, since_s: float) -> tuple[int, int]:
        """Used and rejected readings later than `since_s`."""
        used, kept = self._used, len(self._kept)
        for at_s, was_used in self._kept:
            if at_s > since_s:
                break
            used -= was_used
            kept -= 1
        return used, kept - used
