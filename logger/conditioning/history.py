"""The last minutes of one channel, in the little that its faults are told by.

Everything here is rebuilt by folding the readings of the last ten minutes again.
"""

import math
from collections import deque
from typing import NamedTuple

from logger.quantities import Estimate

SAMPLE_S = 5.0  # one value is kept each; a sensor knocked aside must be told within 60 s
MEMORY_S = 300.0  # half of what a restart folds again, so that a fresh filter has settled
FLICKER_READINGS = 64.0  # over which changes of the number are counted, fading
MOST = 5.0  # readings set aside to each used one: next to nothing of the window is of the place
MOST_S, MOST_READINGS = 25.0, 15.0  # window and this: under a minute from the first of them
BURSTS, LONGEST_BURSTS_S = 2.0, 240.0  # so many of the longest bursts seen of late, and the most
RESTARTS = 3  # of the estimate ...
RESTARTS_WITHIN_S = 120.0  # ... within this: nothing that touches glass jumps so often


class Sample(NamedTuple):
    """The channel at one moment."""

    at_s: float
    value: float
    ill: bool  # most of its window could not be of the place, or it keeps starting afresh


class History:
    """Fed every reading as it came, and a sample every `SAMPLE_S`."""

    def __init__(self) -> None:
        self.samples: deque[Sample] = deque()
        self.number: float | None = None  # the latest, in the channel's own unit
        self.interval_s = 1.0
        self.repeats = 0  # how often that number has come again
        self.since_s = 0.0  # when it first came
        self.flickered = 0.0  # share of readings that changed the number, before it stood still
        self.others_c: float | None = None  # the wall around it when it stopped changing
        self.finest = math.inf  # the smallest change ever seen, in that unit
        self._most_since_s: float | None = None  # most of its window could not be of the place
        self._burst_s = 0.0
        self._flicker = 0.0
        self._restarts: deque[float] = deque(maxlen=RESTARTS)

    def read(self, at_s: float, number: float) -> None:
        """Take a reading as it came."""
        changed = number != self.number
        self._flicker += (changed - self._flicker) / FLICKER_READINGS
        if changed:
            if self.number is not None:
                self.finest = min(self.finest, abs(number - self.number))
            self.number, self.since_s, self.repeats = number, at_s, 0
            self.flickered, self.others_c = self._flicker, None
        else:
            self.repeats += 1

    def sample(
        self,
        estimate: Estimate,
        *,
        interval_s: float | None,
        jumped_s: float | None,
        burst_s: float = 0.0,
    ) -> None:
        """Take what the channel is now; `jumped_s` is when its estimate last started afresh.

        `burst_s` is how long a burst of flame hits may last, as seen of late.
        """
        now_s = estimate.at_s
        if jumped_s is not None and (not self._restarts or self._restarts[-1] != jumped_s):
            self._restarts.append(jumped_s)
        most = estimate.rejected > MOST * estimate.used
        if not most:
            self._burst_s = min(LONGEST_BURSTS_S, BURSTS * burst_s)
        self._most_since_s = _since(self._most_since_s, most, now_s)
        ill = most or self.restless(now_s)
        self.interval_s = interval_s or self.interval_s
        if estimate.value is not None:
            self.samples.append(Sample(now_s, estimate.value, ill))
        self.forget(now_s)

    def fall_silent(self, now_s: float) -> None:
        """Nothing comes: what was ill is no longer seen to be."""
        self._most_since_s = None
        self.forget(now_s)

    def forget(self, now_s: float) -> None:
        """Drop what is older than the memory."""
        while self.samples and self.samples[0].at_s < now_s - MEMORY_S:
            self.samples.popleft()

    def ill(self) -> bool:
        """Whether most of its window could not be of the place at the latest sample."""
        return self._most_since_s is not None

    def impossible(self, now_s: float) -> bool:
        """Whether its readings have been impossible for too many and too long."""
        most_s = max(MOST_S, MOST_READINGS * self.interval_s, self._burst_s)
        lasting = self._most_since_s is not None and now_s - self._most_since_s >= most_s
        return lasting or self.restless(now_s)

    def restless(self, now_s: float) -> bool:
        """Whether the estimate had to start afresh again and again."""
        restarts = self._restarts
        return len(restarts) == RESTARTS and restarts[0] >= now_s - RESTARTS_WITHIN_S

    def within(self, from_s: float, to_s: float) -> list[Sample]:
        """The samples stamped `from_s` to `to_s`, latest first."""
        found = []
        for sample in reversed(self.samples):
            if sample.at_s < from_s:
                break
            if sample.at_s <= to_s:
                found.append(sample)
        return found

    def step(self, now_s: float) -> float:
        """By how much the latest value left what it had been for a minute: down is negative.

        It is told by the nearest value of that minute, so one that had been caught by hits for a
        few seconds makes no step when it is right again.
        """
        if not self.samples:
            return 0.0
        lag_s = self.step_s
        before = self.within(now_s - lag_s - 60.0, now_s - lag_s)
        if len(before) < 3:
            return 0.0
        value = self.samples[-1].value
        values = [sample.value for sample in before]
        return min(0.0, value - min(values)) + max(0.0, value - max(values))

    @property
    def step_s(self) -> float:
        """How long a jump of the sensor takes to show in the estimate: three readings at least."""
        return max(30.0, 3.0 * self.interval_s)

    def ranges(self) -> float | None:
        """Highest less lowest value of the memory; None while it is not full."""
        if not self.samples or self.samples[-1].at_s - self.samples[0].at_s < 0.9 * MEMORY_S:
            return None
        values = [sample.value for sample in self.samples]
        return max(values) - min(values)


def _since(since_s: float | None, so: bool, now_s: float) -> float | None:
    if not so:
        return None
    return now_s if since_s is None else since_s
