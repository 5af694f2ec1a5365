"""Question and answer in lines of text on a serial port."""

import asyncio

from logger.errors import DataError
from logger.instruments.decoders.lines import LineSplitter, Rejected, excerpt
from logger.instruments.instrument_link import InstrumentLink
from logger.instruments.serial_link import SerialLink

UNASKED = "came without being asked"


class NoAnswer(Exception):
    """Nothing, or no whole line, came in time. Caught by the driver that asked."""


class Dialogue:
    """One question at a time; `within_s` of real time is what an instrument has to answer."""

    def __init__(
        self, port: SerialLink, link: InstrumentLink, *, within_s: float, end: str
    ) -> None:
        self._port = port
        self._link = link
        self._within_s = within_s
        self._end = end

    async def tell(self, command: str) -> None:
        """Send what is not answered."""
        await self._port.write((command + self._end).encode("ascii"))

    async def ask(self, question: str) -> bytes:
        """The line that answers; its last byte has just come.

        Raises `NoAnswer`, `DataError` for an endless line, `InstrumentUnavailable` when the port
        is gone.
        """
        if early := self._port.pending():
            # Half a line flushed away would make the rest of it the answer: 1.25 of 41.25.
            early += await self._port.quiet(self._within_s)
            self._link.refuse(UNASKED, excerpt(early))
        await self.tell(question)
        splitter = LineSplitter(drop_head=False)
        lines: list[bytes | Rejected] = []
        try:
            async with asyncio.timeout(self._within_s):
                while not lines:
                    lines = splitter.feed(await self._port.read())
        except TimeoutError:
            raise NoAnswer(question) from None
        answer, *more = lines
        for line in more:
            self._link.refuse(
                UNASKED, line.excerpt if isinstance(line, Rejected) else excerpt(line)
            )
        if isinstance(answer, Rejected):
            raise DataError(answer.reason)
        return answer
