"""Driver `modbus-rtu`: registers of one or several devices on an RS-485 line.

pymodbus builds and reads the frames. Its client is not used: of an absent port, a held one, a
wrong CRC and silence it tells no more than that no answer came.
"""

import asyncio
from collections.abc import AsyncGenerator, AsyncIterator, Awaitable, Callable, Sequence
from contextlib import AbstractAsyncContextManager, aclosing, asynccontextmanager

from logger.errors import DataError, InstrumentUnavailable
from logger.instruments.decoders.modbus_registers import RegisterNumber, RegisterType, WordOrder
from logger.instruments.instrument import Instrument, Now, SleepUntil
from logger.instruments.instrument_link import InstrumentLink
from logger.instruments.modbus_frames import (
    Block,
    Register,
    answer_in,
    blocks,
    question,
    what_is_wrong,
)
from logger.instruments.pace import Pace
from logger.instruments.serial_link import SerialLink, SerialOptions, open_serial, options_of
from logger.quantities import Channel, Reading
from logger.settings.drivers import ModbusRtuKeys

_LONGEST = 512  # bytes of noise before an answer is given up: twice the longest frame
# A device that keeps silent is asked less often, or the others would wait for it each time; when
# all are silent for as many rounds, the port is opened anew (our choice).
_MISSES = 3
_SELDOM = 10  # rounds


class ModbusRtu:
    """Reads `blocks` every `every_s`; values of one answer share the stamp of its last byte."""

    def __init__(
        self,
        name: str,
        *,
        options: SerialOptions,
        blocks: Sequence[Block],
        now: Callable[[], float],
        every_s: float = 1.0,
        within_s: float = 0.5,
        sleep_until: Callable[[float], Awaitable[None]] | None = None,
    ) -> None:
        self.name = name
        self.link = InstrumentLink(name, now)
        self._options = options
        self._blocks = tuple(blocks)
        self._every_s = every_s
        self._within_s = within_s
        self._now = now
        self._sleep_until = sleep_until
        # Frames are separated by 3.5 characters of 11 bits; over 19200 Bd by 1.75 ms
        # (Modbus over serial line V1.02, 2.5.1.1).
        self._gap_s = max(3.5 * 11 / options.baud, 0.00175)

    def open(self) -> AbstractAsyncContextManager[AsyncIterator[Reading]]:
        """The readings from now on; see `Instrument.open`."""
        return self._open()

    @asynccontextmanager
    async def _open(self) -> AsyncIterator[AsyncIterator[Reading]]:
        async with (
            open_serial(self.name, self._options) as port,
            aclosing(self._readings(port)) as readings,
        ):
            yield readings

    async def _readings(self, port: SerialLink) -> AsyncGenerator[Reading]:
        pace = Pace(self._every_s, self._now, self._sleep_until)
        misses = dict.fromkeys((block.device for block in self._blocks), 0)
        turn = 0
        while True:
            await pace.next()
            for block in self._blocks:
                if misses[block.device] >= _MISSES and turn % _SELDOM:
                    continue
                try:
                    words = await self._ask(port, block)
                except _NoAnswer as error:
                    misses[block.device] += 1
                    self._refuse(block, str(error), error.seen)
                    continue
                except DataError as error:  # it answers, if only to say why not
                    misses[block.device] = 0
                    self._refuse(block, str(error), b"")
                    continue
                misses[block.device] = 0
                for reading in self._taken(block, words, self._now()):
                    yield reading
            turn += 1
            if min(misses.values()) >= _MISSES:
                raise InstrumentUnavailable(self.name, "no device answers: check line and supply")

    def _taken(self, block: Block, words: Sequence[int], at_s: float) -> list[Reading]:
        readings = []
        for channel, register in block.channels:
            first = register.address - block.address
            try:
                value = register.number.value(words[first : first + register.number.registers])
            except DataError as error:
                self.link.refuse(str(error), str(list(words)), channel.name)
            else:
                readings.append(Reading(channel=channel.name, value=value, at_s=at_s))
        return readings

    def _refuse(self, block: Block, reason: str, seen: bytes) -> None:
        for channel, _ in block.channels:
            self.link.refuse(reason, seen.hex(" "), channel.name)

    async def _ask(self, port: SerialLink, block: Block) -> Sequence[int]:
        """The words of `block`; raises `_NoAnswer`, or `DataError` for a device's exception."""
        if early := port.pending():
            # A late answer looks like one to the next question: frames carry no address.
            early += await port.quiet(self._within_s)
            self.link.refuse("came without being asked", early.hex(" "))
        await asyncio.sleep(self._gap_s)
        asked = question(block)
        await port.write(asked)
        came = b""
        try:
            async with asyncio.timeout(self._within_s):
                while len(came) < _LONGEST:
                    came += await port.read()
                    # Some adapters echo what they send, and a question for the registers from
                    # 0x0300 on is, to the last bit of its CRC, an answer of three bytes as well.
                    came = came.replace(asked, b"")
                    words = answer_in(came, block)
                    if words is not None:
                        return words
        except TimeoutError:
            pass
        # What is still on its way would be taken for the answer to the next question.
        came += await port.quiet(self._within_s)
        raise _NoAnswer(f"device {block.device}: {what_is_wrong(came, block)}", came)


class _NoAnswer(Exception):
    """No whole answer came in time; `seen` is what did."""

    def __init__(self, reason: str, seen: bytes) -> None:
        super().__init__(reason)
        self.seen = seen


def build(
    keys: ModbusRtuKeys, channels: Sequence[Channel], now: Now, sleep_until: SleepUntil | None
) -> Instrument:
    """The instrument of `keys`, whose channels are `channels`."""
    registers = [
        Register(
            device=one.device,
            function={"holding": 3, "input": 4}[one.table],
            address=one.address,
            number=RegisterNumber(
                type=RegisterType(one.type),
                word_order=WordOrder(one.word_order or WordOrder.HIGH_FIRST),
                scale=one.scale,
            ),
        )
        for one in keys.channel
    ]
    return ModbusRtu(
        keys.name,
        options=options_of(keys),
        blocks=blocks(channels, registers),
        now=now,
        every_s=keys.every_s,
        within_s=keys.answer_within_s,
        sleep_until=sleep_until,
    )
