"""The way out: what the pipeline says goes to the broker, and comes back as health when it cannot.

`take` only notes what is to be sent; tasks of `run` send it. Each lane has its own: alarm states
and phone lines never wait for the disk or for estimates. Of what is retained only the newest is
kept, so a slow broker costs no memory; events wait in the outbox, on disk.
"""

import asyncio
import logging
import random
from collections import deque
from collections.abc import Awaitable, Callable, Coroutine, Iterable, Sequence
from dataclasses import dataclass
from itertools import islice
from typing import Any, Protocol

import aiomqtt

from logger.alarms.lifecycle import Alarm, AlarmEvent
from logger.alarms.words import PUT_OUT
from logger.burn.entries import Entry
from logger.burn.model import BurnEvent, BurnPhase, BurnStatus
from logger.errors import StoreError, WickbenchError
from logger.pipeline import Output
from logger.publish import commands
from logger.publish.link import BrokerRefuses, Credentials, Link, Unanswered
from logger.publish.reasons import reason
from logger.publish.topics import Message, Topics, one_line, phone_line
from logger.quantities import Channel, Estimate, Health, Part
from logger.settings import MqttSettings

log = logging.getLogger(__name__)

BATCH = 10  # messages under way at once in a lane
EVENTS = 50  # read from the outbox at once
MOST_LINES = 100  # phone lines kept while the broker is away; the oldest go first
BURN_EVERY_S = 5.0  # of bench time; a change of phase goes out at once

CONNECTED = "connected"

# A host name that cannot be is a UnicodeError; secrets and certificates raise WickbenchErrors.
FAULTS = (aiomqtt.MqttError, OSError, UnicodeError, WickbenchError)


class WaitingEvent(Protocol):
    """An event that is stored and not yet delivered."""

    @property
    def seq(self) -> int:
        """Its place in the order of events."""
        ...

    @property
    def id(self) -> str:
        """Its id; it stands in the payload too."""
        ...

    @property
    def payload(self) -> str:
        """JSON, as it is published."""
        ...


class Outbox(Protocol):
    """Where events wait, on disk; both raise StoreError."""

    async def waiting_events(self, limit: int) -> Sequence[WaitingEvent]:
        """The first `limit` that are not marked delivered, in order."""
        ...

    async def delivered(self, seqs: Sequence[int]) -> None:
        """Mark these delivered."""
        ...


@dataclass(frozen=True, slots=True, kw_only=True)
class Patience:
    """Real times, in seconds; all our own choice. The alarm `delivery` adds its own delay."""

    unconfirmed_s: float = 3.0  # then it is said
    give_up_s: float = 10.0  # then the connection is made anew
    farewell_s: float = 3.0  # for the last words at a stop
    first_retry_s: float = 1.0
    longest_retry_s: float = 30.0
    store_retry_s: float = 5.0

    def retry_s(self, failures: int, chance: float) -> float:
        """The wait after the `failures`-th failure in a row (from 1), with `chance` in [0, 1).

        Doubling, capped, half of it left to chance: benches of a house do not come back in step.
        """
        doubled = self.first_retry_s * 2.0 ** min(failures - 1, 30)  # 2.0**1024 overflows
        return min(self.longest_retry_s, doubled) * (1.0 - 0.5 * chance)


@dataclass(frozen=True, slots=True, eq=False)  # two equal lines are two lines
class _Line:
    text: str
    ready_s: float  # on the loop's clock


async def _no_entries(entry: Entry) -> bool:
    raise WickbenchError("this bench takes no commands")


async def probe(settings: MqttSettings, bench_name: str, *, answer_s: float = 5.0) -> str | None:
    """Connect once and have the broker take a message; what is wrong, None for nothing."""
    message = Topics(bench=bench_name).check()
    try:
        credentials = await asyncio.to_thread(Credentials.read, settings)
        # a name of its own: a service that runs keeps its connection
        link = Link(settings, credentials, f"wickbench-{bench_name}-check")
        await link.open(answer_s)
        try:
            async with asyncio.timeout(answer_s):
                await link.send(message)
        finally:
            await link.leave(answer_s)
    except TimeoutError:
        return reason(Unanswered("no PUBACK"), settings)
    except FAULTS as exc:
        return reason(exc, settings)
    return None


