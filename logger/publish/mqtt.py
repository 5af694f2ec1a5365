"""The way out: what the pipeline says goes to the broker, and comes back as health when it cannot.

`take` only notes what is to be sent; tasks of `run` send it. Each lane has its own: alarm states
and phone lines never wait for the disk or for estimates. Of what is retained only the newest is
kept, so a slow broker costs no memory; events wait in the outbox, on disk.
"""

import asyncio
import logging
import random
from collections.abc import Awaitable, Callable, Coroutine, Iterable, Sequence
from concurrent.futures import ThreadPoolExecutor
from contextlib import suppress
from typing import Any

import aiomqtt

from logger.alarms.lifecycle import Alarm
from logger.announcements import Announcement
from logger.burn.entries import Entry
from logger.errors import HOW_TO_KEEP_IT, Doubted, StoreError, WickbenchError
from logger.intake.entered import Entered
from logger.messages import LONGEST_LINE, one_line
from logger.pipeline import Output
from logger.publish import commands
from logger.publish.broker_link import BrokerLink, BrokerRefuses, CannotBeSent, Unanswered
from logger.publish.credentials import Credentials
from logger.publish.delivery_times import DeliveryTimes
from logger.publish.events import EventStore, UndeliveredEvents
from logger.publish.pending import Pending
from logger.publish.reasons import reason
from logger.publish.topics import Message, Topics
from logger.quantities import Channel, Health, Part
from logger.settings import MqttSettings

log = logging.getLogger(__name__)

CONNECTED = "connected"

# A host name that cannot be is a UnicodeError; secrets and certificates raise WickbenchErrors.
FAULTS = (aiomqtt.MqttError, OSError, UnicodeError, WickbenchError)


async def _no_entries(_entry: Entry, _sure: bool) -> Entered:
    raise WickbenchError("this bench takes no commands")


