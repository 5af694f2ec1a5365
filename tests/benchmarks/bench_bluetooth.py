"""Processor time that a Bluetooth notification costs, against bleak alone.

The Bluetooth service is simulated in a process of its own, so that only the reader is measured.
Run: python -m tests.benchmarks.bench_bluetooth
"""

import asyncio
import multiprocessing
import os
import sys
import tempfile
import time
from collections.abc import Awaitable, Callable
from pathlib import Path

from bleak import BleakClient, BleakScanner

from logger.instruments.from_settings import build
from logger.quantities import Averaging
from logger.settings.drivers import BleGattKeys
from simulators.bluetooth_sensors import TEMPERATURE, environmental_sensor, hundredths
from simulators.bluez import Bluez
from simulators.private_bus import ADDRESS_VARIABLE, PrivateBus, available

ADDRESS = "02:00:00:00:00:0A"
NOTIFICATIONS = 2000
PER_S = 200.0  # two hundred times what a probe sends


def _serve(address: str) -> None:
    asyncio.run(_notify(address))


async def _notify(address: str) -> None:
    sensor = environmental_sensor(ADDRESS, "Ember", battery=None)
    async with Bluez(address, [sensor]) as bluez:
        count = 0
        while True:
            count = count % 9000 + 1
            bluez.notify(sensor, sensor.find(TEMPERATURE), hundredths(count / 100))
            await asyncio.sleep(1.0 / PER_S)


async def by_driver() -> float:
    """The driver `ble-gatt`: decoded, converted, stamped."""
    channel = {"name": "c", "place": "room", "unit": "degC", "characteristic": "temperature"}
    keys = BleGattKeys.model_validate({"name": "x", "address": ADDRESS, "channel": [channel]})
    instrument = build(keys.settings(Averaging()), time.time)
    taken, before_s = 0, 0.0
    async with instrument.open() as readings:
        async for _ in readings:
            taken += 1
            if taken == 1:  # found and connected to
                before_s = time.process_time()
            if taken > NOTIFICATIONS:
                break
    return (time.process_time() - before_s) / NOTIFICATIONS * 1e6


async def by_bleak() -> float:
    """bleak's callback, which counts: nothing is decoded."""
    device = await BleakScanner.find_device_by_address(ADDRESS)
    assert device is not None
    done = asyncio.Event()
    taken, before_s, took_s = 0, 0.0, 0.0

    def hear(_: object, __: bytearray) -> None:
        nonlocal taken, before_s, took_s
        taken += 1
        if taken == 1:
            before_s = time.process_time()
        if taken == NOTIFICATIONS + 1:
            took_s = time.process_time() - before_s
            done.set()

    async with BleakClient(device) as client:
        await client.start_notify(TEMPERATURE, hear)
        await done.wait()
    return took_s / NOTIFICATIONS * 1e6


def cost_us(read: Callable[[], Awaitable[float]]) -> float:
    """Processor time a notification, in microseconds."""
    with (
        tempfile.TemporaryDirectory(prefix="bus-") as folder,
        PrivateBus(Path(folder)) as bus,
    ):
        os.environ[ADDRESS_VARIABLE] = bus.address
        spawn = multiprocessing.get_context("spawn")
        service = spawn.Process(target=_serve, args=(bus.address,), daemon=True)
        service.start()
        try:
            return asyncio.run(_awaited(read))
        finally:
            service.kill()
            service.join()


async def _awaited(read: Callable[[], Awaitable[float]]) -> float:
    await asyncio.sleep(2.0)  # the service comes up
    return await read()


def main() -> None:
    """Print a table."""
    if not available():
        sys.stdout.write("no D-Bus daemon here (Debian: dbus)\n")
        return
    own_us, bare_us = cost_us(by_driver), cost_us(by_bleak)
    sys.stdout.write(f"{'driver':<14}{'us a reading':>14}{'bare bleak':>14}{'ratio':>8}\n")
    sys.stdout.write(f"{'ble-gatt':<14}{own_us:>14.1f}{bare_us:>14.1f}{own_us / bare_us:>8.2f}\n")


if __name__ == "__main__":
    main()