class Publisher:
    """Sends what a bench says to one broker, and reports its own health."""

    def __init__(
        self,
        settings: MqttSettings,
        bench_name: str,
        outbox: Outbox,
        *,
        channel_of: Callable[[str], Channel],
        report: Callable[[Health], None],
        now: Callable[[], float],
        enter: Callable[[Entry], Awaitable[bool]] = _no_entries,
        sleep: Callable[[float], Awaitable[None]] = asyncio.sleep,
        chance: Callable[[], float] = random.random,  # noqa: S311 - spreads retries, keeps no secret
        patience: Patience | None = None,
    ) -> None:
        """`now` is bench time; `enter` is False for an entry whose id came before."""
        self._settings = settings
        self._outbox = outbox
        self._channel_of = channel_of
        self._report = report
        self._now = now
        self._enter = enter
        self._sleep = sleep
        self._chance = chance
        self._patience = patience or Patience()
        self._topics = Topics(bench=bench_name)
        self._name = f"mqtt {settings.host}:{settings.port}"

        self._alarms: dict[str, dict[str, Alarm]] = {}  # by topic, then by key
        self._alarms_due: dict[str, None] = {}  # topics, first changed first
        self._lines: deque[_Line] = deque()
        self._lines_lost = 0
        self._kept: dict[str, Message] = {}  # newest of each other retained topic
        self._kept_due: dict[str, None] = {}
        self._beat: Message | None = None
        self._statuses: dict[str, BurnStatus] = {}  # as last published, by station
        self._unmarked: set[int] = set()  # events confirmed that the store could not mark

        self._urgent = asyncio.Event()
        self._bulk = asyncio.Event()
        self._committed = asyncio.Event()
        self._alarms_told = asyncio.Event()  # in this connection, each once
        self._said: tuple[bool, str] | None = None

    # what the pipeline gives

    def remember(self, alarms: Iterable[Alarm]) -> None:
        """Alarms from before a restart: their topics are set right, emptied ones too."""
        for alarm in alarms:
            self._take_alarm(alarm)

    def take(self, outputs: Sequence[Output]) -> None:
        """Note what is to be sent; never waits."""
        for output in outputs:
            match output:
                case AlarmEvent():
                    self._take_alarm(output.alarm)
                case Estimate():
                    self._keep(self._topics.estimate(output, self._channel_of(output.channel)))
                case BurnStatus():
                    self._take_status(output)
                case _:
                    pass
            line = phone_line(output)
            if line is not None:
                self._take_line(line)

    def heartbeat(self, at_s: float) -> None:
        """The pipeline is alive at `at_s`; called every 5 s of real time."""
        self._beat = self._topics.heartbeat(at_s)
        self._bulk.set()

    def wake(self) -> None:
        """New events stand in the outbox."""
        self._committed.set()

    def _take_alarm(self, alarm: Alarm) -> None:
        topic = self._topics.alarm_topic(alarm.finding)
        self._alarms.setdefault(topic, {})[alarm.key] = alarm
        self._alarms_due[topic] = None
        self._urgent.set()

    def _take_line(self, line: str) -> None:
        if len(self._lines) == MOST_LINES:
            self._lines.popleft()
            self._lines_lost += 1
        self._lines.append(_Line(line, asyncio.get_running_loop().time()))
        self._urgent.set()

    def _take_status(self, status: BurnStatus) -> None:
        last = self._statuses.get(status.station)
        if (
            last is not None
            and (last.phase, last.burn, last.automatic)
            == (status.phase, status.burn, status.automatic)
            and 0.0 <= status.at_s - last.at_s < BURN_EVERY_S
        ):
            return
        self._statuses[status.station] = status
        self._keep(self._topics.burn(status))

    def _keep(self, message: Message) -> None:
        self._kept[message.topic] = message
        self._kept_due[message.topic] = None
        self._bulk.set()

    # the connection

    async def run(self) -> None:
        """Be connected, for ever; on cancellation say goodbye first."""
        failures = 0
        loop = asyncio.get_running_loop()
        while True:
            began_s = loop.time()
            try:
                await self._session()
            except FAULTS as exc:
                why = reason(exc, self._settings)
            except Exception as exc:  # a fault in here must not end the watch
                log.exception("%s: publishing failed", self._name)
                why = reason(exc, self._settings)
            if loop.time() - began_s > self._patience.longest_retry_s:
                failures = 0  # a connection that lasted, not one that was made, proves health
            failures += 1
            self._say(False, why)
            await self._sleep(self._patience.retry_s(failures, self._chance()))

    async def _session(self) -> None:
        credentials = await asyncio.to_thread(Credentials.read, self._settings)
        will = self._topics.status(online=False)
        link = Link(self._settings, credentials, f"wickbench-{self._topics.bench}", will)
        await link.open(self._patience.give_up_s)
        told = False
        try:
            await self._confirm(link, self._topics.status(online=True))
            if self._settings.commands:
                await link.obey(f"{self._topics.prefix}/do/+")
            self._alarms_due |= dict.fromkeys(self._alarms)
            self._kept_due |= dict.fromkeys(self._kept)
            self._alarms_told.clear()
            self._beat = None  # one from before would say that the pipeline is alive now
            await _until_one_ends(
                self._listen(link),
                self._send_urgent(link),
                self._send_bulk(link),
                self._send_events(link),
            )
        except asyncio.CancelledError:
            told = await self._farewell(link)
            raise
        finally:
            if told:
                await link.leave(self._patience.farewell_s)
            else:
                await link.drop()

    async def _confirm(self, link: Link, *messages: Message) -> None:
        """Send and wait until each is confirmed; says so while it takes long."""
        late = asyncio.get_running_loop().call_later(
            self._patience.unconfirmed_s, self._say, False, "the broker confirms nothing any more"
        )
        try:
            async with asyncio.timeout(self._patience.give_up_s):
                await link.send(*messages)
        except TimeoutError:
            raise Unanswered("no PUBACK") from None
        finally:
            late.cancel()
        self._say(True, CONNECTED)

    def _say(self, ok: bool, why: str) -> None:
        if self._said != (ok, why):
            self._said = (ok, why)
            log.log(logging.INFO if ok else logging.WARNING, "%s: %s", self._name, why)
            self._report(
                Health(part=Part.DELIVERY, name=self._name, ok=ok, reason=why, at_s=self._now())
            )

    # the lanes

    async def _send_urgent(self, link: Link) -> None:
        while True:
            self._urgent.clear()
            topics = list(islice(self._alarms_due, BATCH))
            lines = list(islice(self._lines, BATCH))
            if not topics:
                self._alarms_told.set()
            if not topics and not lines:
                await self._urgent.wait()
                continue
            for topic in topics:
                del self._alarms_due[topic]
            lost = self._lines_lost
            await self._confirm(link, *self._urgent_messages(topics, lines, lost))
            self._lines_lost -= lost
            for line in lines:
                if line in self._lines:  # else it was dropped as the oldest meanwhile
                    self._lines.remove(line)

    def _urgent_messages(
        self, topics: Iterable[str], lines: Iterable[_Line], lost: int
    ) -> list[Message]:
        now_s = asyncio.get_running_loop().time()
        messages = [self._topics.alarm(topic, self._alarms[topic].values()) for topic in topics]
        if lost:
            more = f"{lost} older lines were dropped while the broker was away: look at the page"
            messages.append(self._topics.phone(more))
        messages.extend(self._topics.phone(line.text, age_s=now_s - line.ready_s) for line in lines)
        return messages

    async def _send_bulk(self, link: Link) -> None:
        while True:
            self._bulk.clear()
            due = list(islice(self._kept_due, BATCH))
            for topic in due:
                del self._kept_due[topic]
            messages = [self._kept[topic] for topic in due]
            if self._beat is not None:
                messages.insert(0, self._beat)
                self._beat = None
            if messages:
                await self._confirm(link, *messages)
            else:
                await self._bulk.wait()

    async def _send_events(self, link: Link) -> None:
        await self._alarms_told.wait()
        while True:
            self._committed.clear()
            try:
                if not await self._send_waiting(link):
                    await self._committed.wait()
            except StoreError as exc:  # storage has its own alarm
                log.warning("%s: events wait: %s", self._name, exc)
                await self._sleep(self._patience.store_retry_s)

    async def _send_waiting(self, link: Link) -> bool:
        """Send some events of the outbox, in order; False when there are none."""
        # One that went out but could not be marked, the disk being full, does not go again.
        waiting = await self._outbox.waiting_events(EVENTS + len(self._unmarked))
        fresh = [event for event in waiting if event.seq not in self._unmarked]
        try:
            for event in fresh:
                await self._confirm(link, self._topics.event(event.payload))
                self._unmarked.add(event.seq)
        finally:
            await self._mark()
        return bool(fresh)

    async def _mark(self) -> None:
        """Also on the way out, so nothing may be raised here in place of a cancellation."""
        if not self._unmarked:
            return
        try:
            await self._outbox.delivered(sorted(self._unmarked))
        except StoreError as exc:
            log.warning("%s: events went out but are not marked: %s", self._name, exc)
        else:
            self._unmarked.clear()

    async def _farewell(self, link: Link) -> bool:
        """Last words; whether the broker has confirmed them."""
        messages = self._urgent_messages(self._alarms_due, self._lines, self._lines_lost)
        for status in self._statuses.values():
            if status.phase is BurnPhase.LIT:
                event = _watch_ended(status, self._now())
                messages.append(self._topics.burn_event(event))
                messages.append(self._topics.phone(event.text))
        messages.append(self._topics.status(online=False))
        speaking = asyncio.ensure_future(link.send(*messages))
        await asyncio.wait({speaking}, timeout=self._patience.farewell_s)
        if speaking.done() and speaking.exception() is None:
            return True
        speaking.cancel()
        await asyncio.wait({speaking})
        log.warning("%s: the broker did not take the last words; it will say offline", self._name)
        return False

    # commands

    async def _listen(self, link: Link) -> None:
        """Obey commands; ends with MqttError when the connection is lost."""
        async for message in link.messages:
            await self._obey(link, message)

    async def _obey(self, link: Link, message: aiomqtt.Message) -> None:
        command = message.topic.value.rpartition("/")[2]
        try:
            entry = commands.parse(
                command, bytes(message.payload), retained=message.retain, now_s=self._now()
            )
            fresh = await self._enter(entry)
            answer: dict[str, Any] = {"ok": True, "id": entry.id, "repeated": not fresh}
        except WickbenchError as exc:
            why = one_line(str(exc))
            log.warning("%s: do/%s refused: %s", self._name, one_line(command), why)
            answer = {"ok": False, "error": why}
        topic = getattr(message.properties, "ResponseTopic", None)
        if topic is None:
            return
        if not self._topics.may_answer(topic):
            log.warning("%s: no answer to %r: not a topic for answers", self._name, topic)
            return
        try:
            correlation = getattr(message.properties, "CorrelationData", None)
            await self._confirm(link, self._topics.answer(topic, answer, correlation))
        except BrokerRefuses as exc:  # of no concern to the bench's own messages
            log.warning("%s: no answer to %r: %s", self._name, topic, exc.code)


def _watch_ended(status: BurnStatus, now_s: float) -> BurnEvent:
    """The event that a burn is watched no more; by its second no id stands for two."""
    return BurnEvent(
        id=f"{status.burn}/watch-ended/{status.station}/{int(now_s)}",
        time_s=now_s,
        since_s=now_s,
        station=status.station,
        burn=status.burn or "",
        event="watch-ended",
        text=f"{status.station}: the watch has ended and the candle was last recorded lit. "
        f"Nothing warns you any more: stay with it, or {PUT_OUT}",
    )


async def _until_one_ends(*lanes: Coroutine[Any, Any, None]) -> None:
    """Run `lanes` side by side until the first ends, and raise what ended it."""
    tasks = [asyncio.create_task(lane) for lane in lanes]
    try:
        done, _ = await asyncio.wait(tasks, return_when=asyncio.FIRST_COMPLETED)
    finally:
        for task in tasks:
            task.cancel()
        await asyncio.gather(*tasks, return_exceptions=True)
    for task in done:
        task.result()
