"""Processor time that each driver takes for a reading, against the bare library.

The simulated instrument runs in a process of its own, so that only the reader is measured.
Run: python -m tests.benchmarks.bench_drivers
"""

import asyncio
import multiprocessing
import sys
import tempfile
import time
from collections.abc import Awaitable, Callable, Iterator
from contextlib import contextmanager
from pathlib import Path

from pymodbus.client import AsyncModbusSerialClient
from serial import Serial

from logger.instruments.from_settings import build
from logger.instruments.instrument import Instrument
from logger.quantities import Averaging
from logger.settings.drivers import ModbusRtuKeys
from logger.settings.drivers.serial_lines_keys import CsvKeys
from simulators.modbus_line import ModbusLine
from simulators.printing_port import PrintingPort

CHANNELS = 4
ROUNDS = 2000  # lines or answers
LINES_PER_S = 1000.0  # a thousand times what a bench has; below what would be lost


def _speak(port: Path) -> None:
    with PrintingPort(port) as probes:
        while True:
            probes.write_line([41.25 + n for n in range(CHANNELS)])
            time.sleep(1.0 / LINES_PER_S)


def _answer(port: Path) -> None:
    line = ModbusLine(port, {1: {4: {n: 400 + n for n in range(CHANNELS)}}})
    while True:
        line.serve_once()
        time.sleep(0.0002)


@contextmanager
def simulated(work: Callable[[Path], None]) -> Iterator[Path]:
    """A simulator at its port, until the block ends."""
    with tempfile.TemporaryDirectory() as folder:
        port = Path(folder) / "port"
        process = multiprocessing.get_context("spawn").Process(
            target=work, args=(port,), daemon=True
        )
        process.start()
        try:
            until = time.monotonic() + 20.0
            while not port.exists():
                if time.monotonic() > until:
                    raise TimeoutError("the simulator does not start")
                time.sleep(0.01)
            yield port
        finally:
            process.kill()
            process.join()


def channels(**keys: list[int]) -> list[dict[str, object]]:
    """As many as the simulators have, each with its own of `keys`."""
    return [
        {"name": f"c{n}", "place": "room", "unit": "degC"}
        | {key: values[n] for key, values in keys.items()}
        for n in range(CHANNELS)
    ]


async def driver(instrument: Instrument) -> int:
    """Readings taken; the first is not counted, it comes after the opening."""
    taken = 0
    async with instrument.open() as readings:
        async for _ in readings:
            taken += 1
            if taken == ROUNDS * CHANNELS:
                break
    return taken


async def lines_by_driver(port: Path) -> int:
    """The driver `serial-lines`."""
    keys = CsvKeys(name="x", port=str(port), channel=channels(field=list(range(CHANNELS))))
    return await driver(build(keys.settings(Averaging()), time.time))


async def lines_by_pyserial(port: Path) -> int:
    """pyserial's readline, split and float: no check, no time stamp."""
    taken = 0
    with Serial(str(port), timeout=5.0) as serial:
        serial.readline()
        for _ in range(ROUNDS):
            taken += len([float(cell) for cell in serial.readline().split(b",")])
    return taken


async def registers_by_driver(port: Path) -> int:
    """The driver `modbus-rtu`, asking without a pause."""
    keys = ModbusRtuKeys(
        name="x",
        port=str(port),
        baud=115_200,
        every="0.001 ms",
        channel=channels(
            device=[1] * CHANNELS, address=list(range(CHANNELS)), scale=[0.1] * CHANNELS
        ),
    )
    return await driver(build(keys.settings(Averaging()), time.time))


async def registers_by_pymodbus(port: Path) -> int:
    """pymodbus's own client: no time stamp, no name for what went wrong."""
    client = AsyncModbusSerialClient(str(port), baudrate=115_200, reconnect_delay=0)
    await client.connect()
    taken = 0
    for _ in range(ROUNDS):
        answer = await client.read_input_registers(0, count=CHANNELS, device_id=1)
        taken += len([word * 0.1 for word in answer.registers])
    client.close()
    return taken


def cost_us(work: Callable[[Path], None], read: Callable[[Path], Awaitable[int]]) -> float:
    """Processor time a reading, in microseconds."""

    async def measured(port: Path) -> float:
        before_s = time.process_time()
        taken = await read(port)
        return (time.process_time() - before_s) / taken * 1e6

    with simulated(work) as port:
        return asyncio.run(measured(port))


def main() -> None:
    """Print a table."""
    rows = [
        ("serial-lines", _speak, lines_by_driver, lines_by_pyserial),
        ("modbus-rtu", _answer, registers_by_driver, registers_by_pymodbus),
    ]
    sys.stdout.write(f"{'driver':<14}{'us a reading':>14}{'bare library':>14}{'ratio':>8}\n")
    for name, work, ours, bare in rows:
        own_us, bare_us = cost_us(work, ours), cost_us(work, bare)
        sys.stdout.write(f"{name:<14}{own_us:>14.1f}{bare_us:>14.1f}{own_us / bare_us:>8.2f}\n")


if __name__ == "__main__":
    main()
