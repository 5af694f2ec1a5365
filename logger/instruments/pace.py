"""When an instrument that must be asked is asked."""

import asyncio
from collections.abc import Awaitable, Callable


class Pace:
    """Every `every_s`; what was missed is not caught up.

    In bench time, which `now` tells and `sleep_until` waits for; without that, in real time.
    """

    def __init__(
        self,
        every_s: float,
        now: Callable[[], float],
        sleep_until: Callable[[float], Awaitable[None]] | None = None,
    ) -> None:
        self._every_s = every_s
        self._now = asyncio.get_running_loop().time if sleep_until is None else now
        self._sleep_until = sleep_until or self._real
        self._due_s: float | None = None

    async def next(self) -> None:
        """Return when it is time to ask: the first time at once."""
        now_s = self._now()
        if self._due_s is None:
            self._due_s = now_s
            return
        missed = max(0.0, now_s - self._due_s) // self._every_s
        self._due_s += (missed + 1.0) * self._every_s
        await self._sleep_until(self._due_s)

    async def _real(self, at_s: float) -> None:
        await asyncio.sleep(max(0.0, at_s - self._now()))
