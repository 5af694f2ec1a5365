"""A serial port on the event loop: opened for us alone, and honest about a pulled plug."""

import asyncio
import contextlib
import errno
import os
import termios
from collections.abc import AsyncIterator, Callable
from contextlib import AsyncExitStack, asynccontextmanager
from dataclasses import dataclass

from serial import Serial, SerialException

from logger.errors import InstrumentError, InstrumentRefused, InstrumentUnavailable
from logger.settings.drivers.wired_keys import SerialKeys

_ONE_READ = 4096  # bytes: a terminal's whole buffer (Linux, N_TTY_BUF_SIZE)
_WRITE_WITHIN_S = 2.0  # a command of 64 bytes takes 0.5 s at 1200 Bd

# How long a talker may go on before we say that it is one, in waits for an answer (our choice).
_TALKS = 10

UNPLUGGED = "unplugged: put the plug back"


@dataclass(frozen=True, slots=True, kw_only=True)
class SerialOptions:
    """How a port is opened."""

    port: str
    baud: int = 9600
    data_bits: int = 8
    parity: str = "N"  # "N", "E" or "O"
    stop_bits: int = 1
    # None: as the system leaves them at opening. Many boards restart when DTR rises.
    dtr: bool | None = None
    rts: bool | None = None


def options_of(keys: SerialKeys) -> SerialOptions:
    """How the port of an instrument is opened."""
    return SerialOptions(
        port=keys.port,
        baud=keys.baud,
        parity=keys.parity[0].upper(),
        stop_bits=keys.stop_bits,
        dtr=keys.dtr,
        rts=keys.rts,
    )


class SerialLink:
    """An open port; made by `open_serial`."""

    def __init__(self, instrument: str, port: Serial) -> None:
        self._instrument = instrument
        self._port = port
        self._loop = asyncio.get_running_loop()

    async def read(self) -> bytes:
        """The bytes that are there, at least one, after waiting for it.

        They have just been taken from the system: what stamps them does so before it awaits
        again. Raises `InstrumentUnavailable` when the port is gone.
        """
        # The reader is registered for each wait alone: a ready port left registered would spin
        # the loop, and what nobody takes is kept, and in the end dropped, by the system.
        while True:
            await self._ready(self._loop.add_reader, self._loop.remove_reader)
            try:
                data = os.read(self._port.fd, _ONE_READ)
            except (BlockingIOError, InterruptedError):
                continue
            except OSError as error:
                raise self._gone(error) from error
            if not data:
                raise self._gone(None)
            return data

    async def write(self, data: bytes) -> None:
        """Send `data`; raises `InstrumentUnavailable` when the port does not take it in time."""
        try:
            async with asyncio.timeout(_WRITE_WITHIN_S):
                while data:
                    await self._ready(self._loop.add_writer, self._loop.remove_writer)
                    with contextlib.suppress(BlockingIOError, InterruptedError):
                        data = data[os.write(self._port.fd, data) :]
        except TimeoutError:
            reason = "the port takes no command: check flow control and cable"
            raise InstrumentUnavailable(self._instrument, reason) from None
        except OSError as error:
            raise self._gone(error) from error

    async def read_within(self, seconds: float) -> bytes | None:
        """As `read`; None when nothing comes in `seconds` of real time."""
        try:
            async with asyncio.timeout(seconds):
                return await self.read()
        except TimeoutError:
            return None

    def pending(self) -> bytes:
        """What is there already, perhaps nothing; does not wait."""
        try:
            return os.read(self._port.fd, _ONE_READ)
        except (BlockingIOError, InterruptedError):
            return b""
        except OSError as error:
            raise self._gone(error) from error

    async def quiet(self, seconds: float) -> bytes:
        """Wait until nothing has come for `seconds`; returns what came before that.

        For a question to be asked without an older answer, or half of one, being taken for the
        answer. Raises `InstrumentUnavailable` for an instrument that is never quiet.
        """
        came = b""
        until = self._loop.time() + _TALKS * seconds
        while data := await self.read_within(seconds):
            came = (came + data)[-_ONE_READ:]
            if self._loop.time() > until:
                raise InstrumentUnavailable(
                    self._instrument, "it sends without being asked: leave the questions out"
                )
        return came

    async def _ready(
        self,
        watch: Callable[[int, Callable[[], None]], None],
        forget: Callable[[int], bool],
    ) -> None:
        ready = self._loop.create_future()

        def tell() -> None:
            if not ready.done():
                ready.set_result(None)

        watch(self._port.fd, tell)
        try:
            await ready
        finally:
            forget(self._port.fd)

    def _gone(self, error: OSError | None) -> InstrumentUnavailable:
        if error is None or error.errno in {errno.EIO, errno.ENXIO, errno.ENODEV, errno.EBADF}:
            return InstrumentUnavailable(self._instrument, UNPLUGGED)
        return InstrumentUnavailable(self._instrument, f"the port fails: {error.strerror}")


