"""Driver `scpi`: a bench meter or scanner that answers questions such as `MEAS:TEMP? (@101)`."""

from collections.abc import AsyncGenerator, AsyncIterator, Awaitable, Callable, Sequence
from contextlib import AbstractAsyncContextManager, aclosing, asynccontextmanager
from dataclasses import dataclass

from logger.errors import DataError, InstrumentUnavailable
from logger.instruments.decoders import scpi_answers
from logger.instruments.decoders.lines import excerpt
from logger.instruments.dialogue import Dialogue, NoAnswer
from logger.instruments.instrument import Instrument, Now, SleepUntil
from logger.instruments.instrument_link import InstrumentLink
from logger.instruments.pace import Pace
from logger.instruments.serial_link import SerialOptions, open_serial, options_of
from logger.quantities import Channel, Reading
from logger.settings.drivers import ScpiKeys

_GREETINGS = 3  # tries: a late answer may come in before that to *IDN?
_MOST_ERRORS = 20  # read in one go: no error queue of an instrument ends the round


@dataclass(frozen=True, slots=True, kw_only=True)
class Query:
    """A question, and the channels that take the values of its answer."""

    text: str
    channels: tuple[tuple[Channel, int], ...]  # with the place in the answer, from 0

    @property
    def count(self) -> int:
        """How many values the answer has."""
        return max(place for _, place in self.channels) + 1


def queries(
    texts: Sequence[str], places: Sequence[int], channels: Sequence[Channel]
) -> tuple[Query, ...]:
    """Each question once, in the order of `channels`, to which the others are parallel."""
    asked: dict[str, list[tuple[Channel, int]]] = {}
    for text, place, channel in zip(texts, places, channels, strict=True):
        asked.setdefault(text, []).append((channel, place))
    return tuple(Query(text=text, channels=tuple(taken)) for text, taken in asked.items())


class Scpi:
    """Asks `queries` every `every_s`; values of one answer share the stamp of its last byte."""

    def __init__(
        self,
        name: str,
        *,
        options: SerialOptions,
        queries: Sequence[Query],
        now: Callable[[], float],
        start: Sequence[str] = (),
        every_s: float = 1.0,
        within_s: float = 2.0,
        sleep_until: Callable[[float], Awaitable[None]] | None = None,
    ) -> None:
        self.name = name
        self.link = InstrumentLink(name, now)
        self._options = options
        self._queries = tuple(queries)
        self._start = tuple(start)
        self._every_s = every_s
        self._within_s = within_s
        self._now = now
        self._sleep_until = sleep_until
        self._has_error_queue = True

    def open(self) -> AbstractAsyncContextManager[AsyncIterator[Reading]]:
        """The readings from now on; see `Instrument.open`."""
        return self._open()

    @asynccontextmanager
    async def _open(self) -> AsyncIterator[AsyncIterator[Reading]]:
        async with open_serial(self.name, self._options) as port:
            dialogue = Dialogue(port, self.link, within_s=self._within_s, end="\n")
            await self._greet(dialogue)
            for command in self._start:
                await dialogue.tell(command)
            self._has_error_queue = True
            await self._read_errors(dialogue)
            async with aclosing(self._readings(dialogue)) as readings:
                yield readings

    async def _greet(self, dialogue: Dialogue) -> None:
        """Ask who it is. Answers come in order: after this one no older answer is on its way."""
        reason = "no answer to *IDN?: check cable, baud rate and that it is switched on"
        for _ in range(_GREETINGS):
            try:
                who = scpi_answers.identity(await dialogue.ask("*IDN?"))
            except NoAnswer:
                continue
            except DataError as error:
                reason = str(error)
                continue
            self.link.about = f"{who.maker} {who.model}"
            return
        raise InstrumentUnavailable(self.name, reason)

    async def _readings(self, dialogue: Dialogue) -> AsyncGenerator[Reading]:
        pace = Pace(self._every_s, self._now, self._sleep_until)
        while True:
            await pace.next()
            for query in self._queries:
                try:
                    answer = await dialogue.ask(query.text)
                except NoAnswer:
                    self._refuse(query, f"no answer to {query.text}", "")
                    await self._greet(dialogue)  # or its late answer becomes another channel's
                    continue
                except DataError as error:
                    self._refuse(query, str(error), "")
                    continue
                for reading in self._taken(query, answer, self._now()):
                    yield reading
            await self._read_errors(dialogue)

    def _taken(self, query: Query, answer: bytes, at_s: float) -> list[Reading]:
        try:
            values = scpi_answers.measured(answer, query.count)
        except DataError as error:
            self._refuse(query, str(error), excerpt(answer))
            return []
        readings = []
        for channel, place in query.channels:
            value = values[place]
            if isinstance(value, scpi_answers.NoNumber):
                self.link.refuse(value.value, excerpt(answer), channel.name)
            else:
                readings.append(Reading(channel=channel.name, value=value, at_s=at_s))
        return readings

    def _refuse(self, query: Query, reason: str, seen: str) -> None:
        for channel, _ in query.channels:
            self.link.refuse(reason, seen, channel.name)

    async def _read_errors(self, dialogue: Dialogue) -> None:
        """Empty the instrument's error queue into its health."""
        for _ in range(_MOST_ERRORS if self._has_error_queue else 0):
            try:
                answer = await dialogue.ask("SYST:ERR?")
                found = scpi_answers.queued_error(answer)
            except NoAnswer:
                self._has_error_queue = False  # not asked again before the next opening
                self.link.refuse("no answer to SYST:ERR?", "")
                await self._greet(dialogue)
                return
            except DataError as error:
                self.link.refuse(str(error), "")
                return
            if found is None:
                return
            self.link.refuse(f"the instrument reports {found.code} {found.text}", excerpt(answer))


def build(
    keys: ScpiKeys, channels: Sequence[Channel], now: Now, sleep_until: SleepUntil | None
) -> Instrument:
    """The instrument of `keys`, whose channels are `channels`."""
    return Scpi(
        keys.name,
        options=options_of(keys),
        queries=queries(
            [one.query for one in keys.channel], [one.field for one in keys.channel], channels
        ),
        now=now,
        start=keys.start,
        every_s=keys.every_s,
        within_s=keys.answer_within_s,
        sleep_until=sleep_until,
    )