class Publisher:
    """Sends what a bench says to one broker, and reports its own health."""

    def __init__(
        self,
        settings: MqttSettings,
        bench_name: str,
        outbox: EventStore,
        *,
        channel_of: Callable[[str], Channel],
        report: Callable[[Health], None],
        now: Callable[[], float],
        wall_step: Callable[[], float] = lambda: 0.0,
        enter: Callable[[Entry, bool], Awaitable[Entered]] = _no_entries,
        confirmed: Callable[[str], None] = lambda _: None,
        sleep: Callable[[float], Awaitable[None]] = asyncio.sleep,
        chance: Callable[[], float] = random.random,  # noqa: S311 - spreads retries, keeps no secret
        times: DeliveryTimes | None = None,
    ) -> None:
        """`now` is bench time, `wall_step` how far the system's clock is from it; `enter` is told
        whether the sender is sure.

        `confirmed` is called with the id of each announcement that the broker has.
        """
        self._confirmed = confirmed
        self._settings = settings
        self._times = times or DeliveryTimes()
        self._events = UndeliveredEvents(outbox, self._times.store_s)
        self._report = report
        self._now = now
        self._wall_step = wall_step
        self._enter = enter
        self._sleep = sleep
        self._chance = chance
        self._topics = Topics(bench=bench_name)
        self._name = settings.name

        self._pending = Pending(self._topics, channel_of)
        self._committed = asyncio.Event()
        self._alarms_told = asyncio.Event()  # all that waited for this connection, as for events
        self._events_told = asyncio.Event()
        self._said: tuple[bool, str] | None = None
        self._refused: dict[str, str] = {}  # topic and reason of what this broker does not take
        self._some_refused = asyncio.Event()
        # Of its own: reports and files that block must not keep the broker away.
        self._threads = ThreadPoolExecutor(max_workers=2, thread_name_prefix="mqtt")

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

    def announce(self, announcements: Sequence[Announcement]) -> None:
        """Note what the phone is to be told; never waits."""
        self._pending.announce(announcements)

    def take_heartbeat(self, at_s: float) -> None:
        """The pipeline is alive at `at_s`; called every 5 s of real time."""
        self._pending.take_heartbeat(at_s)

    def wake(self) -> None:
        """New events stand in the outbox."""
        self._committed.set()

    # the connection

    async def run(self) -> None:
        """Be connected, for ever; on cancellation say goodbye first."""
        try:
            await self._keep_connected()
        finally:
            self._threads.shutdown(wait=False)

    async def _keep_connected(self) -> None:
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
            if loop.time() - began_s > self._times.longest_retry_s:
                failures = 0  # a connection that lasted, not one that was made, proves health
            failures += 1
            self._say(False, why)
            await self._sleep(self._times.retry_s(failures, self._chance()))

    async def _session(self) -> None:
        loop = asyncio.get_running_loop()
        credentials = await loop.run_in_executor(self._threads, Credentials.read, self._settings)
        will = self._topics.status(online=False)
        link = BrokerLink(self._settings, credentials, f"wickbench-{self._topics.bench}", will)
        await link.open(self._times.give_up_s, self._threads)
        self._alarms_told.clear()
        self._events_told.clear()
        told = False
        try:
            await self._confirm(link, self._topics.status(online=True))
            await self._ask_for_commands(link)
            self._pending.renew()
            await _until_one_ends(
                self._listen(link),
                self._send_urgent(link),
                self._send_bulk(link),
                self._send_events(link),
                self._send_again(link),
            )
        except asyncio.CancelledError:
            told = await self._farewell(link)
            raise
        finally:
            if told:
                await link.leave(self._times.farewell_s)
            else:
                await link.drop()

    async def _confirm(self, link: BrokerLink, *messages: Message) -> dict[str, BrokerRefuses]:
        """Send and wait until each is answered; what is refused is named and does not end it."""
        refused = await self._sent(link, *messages)
        for message in messages:
            self._refused.pop(message.topic, None)
        self._refused |= {topic: reason(exc, self._settings) for topic, exc in refused.items()}
        self._say_how()
        return refused

    async def _sent(self, link: BrokerLink, *messages: Message) -> dict[str, BrokerRefuses]:
        """Send and wait until each is answered; says so while it takes long."""
        late = asyncio.get_running_loop().call_later(
            self._times.unconfirmed_s, self._say, False, "the broker confirms nothing any more"
        )
        try:
            async with asyncio.timeout(self._times.give_up_s):
                return await link.send(*messages)
        except TimeoutError:
            raise Unanswered("no PUBACK") from None
        finally:
            late.cancel()

    def _say_how(self) -> None:
        """Well only once all that waited is confirmed, and nothing is refused."""
        if self._refused:
            self._some_refused.set()
            self._say(False, next(iter(self._refused.values())))
        elif self._alarms_told.is_set() and self._events_told.is_set():
            self._say(True, CONNECTED)

    def _say(self, ok: bool, why: str) -> None:
        if self._said != (ok, why):
            self._said = (ok, why)
            log.log(logging.INFO if ok else logging.WARNING, "%s: %s", self._name, why)
            self._report(
                Health(part=Part.DELIVERY, name=self._name, ok=ok, reason=why, at_s=self._now())
            )

    # the lanes

    async def _send_urgent(self, link: BrokerLink) -> None:
        while True:
            self._pending.urgent.clear()
            batch = self._pending.next_urgent()
            if not batch.alarms:
                self._alarms_told.set()
            if batch.messages:
                refused = await self._confirm(link, *batch.messages)
                if self._topics.phone_topic in refused:
                    self._pending.hold_lines()
                else:
                    self._pending.mark_lines_sent(batch)
                    for announcement in batch.announcements:
                        self._confirmed(announcement.id)
            else:
                await self._pending.urgent.wait()

    async def _send_bulk(self, link: BrokerLink) -> None:
        while True:
            self._pending.bulk.clear()
            messages = self._pending.next_bulk()
            if messages:
                await self._confirm(link, *messages)
            else:
                await self._pending.bulk.wait()

    async def _send_events(self, link: BrokerLink) -> None:
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
                waiting = self._sleep(self._times.store_s)
            except BrokerRefuses:  # named by now; the next would fare no better, and order counts
                waiting = self._sleep(self._times.longest_retry_s)
            self._events_told.set()
            self._say_how()
            await waiting

    async def _send_waiting(self, link: BrokerLink) -> bool:
        """Send some events of the outbox, in order; False when there are none."""
        waiting = await self._events.next()
        try:
            for one in waiting:
                message = self._topics.event(one.event)
                refused = (await self._confirm(link, message)).get(message.topic)
                if isinstance(refused, CannotBeSent):
                    log.warning(
                        "%s: event %s is set aside: %s", self._name, one.event.id, refused.why
                    )
                    self._events.set_aside(one)
                elif refused is not None:
                    raise refused
                else:
                    self._events.confirm(one)
        finally:
            await self._mark_events()
        return bool(waiting)

    async def _mark_events(self) -> None:
        """Also on the way out, so nothing may be raised here in place of a cancellation."""
        try:
            await self._events.mark()
        except StoreError as exc:
            log.warning("%s: events went out but are not marked: %s", self._name, exc)

    async def _farewell(self, link: BrokerLink) -> bool:
        """Last words; whether the broker has confirmed them."""
        speaking = asyncio.ensure_future(self._last_words(link))
        await asyncio.wait({speaking}, timeout=self._times.farewell_s)
        if speaking.done() and speaking.exception() is None:
            return True
        speaking.cancel()
        await asyncio.wait({speaking})
        log.warning("%s: the broker did not take the last words; it will say offline", self._name)
        return False

    async def _last_words(self, link: BrokerLink) -> None:
        await link.send(*self._pending.all_urgent())
        with suppress(StoreError):  # they wait on the disk then
            while waiting := await self._events.next():
                if await link.send(*(self._topics.event(one.event) for one in waiting)):
                    break
                for one in waiting:
                    self._events.confirm(one)
        await self._mark_events()
        await link.send(self._topics.status(online=False))

    async def _send_again(self, link: BrokerLink) -> None:
        """What was refused is tried again: somebody may have let us write there meanwhile."""
        while True:
            await self._some_refused.wait()
            self._some_refused.clear()
            await self._sleep(self._times.longest_retry_s)
            topics = list(self._refused)
            status = self._topics.status(online=True)
            if status.topic in topics:
                await self._confirm(link, status)
            await self._ask_for_commands(link)
            self._pending.make_due_again(topics)

    # commands

    async def _ask_for_commands(self, link: BrokerLink) -> None:
        if not self._settings.commands:
            return
        topic = f"{self._topics.prefix}/do/+"
        try:
            await link.subscribe_to(topic)
            self._refused.pop(topic, None)
        except BrokerRefuses as exc:  # alarms go out all the same
            self._refused[topic] = reason(exc, self._settings)

    async def _listen(self, link: BrokerLink) -> None:
        """Obey commands; ends with MqttError when the connection is lost.

        Each by itself: one whose answer waits for the disk holds up none that comes after it.
        """
        obeying: set[asyncio.Task[None]] = set()
        try:
            async for message in link.messages:
                task = asyncio.create_task(self._obey(link, message))
                obeying.add(task)
                task.add_done_callback(obeying.discard)
        finally:
            for task in obeying:
                task.cancel()
            await asyncio.gather(*obeying, return_exceptions=True)

    async def _obey(self, link: BrokerLink, message: aiomqtt.Message) -> None:
        command = message.topic.value.rpartition("/")[2]
        try:
            entry, sure = commands.parse(
                command,
                bytes(message.payload),
                retained=message.retain,
                now_s=self._now(),
                wall_step_s=self._wall_step(),
            )
            entered = await self._enter(entry, sure)
            answer: dict[str, Any] = {"ok": True, **entered.message, "repeated": not entered.new}
        except WickbenchError as exc:
            why = one_line(str(exc), LONGEST_LINE)
            if isinstance(exc, Doubted):
                why = f"{why} {HOW_TO_KEEP_IT}"
            log.warning("%s: do/%s refused: %s", self._name, one_line(command, LONGEST_LINE), why)
            answer = {"ok": False, "error": why}
        topic = getattr(message.properties, "ResponseTopic", None)
        if topic is None:
            return
        if not self._topics.may_answer(topic):
            log.warning("%s: no answer to %r: not a topic for answers", self._name, topic)
            return
        correlation = getattr(message.properties, "CorrelationData", None)
        try:
            refused = await self._sent(link, self._topics.answer(topic, answer, correlation))
        except FAULTS as exc:  # a connection that is lost is noticed by every lane
            log.warning("%s: no answer to %r: %s", self._name, topic, exc)
            return
        for refusal in refused.values():  # of no concern to the bench's own messages
            log.warning("%s: no answer to %r: %s", self._name, topic, refusal.why)


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
