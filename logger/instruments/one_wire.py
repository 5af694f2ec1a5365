"""Driver `one-wire`: digital thermometers that the Linux kernel reads and hands over as files."""

import asyncio
import contextlib
import threading
from collections.abc import AsyncGenerator, AsyncIterator, Awaitable, Callable, Mapping, Sequence
from contextlib import AbstractAsyncContextManager, aclosing, asynccontextmanager
from pathlib import Path

from logger.errors import DataError, InstrumentUnavailable
from logger.instruments.decoders import one_wire_files
from logger.instruments.decoders.lines import excerpt
from logger.instruments.instrument import Instrument, Now, SleepUntil
from logger.instruments.instrument_link import InstrumentLink
from logger.instruments.pace import Pace
from logger.quantities import Channel, Reading
from logger.settings.drivers.one_wire_keys import KERNEL_FOLDER, OneWireKeys

# A conversion takes 0.75 s at 12 bit (data sheet); the kernel tries a bad one again.
_ONE_FILE_WITHIN_S = 5.0

_DECODERS: Mapping[str, Callable[[bytes], float]] = {
    "w1_slave": one_wire_files.from_slave_file,  # with the sensor's own CRC: preferred
    "temperature": one_wire_files.from_temperature_file,
}


_Read = tuple[str, bytes]  # name of the file and what it held


class OneWire:
    """Reads `sensors` ("28-0000000000a1") one after the other every `every_s`.

    `channels` is parallel to `sensors`. A reading is stamped when the kernel hands it over.
    """

    def __init__(
        self,
        name: str,
        *,
        sensors: Sequence[str],
        channels: Sequence[Channel],
        now: Callable[[], float],
        folder: Path = KERNEL_FOLDER,
        every_s: float = 1.0,
        within_s: float = _ONE_FILE_WITHIN_S,
        sleep_until: Callable[[float], Awaitable[None]] | None = None,
    ) -> None:
        self.name = name
        self.link = InstrumentLink(name, now)
        self._sensors = tuple(zip(sensors, channels, strict=True))
        self._folder = folder
        self._every_s = every_s
        self._within_s = within_s
        self._now = now
        self._sleep_until = sleep_until
        self._reading: asyncio.Future[_Read | OSError] | None = None

    def open(self) -> AbstractAsyncContextManager[AsyncIterator[Reading]]:
        """The readings from now on; see `Instrument.open`."""
        return self._open()

    @asynccontextmanager
    async def _open(self) -> AsyncIterator[AsyncIterator[Reading]]:
        if not self._folder.is_dir():
            reason = f"{self._folder} is not there: switch the 1-Wire bus on (overlay w1-gpio)"
            raise InstrumentUnavailable(self.name, reason)
        async with aclosing(self._readings()) as readings:
            yield readings

    async def _readings(self) -> AsyncGenerator[Reading]:
        pace = Pace(self._every_s, self._now, self._sleep_until)
        while True:
            await pace.next()
            answered = False
            for sensor, channel in self._sensors:
                try:
                    file, data = await self._read(self._folder / sensor)
                except OSError as error:
                    reason = f"{sensor} is not on the bus: check its plug ({error.strerror})"
                    self.link.refuse(reason, "", channel.name)
                    continue
                at_s = self._now()
                answered = True
                try:
                    celsius = _DECODERS[file](data)
                except DataError as error:
                    self.link.refuse(str(error), excerpt(data), channel.name)
                    continue
                value = channel.unit.outside(celsius)
                yield Reading(channel=channel.name, value=value, at_s=at_s)
            if not answered:
                raise InstrumentUnavailable(self.name, "none of its sensors is on the bus")

    async def _read(self, sensor: Path) -> _Read:
        """Which file was read, and what it held; raises OSError."""
        hangs = InstrumentUnavailable(
            self.name, f"{sensor.name} hangs: check the bus's supply and wiring"
        )
        if self._reading is not None and not self._reading.done():
            raise hangs  # since an earlier opening; another thread would hang as well
        # The kernel holds the caller for the whole conversion, and for ever on a bad day.
        self._reading = _on_thread(lambda: _newest(sensor))
        try:
            async with asyncio.timeout(self._within_s):
                outcome = await asyncio.shield(self._reading)
        except TimeoutError:
            raise hangs from None
        if isinstance(outcome, OSError):
            raise outcome
        return outcome


def _newest(sensor: Path) -> _Read:
    slave = sensor / "w1_slave"
    if slave.exists() or not (sensor / "temperature").exists():
        return slave.name, slave.read_bytes()
    return "temperature", (sensor / "temperature").read_bytes()


def _on_thread(work: Callable[[], _Read]) -> asyncio.Future[_Read | OSError]:
    """`work` on a thread that the program's end does not wait for."""
    loop = asyncio.get_running_loop()
    result: asyncio.Future[_Read | OSError] = loop.create_future()

    def tell(outcome: _Read | OSError) -> None:
        if not result.done():
            result.set_result(outcome)

    def run() -> None:
        try:
            outcome: _Read | OSError = work()
        except OSError as error:
            outcome = error
        with contextlib.suppress(RuntimeError):  # the loop has been closed meanwhile
            loop.call_soon_threadsafe(tell, outcome)

    threading.Thread(target=run, name="one-wire", daemon=True).start()
    return result


def build(
    keys: OneWireKeys, channels: Sequence[Channel], now: Now, sleep_until: SleepUntil | None
) -> Instrument:
    """The instrument of `keys`, whose channels are `channels`."""
    return OneWire(
        keys.name,
        sensors=[one.field for one in keys.channel],
        channels=channels,
        now=now,
        folder=keys.folder,
        every_s=keys.every_s,
        within_s=keys.answer_within_s,
        sleep_until=sleep_until,
    )
