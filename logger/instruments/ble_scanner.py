"""A scanner started and stopped, whatever the Bluetooth service does meanwhile."""

import asyncio
from contextlib import suppress

from bleak import BleakScanner

from logger.instruments.ble_trouble import TROUBLE

_STOP_S = 3.0  # real time that a service which may hang has for an answer, our choice


async def started(scanner: BleakScanner) -> None:
    """Start it. Cancelled meanwhile, it is stopped as soon as the service has answered.

    A start that nobody waits for is a scan that the service will not start a second time.
    """
    starting = asyncio.ensure_future(scanner.start())
    try:
        await asyncio.shield(starting)
    except asyncio.CancelledError:
        starting.add_done_callback(lambda done: _abandon(done, scanner))
        raise


def _abandon(starting: asyncio.Future[None], scanner: BleakScanner) -> None:
    if not starting.cancelled() and starting.exception() is None:
        stopping = asyncio.ensure_future(stopped(scanner))
        _abandoned.add(stopping)
        stopping.add_done_callback(_abandoned.discard)


async def stopped(scanner: BleakScanner) -> None:
    """Stop it, as far as there is a service that can."""
    with suppress(*TROUBLE):
        async with asyncio.timeout(_STOP_S):
            await scanner.stop()


_abandoned: set[asyncio.Future[None]] = set()  # the loop alone would let them go
