"""Instruments on pseudo-terminals: fixtures that conftest.py hands on."""

import asyncio
import os
import time
from pathlib import Path

import pytest

from logger.instruments.backoff import Backoff
from logger.instruments.supervisor import INTERNAL_ERROR, supervise
from simulators.printing_port import PrintingPort
from tests.support import waiting

AT_S = 1_940_000_000.0
AT_ONCE = Backoff(first_s=0.005, longest_s=0.02)


class SteppedTime:
    """Bench time that stands where the test puts it, and how often it was asked for."""

    def __init__(self) -> None:
        self.at_s = AT_S
        self.asked = 0

    def __call__(self) -> float:
        self.asked += 1
        return self.at_s


class Supervised:
    """An instrument under its supervisor, and all that came of it."""

    def __init__(self, instrument) -> None:
        self.instrument = instrument
        self.link = instrument.link
        self.readings = []
        self.news = []
        self.heard_at = []  # real time of each reading
        self.task = asyncio.create_task(
            supervise(instrument, emit=self._emit, report=self.news.append, backoff=AT_ONCE)
        )

    def _emit(self, reading) -> None:
        self.readings.append(reading)
        self.heard_at.append(time.monotonic())

    @property
    def values(self):
        return [(reading.channel, reading.value) for reading in self.readings]


@pytest.fixture
def eventually():
    """Wait for a condition, with a deadline; the loop runs meanwhile."""
    return waiting.eventually


@pytest.fixture
def bench_time():
    return SteppedTime()


@pytest.fixture
async def supervised():
    """Put an instrument under a supervisor until the test ends."""
    running = []

    def start(instrument) -> Supervised:
        running.append(Supervised(instrument))
        return running[-1]

    yield start
    for one in running:
        one.task.cancel()
    await asyncio.gather(*(one.task for one in running), return_exceptions=True)
    # The supervisor forgives a driver's bug; the tests do not.
    assert INTERNAL_ERROR not in [news.reason for one in running for news in one.news]


@pytest.fixture
def line_port(tmp_path: Path):
    """A simulated instrument that prints lines, plugged in."""
    with PrintingPort(tmp_path / "usb-probes") as port:
        yield port


@pytest.fixture
def open_files():
    """How many files this process holds open (Linux)."""
    return lambda: len(os.listdir("/proc/self/fd"))


@pytest.fixture
async def answering():
    """Let a simulated instrument answer until the test ends."""
    serving = []

    def start(simulator):
        serving.append((simulator, asyncio.create_task(simulator.serve())))
        return simulator

    yield start
    for simulator, task in serving:
        task.cancel()
        simulator.unplug()
    await asyncio.gather(*(task for _, task in serving), return_exceptions=True)
