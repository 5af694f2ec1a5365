"""The whole service in a thread of the test, and its time driven: hours pass when told."""

import asyncio
import threading
import time
from pathlib import Path

from logger import settings
from logger.clock import SteppedClock
from logger.service.run import run
from logger.service.running_service import Service
from tests.support.process_bench import BenchProcess
from tests.support.waiting import patient, until

STEP_S = 0.1  # bench time goes on with real time in such steps, as pages must see it go on


class DrivenBench(BenchProcess):
    """A bench whose time begins at `start_s`, goes on evenly, and leaps by `leap`."""

    def __init__(self, folder: Path, configuration: str, start_s: float) -> None:
        super().__init__(folder, configuration)
        self._clock = SteppedClock(start_s)
        self._service: Service | None = None
        self._left_s = 0.0  # of a leap
        self._over = threading.Event()
        self._thread = threading.Thread(target=self._run)

    def start(self, **_environment: str) -> None:
        self._thread.start()
        until(lambda: self._service or not self._thread.is_alive(), "the service is up")

    def __exit__(self, *exc):
        self._over.set()
        self._thread.join(patient(15))
        super().__exit__(*exc)

    @property
    def address(self):
        return self._service.url

    def now_s(self) -> float:
        """Bench time."""
        return self._clock.now_s()

    def leap(self, minutes: float) -> None:
        """Let so much of bench time pass, every second of it watched."""
        self._left_s = 60.0 * minutes
        until(lambda: not self._left_s, "the time has passed")

    def _run(self) -> None:
        asyncio.run(run(settings.load(self.config), self._clock, self._live))

    async def _live(self, service: Service) -> None:
        self._service = service
        before_s = time.monotonic()
        while not self._over.is_set():
            if self._left_s:
                await self._clock.advance(self._left_s)
                self._left_s = 0.0
            now_s = time.monotonic()
            await self._clock.advance(now_s - before_s)
            before_s = now_s
            await asyncio.sleep(STEP_S)
