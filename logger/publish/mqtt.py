"""The way out: what the pipeline says goes to the broker, and comes back as health when it cannot.

`take` only notes what is to be sent; tasks of `run` send it. Each lane has its own: alarm states
and phone lines never wait for the disk or for estimates. Of what is retained only the newest is
kept, so a slow broker costs no memory; events wait in the outbox, on disk.
"""

import asyncio
import logging
import random
from collections.abc import Awaitable, Callable, Coroutine, Iterable, Sequence
from contextlib import suppress
from dataclasses import dataclass
from typing import Any, Protocol

import aiomqtt

from logger import messages
from logger.alarms.lifecycle import Alarm
from logger.burn.entries import Entry, ManualReading
from logger.errors import StoreError, WickbenchError
from logger.pipeline import Output
from logger.publish import commands
from logger.publish.link import BrokerRefuses, Credentials, Link, Unanswered
from logger.publish.pending import Pending
from logger.publish.reasons import reason
from logger.publish.topics import Message, Topics, one_line
from logger.quantities import Channel, Health, Part
from logger.settings import MqttSettings

log = logging.getLogger(__name__)

EVENTS = 50  # read from the outbox at once

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
    store_s: float = 5.0  # for an answer of the disk, and until it is asked again

    def retry_s(self, failures: int, chance: float) -> float:
        """The wait after the `failures`-th failure in a row (from 1), with `chance` in [0, 1).

        Doubling, capped, half of it left to chance: benches of a house do not come back in step.
        """
        doubled = self.first_retry_s * 2.0 ** min(failures - 1, 30)  # 2.0**1024 overflows
        return min(self.longest_retry_s, doubled) * (1.0 - 0.5 * chance)


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
        wall_step: Callable[[], float] = lambda: 0.0,
        enter: Callable[[Entry], Awaitable[bool]] = _no_entries,
        sleep: Callable[[float], Awaitable[None]] = asyncio.sleep,
        chance: Callable[[], float] = random.random,  # noqa: S311 - spreads retries, keeps no secret
        patience: Patience | None = None,
    ) -> None:
        """`now` is bench time, `wall_step` how far the system's clock is from it; `enter` is False
        for an entry whose id came before.
        """
        self._settings = settings
        self._outbox = outbox
        self._report = report
        self._now = now
        self._wall_step = wall_step
        self._enter = enter
        self._sleep = sleep
        self._chance = chance
        self._patience = patience or Patience()
        self._topics = Topics(bench=bench_name)
        self._name = settings.name

        self._pending = Pending(self._topics, channel_of)
        self._unmarked: set[int] = set()  # events confirmed that the store could not mark
        self._committed = asyncio.Event()
        self._alarms_told = asyncio.Event()  # all that waited for this connection, as for events
        self._events_told = asyncio.Event()
        self._said: tuple[bool, str] | None = None

    # what the pipeline gives

    def remember(self, alarms: Iterable[Alarm], stations_gone: Iterable[str] = ()) -> None:
        """What a broker may still keep from before a restart: alarms, whose topics are set right,
        emptied ones too, and stations that have left the configuration.
        """
        for alarm in alarms:
            self._pending.take_alarm(alarm)
        for station in stations_gone:
            self._pending.empty_station(station)

    def take(self, outputs: Sequence[Output]) -> None:
        """Note what is to be sent; never waits."""
        self._pending.take(outputs)

    def heartbeat(self, at_s: float) -> None:
        """The pipeline is alive at `at_s`; called every 5 s of real time."""
        self._pending.heartbeat(at_s)

    def wake(self) -> None:
        """New events stand in the outbox."""
        self._committed.set()

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
        self._alarms_told.clear()
        self._events_told.clear()
        told = False
        try:
            await self._confirm(link, self._topics.status(online=True))
            if self._settings.commands:
                await link.obey(f"{self._topics.prefix}/do/+")
            self._pending.renew()
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
        self._say_if_well()

    def _say_if_well(self) -> None:
        # Not before all that waited is confirmed: a broker that refuses one topic lets us in again
        # and again, and each time that would end the alarm's delay.
        if self._alarms_told.is_set() and self._events_told.is_set():
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
            self._pending.urgent.clear()
            batch = self._pending.next_urgent()
            if not batch.alarms:
                self._alarms_told.set()
            if batch.messages:
                await self._confirm(link, *batch.messages)
                self._pending.lines_sent(batch)
            else:
                await self._pending.urgent.wait()

    async def _send_bulk(self, link: Link) -> None:
        while True:
            self._pending.bulk.clear()
            messages = self._pending.next_bulk()
            if messages:
                await self._confirm(link, *messages)
            else:
                await self._pending.bulk.wait()

    async def _send_events(self, link: Link) -> None:
        await self._alarms_told.wait()
        trouble = ""  # storage has its own alarm: here it is said once
        while True:
            self._committed.clear()
            try:
                if await self._send_waiting(link):
                    continue
                waiting: Awaitable[object] = self._committed.wait()
            except StoreError as exc:
                if trouble != str(exc):
                    trouble = str(exc)
                    log.warning("%s: events wait: %s", self._name, trouble)
                waiting = self._sleep(self._patience.store_s)
            self._events_told.set()
            self._say_if_well()
            await waiting

    async def _send_waiting(self, link: Link) -> bool:
        """Send some events of the outbox, in order; False when there are none."""
        waiting = await self._waiting_events()
        try:
            for event in waiting:
                await self._confirm(link, self._topics.event(event.payload))
                self._unmarked.add(event.seq)
        finally:
            await self._mark()
        return bool(waiting)

    async def _waiting_events(self) -> list[WaitingEvent]:
        """What the outbox has; one that went out but could not be marked does not go again."""
        limit = EVENTS + len(self._unmarked)
        try:
            async with asyncio.timeout(self._patience.store_s):
                waiting = await self._outbox.waiting_events(limit)
        except TimeoutError:
            raise StoreError(f"no answer for {self._patience.store_s:g} s") from None
        return [event for event in waiting if event.seq not in self._unmarked]

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
        speaking = asyncio.ensure_future(self._last_words(link))
        await asyncio.wait({speaking}, timeout=self._patience.farewell_s)
        if speaking.done() and speaking.exception() is None:
            return True
        speaking.cancel()
        await asyncio.wait({speaking})
        log.warning("%s: the broker did not take the last words; it will say offline", self._name)
        return False

    async def _last_words(self, link: Link) -> None:
        await link.send(*self._pending.all_urgent())
        with suppress(StoreError):  # they wait on the disk then
            while waiting := await self._waiting_events():
                await link.send(*(self._topics.event(event.payload) for event in waiting))
                self._unmarked.update(event.seq for event in waiting)
        await self._mark()
        await link.send(self._topics.status(online=False))

    # commands

    async def _listen(self, link: Link) -> None:
        """Obey commands; ends with MqttError when the connection is lost."""
        async for message in link.messages:
            await self._obey(link, message)

    async def _obey(self, link: Link, message: aiomqtt.Message) -> None:
        command = message.topic.value.rpartition("/")[2]
        try:
            entry = commands.parse(
                command,
                bytes(message.payload),
                retained=message.retain,
                now_s=self._now(),
                wall_step_s=self._wall_step(),
            )
            fresh = await self._enter(entry)
            answer: dict[str, Any] = {"ok": True, "id": entry.id, "repeated": not fresh}
            if isinstance(entry, ManualReading):
                answer |= messages.typed(entry)
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
