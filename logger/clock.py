"""Bench time: what stamps, ticks and the lengths of burns are measured with.

It is injected, so that a demonstration and the tests can step it. Sockets, keep-alive and
back-off run on real time and never ask here.
"""

import asyncio
import heapq
import itertools
import time
from collections.abc import Callable
from typing import Protocol

EARLIEST_PLAUSIBLE_S = 1_767_225_600.0  # 2026-01-01T00:00:00Z: no bench ran this program before

_LONGEST_SLEEP_S = 1.0
_TURNS = 3  # of the event loop, for a woken task to do its work and to sleep again


class Clock(Protocol):
    """Bench time."""

    def now_s(self) -> float:
        """Unix seconds, UTC, in whole microseconds; never less than it said before."""
        ...

    def set_earliest(self, at_s: float) -> None:
        """Go on from `at_s` where that is later than now."""
        ...

    async def sleep_until(self, at_s: float) -> None:
        """Return once `now_s()` has reached `at_s`; lets other tasks run in any case."""
        ...

    def wall_step_s(self) -> float:
        """How far the wall clock has been set or has drifted away from it since its start."""
        ...


def year_is_plausible(at_s: float) -> bool:
    """Whether `at_s` can be the present: a board without a battery wakes up in the past."""
    return at_s >= EARLIEST_PLAUSIBLE_S


def _steady_ns() -> int:
    """Time that no one sets and that, where the system can (Linux), goes on through suspend."""
    if hasattr(time, "CLOCK_BOOTTIME"):
        return time.clock_gettime_ns(time.CLOCK_BOOTTIME)
    return time.monotonic_ns()


class RealClock:
    """UTC as it was at the start, going on evenly: a step of the wall clock moves no burn.

    `wall_ns` and `steady_ns` are the system's clocks in nanoseconds, given for tests.
    """

    def __init__(
        self,
        *,
        wall_ns: Callable[[], int] = time.time_ns,
        steady_ns: Callable[[], int] = _steady_ns,
    ) -> None:
        self._wall_ns = wall_ns
        self._steady_ns = steady_ns
        self._offset_ns = wall_ns() - steady_ns()

    def now_s(self) -> float:
        """Unix seconds, UTC, in whole microseconds."""
        return round((self._offset_ns + self._steady_ns()) / 1e9, 6)

    def wall_step_s(self) -> float:
        """How far the wall clock has been set or has drifted away from bench time since start."""
        return (self._wall_ns() - self._steady_ns() - self._offset_ns) / 1e9

    def set_earliest(self, at_s: float) -> None:
        """Go on from `at_s` where that is later: a board without a battery wakes in the past."""
        self._offset_ns = max(self._offset_ns, round(at_s * 1e9) - self._steady_ns())

    async def sleep_until(self, at_s: float) -> None:
        """Return once `at_s` has come, at most a second late after a suspend."""
        # In short sleeps: the loop's own clock stops in suspend, a long one ends too late.
        while (left_s := at_s - self.now_s()) > 0.0:  # noqa: ASYNC110 - time is no Event
            await asyncio.sleep(min(left_s, _LONGEST_SLEEP_S))
        await asyncio.sleep(0)


class SteppedClock:
    """Bench time that stops until it is advanced."""

    def __init__(self, start_s: float) -> None:
        self._now_s = round(start_s, 6)
        self._sleepers: list[tuple[float, int, asyncio.Future[None]]] = []
        self._order = itertools.count()

    def now_s(self) -> float:
        """Unix seconds, UTC, in whole microseconds."""
        return self._now_s

    def wall_step_s(self) -> float:
        """It has no wall clock to part from."""
        return 0.0

    def set_earliest(self, at_s: float) -> None:
        """Go on from `at_s` where that is later."""
        self._now_s = max(self._now_s, round(at_s, 6))

    async def sleep_until(self, at_s: float) -> None:
        """Return once the clock has been advanced to `at_s`."""
        if at_s <= self._now_s:
            await asyncio.sleep(0)
            return
        woken: asyncio.Future[None] = asyncio.get_running_loop().create_future()
        heapq.heappush(self._sleepers, (at_s, next(self._order), woken))
        await woken

    async def advance(self, dt_s: float) -> None:
        """Go on by `dt_s` >= 0, stopping at each sleeper's time for it to run.

        Sleepers wake in order of their time, then of falling asleep. One that sleeps again within
        the step is woken again: a task that ticks each second ticks ten times in ten seconds.
        """
        end_s = round(self._now_s + dt_s, 6)
        while self._sleepers and self._sleepers[0][0] <= end_s:
            at_s, _, woken = heapq.heappop(self._sleepers)
            if woken.done():  # its task was cancelled
                continue
            self._now_s = max(self._now_s, round(at_s, 6))
            woken.set_result(None)
            await _let_others_run()
        self._now_s = max(self._now_s, end_s)
        await _let_others_run()


async def _let_others_run() -> None:
    for _ in range(_TURNS):
        await asyncio.sleep(0)
