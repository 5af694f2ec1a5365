"""Driver `serial-lines`: a microcontroller or balance that prints text lines."""

from collections.abc import AsyncGenerator, AsyncIterator, Callable, Sequence
from contextlib import AbstractAsyncContextManager, aclosing, asynccontextmanager

from logger.errors import DataError
from logger.instruments.decoders.lines import Line, LineDecoder, Rejected
from logger.instruments.link import Link
from logger.instruments.serial_link import SerialLink, SerialOptions, open_serial
from logger.instruments.written_units import WrittenUnits
from logger.quantities import Channel, Reading


class SerialLines:
    """Readings of one line share the stamp of its last byte and come in order of `channels`.

    `decoder` makes a fresh one for each opening, its fields parallel to `channels`.
    """

    def __init__(
        self,
        name: str,
        *,
        options: SerialOptions,
        channels: Sequence[Channel],
        decoder: Callable[[], LineDecoder],
        now: Callable[[], float],
    ) -> None:
        self.name = name
        self.link = Link(name, now)
        self._options = options
        self._channels = tuple(channels)
        self._decoder = decoder
        self._now = now
        self._units = tuple(WrittenUnits(channel) for channel in channels)

    def open(self) -> AbstractAsyncContextManager[AsyncIterator[Reading]]:
        """The readings from now on; see `Instrument.open`."""
        return self._open()

    @asynccontextmanager
    async def _open(self) -> AsyncIterator[AsyncIterator[Reading]]:
        async with (
            open_serial(self.name, self._options) as port,
            aclosing(self._readings(port, self._decoder())) as readings,
        ):
            yield readings

    async def _readings(self, port: SerialLink, decoder: LineDecoder) -> AsyncGenerator[Reading]:
        while True:
            data = await port.read()
            at_s = self._now()
            for found in decoder.feed(data):
                if isinstance(found, Rejected):
                    channel = None if found.field is None else self._channels[found.field].name
                    self.link.refuse(found.reason, found.excerpt, channel)
                    continue
                for reading in self._taken(found, at_s):
                    yield reading

    def _taken(self, line: Line, at_s: float) -> list[Reading]:
        readings = []
        for index, value, unit in line.values:
            channel = self._channels[index]
            try:
                configured = self._units[index].convert(value, unit)
                readings.append(Reading(channel=channel.name, value=configured, at_s=at_s))
            except DataError as error:
                self.link.refuse(str(error), f"{value:g} {unit}", channel.name)
        return readings
