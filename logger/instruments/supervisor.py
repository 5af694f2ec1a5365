"""One instrument kept alive: opened, listened to, opened again."""

import asyncio
import logging
import random
from collections.abc import Awaitable, Callable

from logger.errors import InstrumentRefused, InstrumentUnavailable
from logger.instruments.backoff import Backoff
from logger.instruments.instrument import Instrument
from logger.quantities import Health, Reading

log = logging.getLogger(__name__)

_BACKOFF = Backoff()

INTERNAL_ERROR = "the driver failed, see the log"


async def supervise(
    instrument: Instrument,
    *,
    emit: Callable[[Reading], None],
    report: Callable[[Health], None],
    backoff: Backoff = _BACKOFF,
    sleep: Callable[[float], Awaitable[object]] = asyncio.sleep,
    chance: Callable[[], float] = random.random,  # noqa: S311 - spreads retries, no secret
) -> None:
    """Hand every reading to `emit` and every change of health to `report`, until cancelled.

    Returns by itself only when the instrument refuses for good; it is parked then. `sleep` waits
    in real time. `emit` and `report` put into the bench's queue and do not wait.
    """
    link = instrument.link
    link.report = report
    failures = 0  # in a row
    while True:
        try:
            async with instrument.open() as readings:
                link.note_opened()
                async for reading in readings:
                    failures = 0  # a reading, not a connection, proves health
                    link.note_heard(reading.at_s)
                    emit(reading)
            reason = "it stopped sending"
        except InstrumentRefused as error:
            log.error("%s: parked: %s", instrument.name, error.reason)
            link.park(error.reason)
            return
        except InstrumentUnavailable as error:
            reason = error.reason
        except asyncio.CancelledError:
            # Libraries cancel their own futures when a connection breaks; that ends no burn.
            task = asyncio.current_task()
            if task is None or task.cancelling():
                raise
            reason = "the connection broke"
        except Exception:  # the program's one broad except: a driver's bug must end no burn
            log.exception("%s: the driver failed", instrument.name)
            reason = INTERNAL_ERROR
        failures += 1
        link.note_lost(reason)
        await sleep(backoff.delay_s(failures, chance()))