@asynccontextmanager
async def open_serial(instrument: str, options: SerialOptions) -> AsyncIterator[SerialLink]:
    """The port, locked against other programs, without what it received before.

    Raises `InstrumentUnavailable` or `InstrumentRefused`.
    """
    async with AsyncExitStack() as undo:
        try:
            port = _opened(options)
        except (OSError, ValueError, termios.error) as error:  # SerialException is an OSError
            raise _refusal(instrument, options, error) from error
        undo.callback(_close, port)
        yield SerialLink(instrument, port)


def _opened(options: SerialOptions) -> Serial:
    port = Serial(
        port=None,  # not opened by the constructor
        baudrate=options.baud,
        bytesize=options.data_bits,
        parity=options.parity,
        stopbits=options.stop_bits,
        exclusive=True,
        # Serial sets DTR at opening unless it believes that the driver does.
        dsrdtr=options.dtr is None,
    )
    if options.dtr is not None:
        port.dtr = options.dtr
    if options.rts is not None:
        port.rts = options.rts
    port.port = options.port
    port.open()  # drops what the port has received: old values would get a new time
    return port


def _close(port: Serial) -> None:
    # With a command still unsent the system would wait in close() for it, up to half a minute
    # (Linux, closing_wait), and the whole loop with it.
    with contextlib.suppress(termios.error, OSError):
        port.reset_output_buffer()
    port.close()


def _refusal(
    instrument: str, options: SerialOptions, error: OSError | ValueError | termios.error
) -> InstrumentError:
    """What a failed opening means for the person at the bench."""
    where = options.port
    number = _errno(error)
    match number:
        case errno.ENOENT | errno.ENXIO | errno.ENODEV | errno.EIO:
            reason = f"{where} is not there: check plug and cable, and the port's name"
        case errno.EACCES | errno.EPERM:
            reason = f"{where} may not be opened: add the user to the port's group (often dialout)"
        case errno.EAGAIN | errno.EBUSY:
            reason = f"{where} is held by another program: close that"
        case errno.ENOTTY | errno.EISDIR:
            # Not for good: a name can stand for a file until its device is there.
            reason = f"{where} is not a serial port: check plug and cable, and the port's name"
        case errno.EINVAL:
            # Not for good: a pseudo-terminal takes a parity bit at the first opening alone.
            reason = f"{where} does not take these settings: check baud, parity or stop bits"
        case None if isinstance(error, ValueError):
            return InstrumentRefused(instrument, f"{where}: {error}")
        case _:
            reason = f"{where} cannot be opened: {os.strerror(number) if number else error}"
    return InstrumentUnavailable(instrument, reason)


def _errno(error: BaseException) -> int | None:
    """The system's number; pyserial and termios wrap it in ways of their own."""
    seen: BaseException | None = error
    while seen is not None:
        if isinstance(seen, OSError) and seen.errno is not None:
            return seen.errno
        if isinstance(seen, termios.error) and seen.args and isinstance(seen.args[0], int):
            return seen.args[0]
        seen = seen.__context__ if isinstance(seen, SerialException) else None
    return None
