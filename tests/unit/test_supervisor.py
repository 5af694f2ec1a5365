"""The supervisor with instruments that are nothing but a script."""

import asyncio
import logging
from contextlib import asynccontextmanager, suppress

import pytest

from logger.errors import InstrumentRefused, InstrumentUnavailable
from logger.instruments.backoff import Backoff
from logger.instruments.instrument_link import InstrumentLink, LinkState
from logger.instruments.supervisor import INTERNAL_ERROR, supervise
from logger.quantities import Part, Reading
from tests.support.waiting import patient

AT_S = 1_940_000_000.0


class Scripted:
    """Each opening takes the next scene: readings to give and errors to raise, in order."""

    name = "probe"

    def __init__(self, *scenes, refuses_to_open=()):
        self.link = InstrumentLink(self.name, lambda: AT_S)
        self.scenes = list(scenes)
        self.opened = 0
        self.closed = 0

    @asynccontextmanager
    async def open(self):
        scene = self.scenes.pop(0)
        if scene and isinstance(scene[0], NotOpened):
            raise scene[0].error
        self.opened += 1
        try:
            yield self._play(scene)
        finally:
            self.closed += 1

    async def _play(self, scene):
        for step in scene:
            if isinstance(step, BaseException):
                raise step
            if isinstance(step, asyncio.Future):
                await step
            else:
                yield Reading(channel="wall", value=step, at_s=AT_S)


class NotOpened:
    def __init__(self, error):
        self.error = error


class Enough(BaseException):
    """Ends a script: it passes every `except Exception`."""


async def run(instrument):
    readings, news, slept = [], [], []

    async def sleep(seconds):
        slept.append(seconds)
        if not instrument.scenes:
            raise Enough

    with suppress(Enough):
        await supervise(
            instrument,
            emit=lambda reading: readings.append(reading.value),
            report=news.append,
            backoff=Backoff(first_s=1.0, longest_s=8.0),
            sleep=sleep,
            chance=lambda: 0.0,
        )
    return readings, news, slept


def unavailable(reason="unplugged"):
    return InstrumentUnavailable("probe", reason)


async def test_readings_go_on_after_a_failure():
    instrument = Scripted([1.0, 2.0, unavailable()], [3.0, unavailable()])
    readings, news, _ = await run(instrument)
    assert readings == [1.0, 2.0, 3.0]
    assert [(one.ok, one.reason) for one in news] == [
        (False, "open, no reading yet"),
        (True, "readings are coming"),
        (False, "unplugged"),
        (False, "open, no reading yet; before: unplugged"),
        (True, "readings are coming"),
        (False, "unplugged"),
    ]
    assert {(one.part, one.name, one.at_s) for one in news} == {(Part.INSTRUMENT, "probe", AT_S)}
    assert instrument.opened == instrument.closed == 2
    assert instrument.link.readings == 3


async def test_a_connection_alone_does_not_reset_the_wait():
    silent = [unavailable()]
    _, _, slept = await run(Scripted(silent, silent, silent, silent, silent))
    assert slept == [1.0, 2.0, 4.0, 8.0, 8.0]


async def test_a_reading_resets_the_wait():
    _, _, slept = await run(
        Scripted([unavailable()], [unavailable()], [5.0, unavailable()], [unavailable()])
    )
    assert slept == [1.0, 2.0, 1.0, 2.0]


async def test_the_reason_of_a_loss_outlives_an_opening_that_brings_no_reading():
    instrument = Scripted([unavailable("wedged")], [1.0, unavailable("wedged")], [])
    _, news, _ = await run(instrument)
    assert [one.reason for one in news] == [
        "open, no reading yet",
        "wedged",
        "open, no reading yet; before: wedged",
        "readings are coming",
        "wedged",
        "open, no reading yet; before: wedged",
        "it stopped sending",
    ]


async def test_a_port_that_stays_away_is_news_once():
    absent = [NotOpened(unavailable("not there"))]
    _, news, slept = await run(Scripted(absent, absent, absent))
    assert [one.reason for one in news] == ["not there"]
    assert len(slept) == 3


@pytest.mark.parametrize("scene", ["opening", "reading"])
async def test_a_refusal_parks_for_good(scene):
    error = InstrumentRefused("probe", "no serial port")
    instrument = Scripted([NotOpened(error)] if scene == "opening" else [4.0, error], [9.0])
    readings, news, slept = await run(instrument)
    assert slept == []
    assert 9.0 not in readings
    assert instrument.link.state is LinkState.PARKED
    assert (news[-1].ok, news[-1].reason) == (False, "no serial port")


async def test_a_bug_in_a_driver_is_logged_and_tried_again(caplog):
    instrument = Scripted([1.0, ZeroDivisionError("oops")], [2.0])
    with caplog.at_level(logging.ERROR):
        readings, news, _ = await run(instrument)
    assert readings == [1.0, 2.0]
    assert INTERNAL_ERROR in [one.reason for one in news]
    assert "ZeroDivisionError" in caplog.text


async def test_the_end_of_a_stream_is_a_failure():
    _, news, slept = await run(Scripted([1.0]))
    assert news[-1].reason == "it stopped sending"
    assert slept == [1.0]


async def test_a_cancellation_from_inside_a_library_ends_nothing():
    broken = asyncio.get_running_loop().create_future()
    broken.cancel()
    readings, news, _ = await run(Scripted([1.0, broken], [2.0]))
    assert readings == [1.0, 2.0]
    assert "the connection broke" in [one.reason for one in news]


async def test_cancelling_the_supervisor_closes_the_instrument():
    waiting = asyncio.get_running_loop().create_future()
    instrument = Scripted([1.0, waiting])
    heard = asyncio.Event()
    task = asyncio.create_task(
        supervise(instrument, emit=lambda _: heard.set(), report=lambda _: None)
    )
    await asyncio.wait_for(heard.wait(), patient(5.0))
    task.cancel()
    with pytest.raises(asyncio.CancelledError):
        await task
    assert instrument.closed == 1


async def test_nothing_else_runs_between_a_reading_and_its_delivery():
    """A tick queued from another task must not slip between two readings of one line."""
    queue = []
    done = asyncio.Event()

    async def tick():
        while not done.is_set():
            queue.append("tick")
            await asyncio.sleep(0)

    def emit(reading):
        queue.append(reading.value)
        if reading.value == 3.0:
            done.set()

    waiting = asyncio.get_running_loop().create_future()
    instrument = Scripted([1.0, 2.0, 3.0, waiting])
    supervisor = asyncio.create_task(supervise(instrument, emit=emit, report=lambda _: None))
    ticking = asyncio.create_task(tick())
    await asyncio.wait_for(done.wait(), patient(5.0))
    supervisor.cancel()
    await asyncio.gather(supervisor, ticking, return_exceptions=True)
    first = queue.index(1.0)
    assert queue[first : first + 3] == [1.0, 2.0, 3.0]
