"""Driver `serial-lines`: a microcontroller or balance that prints text lines."""

from collections.abc import AsyncGenerator, AsyncIterator, Awaitable, Callable, Sequence
from contextlib import AbstractAsyncContextManager, aclosing, asynccontextmanager
from dataclasses import dataclass

from logger.errors import DataError, InstrumentUnavailable
from logger.instruments.decoders.lines import Format, Line, LineDecoder, Rejected
from logger.instruments.dialogue import Dialogue, NoAnswer
from logger.instruments.instrument import Instrument, Now, SleepUntil
from logger.instruments.instrument_link import InstrumentLink
from logger.instruments.pace import Pace
from logger.instruments.serial_link import SerialLink, SerialOptions, open_serial, options_of
from logger.instruments.tagged_lines import LineSource, TaggedLines
from logger.instruments.written_units import WrittenUnits
from logger.quantities import Channel, Reading
from logger.settings.drivers.serial_lines_keys import CsvKeys, JsonKeys, PairsKeys

_UNANSWERED_ROUNDS = 3  # in a row, before the port is opened anew (our choice)


@dataclass(frozen=True, slots=True, kw_only=True)
class Talk:
    """What is sent to an instrument: commands at opening, and questions again and again."""

    start: tuple[str, ...] = ()
    poll: tuple[str, ...] = ()  # each answered by one line; empty: it speaks unasked
    end: str = "\r\n"
    every_s: float = 1.0
    within_s: float = 1.0  # real time that it has for an answer


_SILENT = Talk()


class SerialLines:
    """Readings of one line share the stamp of its last byte and come in order of `channels`.

    `decoder` makes a fresh one for each opening, its fields parallel to `channels`; one that
    polls must not drop the head of the first line.
    """

    def __init__(
        self,
        name: str,
        *,
        options: SerialOptions,
        channels: Sequence[Channel],
        decoder: Callable[[], LineSource],
        now: Callable[[], float],
        talk: Talk = _SILENT,
        sleep_until: Callable[[float], Awaitable[None]] | None = None,
    ) -> None:
        self.name = name
        self.link = InstrumentLink(name, now)
        self._options = options
        self._channels = tuple(channels)
        self._decoder = decoder
        self._now = now
        self._talk = talk
        self._sleep_until = sleep_until
        self._units = tuple(WrittenUnits(channel) for channel in channels)

    def open(self) -> AbstractAsyncContextManager[AsyncIterator[Reading]]:
        """The readings from now on; see `Instrument.open`."""
        return self._open()

    @asynccontextmanager
    async def _open(self) -> AsyncIterator[AsyncIterator[Reading]]:
        talk = self._talk
        async with open_serial(self.name, self._options) as port:
            dialogue = Dialogue(port, self.link, within_s=talk.within_s, end=talk.end)
            for command in talk.start:
                await dialogue.tell(command)
            answers = self._polled(dialogue) if talk.poll else self._heard(port)
            async with aclosing(answers) as readings:
                yield readings

    async def _heard(self, port: SerialLink) -> AsyncGenerator[Reading]:
        decoder = self._decoder()
        while True:
            data = await port.read()
            for reading in self._readings(decoder.feed(data), self._now()):
                yield reading

    async def _polled(self, dialogue: Dialogue) -> AsyncGenerator[Reading]:
        decoder = self._decoder()
        pace = Pace(self._talk.every_s, self._now, self._sleep_until)
        unanswered = 0
        while unanswered < _UNANSWERED_ROUNDS:
            await pace.next()
            unanswered += 1
            for question in self._talk.poll:
                try:
                    answer = await dialogue.ask(question)
                except NoAnswer:
                    self.link.refuse(f"no answer to {question}", "")
                    continue
                except DataError as error:
                    self.link.refuse(str(error), "")
                    continue
                unanswered = 0
                for reading in self._readings(decoder.feed(answer + b"\n"), self._now()):
                    yield reading
        reason = "no answer: check cable, baud rate and that it is switched on"
        raise InstrumentUnavailable(self.name, reason)

    def _readings(self, found: Sequence[Line | Rejected], at_s: float) -> list[Reading]:
        readings: list[Reading] = []
        for one in found:
            if isinstance(one, Line):
                readings += self._taken(one, at_s)
            else:
                channel = None if one.field is None else self._channels[one.field].name
                self.link.refuse(one.reason, one.excerpt, channel)
        return readings

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


_END = {"crlf": "\r\n", "lf": "\n", "cr": "\r"}


def build(
    keys: CsvKeys | PairsKeys | JsonKeys,
    channels: Sequence[Channel],
    now: Now,
    sleep_until: SleepUntil | None,
) -> Instrument:
    """The instrument of `keys`, whose channels are `channels`."""
    _lines(keys)  # to refuse now what it would refuse at each opening
    return SerialLines(
        keys.name,
        options=options_of(keys),
        channels=channels,
        decoder=lambda: _lines(keys),
        now=now,
        talk=Talk(
            start=keys.start,
            poll=keys.poll,
            end=_END[keys.command_end],
            every_s=keys.every_s,
            within_s=keys.answer_within_s,
        ),
        sleep_until=sleep_until,
    )


def _lines(keys: CsvKeys | PairsKeys | JsonKeys) -> LineSource:
    """A fresh decoder of the instrument's lines, or one for each of its devices."""
    devices: dict[str, list[tuple[int, int]]] = {}
    if isinstance(keys, CsvKeys):
        for place, one in enumerate(keys.channel):
            if one.device is not None:
                devices.setdefault(one.device, []).append((place, one.field))
    drop_head = not keys.poll
    if not devices or not isinstance(keys, CsvKeys):
        return _decoder(keys, [one.field for one in keys.channel], drop_head=drop_head)
    if sum(map(len, devices.values())) < len(keys.channel):
        raise DataError("either each channel names its device, or none does")
    return TaggedLines(
        {
            device: (
                _decoder(keys, [field for _, field in fields], drop_head=False),
                [place for place, _ in fields],
            )
            for device, fields in devices.items()
        },
        separator=keys.separator or ",",
        drop_head=drop_head,
    )


def _decoder(
    keys: CsvKeys | PairsKeys | JsonKeys, fields: Sequence[int | str], *, drop_head: bool
) -> LineDecoder:
    form = keys.model_dump(include={"separator", "decimal", "columns"})  # those that it has
    return LineDecoder(Format(keys.format), fields, **form, drop_head=drop_head)
