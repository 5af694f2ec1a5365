"""The service: every part of a bench joined, started, and stopped in order.

Instruments and the tick are sources; the engine folds what they bring through the pipeline; hub,
publisher and recorder take what comes of it. Sources stop first, then the queue is emptied, then
the record is written to its end.
"""

import asyncio
import logging
import socket
from collections.abc import Awaitable, Callable, Iterator, Sequence
from contextlib import AsyncExitStack, contextmanager, suppress
from dataclasses import dataclass, field, replace
from functools import partial
from pathlib import Path

from logger.announcements import Announcer
from logger.burn.entries import Entry, Stopped
from logger.burn.ledger import LedgerLine
from logger.clock import Clock
from logger.errors import Doubted, StoreError, WickbenchError
from logger.hub import Hub
from logger.instruments.from_settings import build
from logger.instruments.instrument_link import InstrumentLink
from logger.instruments.supervisor import supervise
from logger.intake.entered import Entered
from logger.pipeline import Input, Output, Pipeline, Recalled
from logger.publish.mqtt import Publisher
from logger.quantities import Channel, Health, Part, Reading, Tick
from logger.reports.record_messages import BurnMessage
from logger.reports.verdict_messages import TrialMessage
from logger.service import records
from logger.service.alarm_program import AlarmProgram
from logger.service.core import VERSION, bench_of
from logger.service.earlier_settings import changed_since
from logger.service.engine import Engine
from logger.service.manager import ServiceManager
from logger.service.page_access import PageAccess
from logger.service.ticking import go_on_from, resume, tick
from logger.service.trial_verdict import Judging
from logger.service.warm_up import warm_up
from logger.settings import Settings
from logger.store.lock import DataLock
from logger.store.recorder import Recorder
from logger.store.remembered import Remembered
from logger.store.store import Store
from logger.web import app, server

log = logging.getLogger(__name__)

HEARTBEAT_S = 5.0  # of real time
RECORDS = "records"  # the subject of the alarm about what was recorded before
UNKNOWN = (
    "the disk does not give what was recorded before this start: look whether a candle burns, and "
    "record it lit here"
)


@dataclass(frozen=True, kw_only=True)
class Service:
    """A bench, running: what pages, the demonstration and tests reach it by."""

    settings: Settings
    clock: Clock
    page_access: PageAccess
    links: Sequence[InstrumentLink]
    hub: Hub
    pipeline: Pipeline
    engine: Engine
    store: Store
    recorder: Recorder
    judging: Judging
    _entering: asyncio.Lock = field(default_factory=asyncio.Lock)

    @property
    def url(self) -> str:
        """Where this machine reaches the page."""
        return self.page_access.url

    @property
    def data(self) -> Path:
        """Folder of the database."""
        return self.settings.bench.data

    def now_s(self) -> float:
        """Bench time."""
        return self.clock.now_s()

    def channel(self, name: str) -> Channel:
        """The channel of any estimate that was ever given out: configured, or read by hand."""
        return self.pipeline.channel(name)

    async def enter(self, entry: Entry, *, sure: bool = False) -> Entered:
        """Fold and save what a person entered; what was recorded, where its id came before.

        It counts once it is folded, before the disk is asked for anything.

        Raises Refused where it cannot be so, Doubted where it is improbable and nobody is `sure`,
        StoreError where it could not be saved.
        """
        async with self._entering:  # two posts of one entry must not both find it new
            known = self.recorder.entry_seen(entry.id)
            entered = None if known else await self._fold(entry, sure=sure)
        await self.recorder.saved()
        if entered is None:
            return await asyncio.to_thread(records.entered_before, self.data, entry)
        return entered

    async def _fold(self, entry: Entry, *, sure: bool) -> Entered:
        entry = self.pipeline.resolved(entry)
        question = None if sure else self.pipeline.doubt(entry)
        if question is not None:
            raise Doubted(question)
        otherwise = self.pipeline.lit_otherwise(entry)
        if otherwise is not None:
            with suppress(StoreError):  # the figures of the last hour are in memory
                await self.recorder.saved()
                stored = await asyncio.to_thread(records.sensed, self.data, *otherwise)
                self.pipeline.remember(entry, stored)
        return await self.engine.enter(entry)

    def entered_at(self, station: str) -> Sequence[LedgerLine]:
        """What was entered at the latest burn of a station, in order of entry."""
        return self.pipeline.entered_at(station)

    def short_id(self, id: str) -> str:
        """As much of an entry's id as a person must type."""
        return self.pipeline.short_id(id)

    def burn_message(self, burn: str) -> BurnMessage:
        """A stored burn as JSON. Raises NotKnown where there is no such burn."""
        return records.burn_message(self.data, burn)

    def record_html(self, burn: str) -> str:
        """The record of a burn as one page. Raises NotKnown where there is no such burn."""
        return records.record_html(self.data, burn)

    def curve_svg(self, burn: str, width: float) -> str:
        """The curve of a burn. Raises NotKnown where there is no such burn."""
        return records.curve_svg(self.data, burn, width=width)

    def verdict(self, trial: str) -> TrialMessage:
        """The verdict of a trial as JSON. Raises NotKnown where there is no such trial."""
        return self.judging.message(trial)


async def run(settings: Settings, clock: Clock, body: Callable[[Service], Awaitable[None]]) -> None:
    """Run the bench until `body` returns.

    Raises StoreLocked where another service holds the data folder, StoreUnusable where its
    database is, WickbenchError where the page's address is taken.
    """
    async with AsyncExitStack() as stack:
        stack.enter_context(_plain_errors())
        lock = DataLock.claim(settings.bench.data)
        stack.callback(lock.release)
        bound = server.listen(settings.web or server.DEFAULT)
        stack.callback(bound.close)
        page_access = await PageAccess.at(bound, settings.bench.data)
        await warm_up()
        store = Store(settings.bench.data, lock.keep, partial(changed_since, settings))
        stack.push_async_callback(store.close)
        await _Runtime(settings, clock, store, page_access).run(bound, lock, body)


class _Runtime:
    """The parts of one run of the service, joined."""

    def __init__(
        self, settings: Settings, clock: Clock, store: Store, page_access: PageAccess
    ) -> None:
        self._settings = settings
        self._clock = clock
        self._store = store
        self._page_access = page_access
        self._beat_s = 0.0  # of the loop's clock
        self._manager = ServiceManager()
        self._announcer = Announcer(
            settings.words, lambda: self._pipeline.burns, lambda: self._pipeline.alarms
        )

    async def run(
        self, bound: socket.socket, lock: DataLock, body: Callable[[Service], Awaitable[None]]
    ) -> None:
        settings, clock = self._settings, self._clock
        last, found = await self._store.start(
            settings_text=settings.text,
            bench=bench_of(settings),
            started_s=clock.now_s(),
            version=VERSION,
            broker=settings.mqtt is not None,
            on_late=self._recall_late,
        )
        before = found or Remembered()
        started_s, behind = go_on_from(clock, last.started_s)
        memory = replace(before.memory, run=last.id)
        self._pipeline = pipeline = Pipeline(
            bench_of(settings), started_s, memory, report=_log_failure
        )
        self._hub = hub = Hub()
        hub.resume(pipeline, started_s)
        self._recorder = recorder = Recorder(
            self._store,
            now_s=clock.now_s,
            report=self._report,
            on_events=self._events,
            entry_ids=before.entry_ids,
        )
        self._alarm_program = alarm_program = AlarmProgram(
            settings.alarms.run, alone=settings.mqtt is None
        )
        sinks = {
            "late recall": self._renew,
            "sending by MQTT": self._publish,
            "program of last resort": alarm_program.take,
            "page": hub.publish,
            "announcements": self._announce,
            "recording": recorder.take,
            "heartbeat": self._beat,
        }
        self._engine = Engine(pipeline, clock.now_s(), sinks)
        instruments = [build(one, clock.now_s, clock.sleep_until) for one in settings.instruments]
        service = Service(
            settings=settings,
            clock=clock,
            page_access=self._page_access,
            links=[instrument.link for instrument in instruments],
            hub=hub,
            pipeline=pipeline,
            engine=self._engine,
            store=self._store,
            recorder=recorder,
            judging=Judging(settings.bench.data),
        )
        self._publisher = self._publisher_of(service, recorder)
        if self._publisher is not None:
            here = {station.name for station in settings.stations}
            stations_gone = [one.station for one in pipeline.burns if one.station not in here]
            self._publisher.remember(pipeline.alarms, stations_gone)
        self._tell_records(damage=UNKNOWN if found is None else found.damage)
        lit = any(burn.lit for burn in pipeline.burns)
        resume(self._engine, last.last_seen_s, started_s, lit=lit, behind=behind)
        web = server.server(app.create(service, self._page_access.token))
        async with asyncio.TaskGroup() as takers:
            serving = takers.create_task(web.serve(sockets=[bound]), name="web")
            recording = takers.create_task(recorder.run(), name="recorder")
            engine = takers.create_task(self._engine.run(), name="engine")
            publishing = (
                takers.create_task(self._publisher.run(), name="mqtt") if self._publisher else None
            )
            resort = takers.create_task(alarm_program.run(), name="last resort")
            await _until(lambda: web.started or serving.done())
            lock.publish_address(self._page_access.url)
            self._manager.ready(self._page_access.url)
            async with asyncio.TaskGroup() as sources:
                tasks = [sources.create_task(tick(self._engine, clock), name="tick")]
                tasks += [
                    sources.create_task(
                        supervise(one, emit=self._emit_of(one.link), report=self._report),
                        name=one.name,
                    )
                    for one in instruments
                ]
                await body(service)
                for task in tasks:
                    task.cancel()
            self._manager.stopping()
            now_s = clock.now_s()
            self._engine.put(Stopped(at_s=now_s, entered_s=now_s, id=f"stopped-{now_s:.6f}"))
            await _end(engine)  # folds what is in the queue
            await _end(resort)
            hub.close()
            with suppress(StoreError):  # it has its alarm; what is unsaved goes out from memory
                await recorder.saved()
            web.should_exit = True
            await asyncio.wait([serving])
            if publishing is not None:
                await _end(publishing)
            await _end(recording)  # saves what was taken

    def _publisher_of(self, service: Service, recorder: Recorder) -> Publisher | None:
        settings = self._settings
        if settings.mqtt is None:
            return None
        return Publisher(
            settings.mqtt,
            settings.bench.name,
            recorder,
            channel_of=service.channel,
            report=self._report,
            now=self._clock.now_s,
            wall_step=self._clock.wall_step_s,
            enter=lambda entry, sure: service.enter(entry, sure=sure),
            confirmed=self._alarm_program.note_confirmed,
        )

    def _emit_of(self, link: InstrumentLink) -> Callable[[Reading], None]:
        """Where an instrument's readings go; what lay in its port for long is counted there."""

        def emit(reading: Reading) -> None:
            if not self._engine.put(reading):
                link.drop()

        return emit

    def _recall_late(self, found: Remembered) -> None:
        """What the disk gave only after the start."""
        log.warning("the disk answers: what was recorded before this start is known now")
        self._recorder.remember(found.entry_ids)
        self._clock.set_earliest(found.latest_s)
        self._engine.put(Recalled(at_s=self._clock.now_s(), memory=found.memory))
        self._tell_records(damage=found.damage)

    def _renew(self, item: Input, _outputs: Sequence[Output]) -> None:
        """Page and broker begin anew with what was recalled."""
        if not isinstance(item, Recalled):
            return
        self._hub.resume(self._pipeline, item.at_s)
        if self._publisher is not None:
            self._publisher.remember(self._pipeline.alarms)

    def _tell_records(self, *, damage: str) -> None:
        """Whether all that was recorded before can be read."""
        now_s = self._clock.now_s()
        reason = damage or "all that was recorded before can be read"
        self._report(
            Health(part=Part.STORAGE, name=RECORDS, ok=not damage, reason=reason, at_s=now_s)
        )

    def _report(self, news: Health) -> None:
        self._engine.put(news)

    def _publish(self, item: Input, outputs: Sequence[Output]) -> None:
        if self._publisher is None:
            return
        self._publisher.take(outputs)

    def _announce(self, _item: Input, outputs: Sequence[Output]) -> None:
        """Each line goes the same to phone, terminal and program."""
        announcements = self._announcer.announce(outputs)
        self._alarm_program.announce(announcements)  # first: it rings where the next ones fail
        if self._publisher is not None:
            self._publisher.announce(announcements)
        self._hub.announce(announcements)

    def _beat(self, item: Input, _outputs: Sequence[Output]) -> None:
        """Show that the pipeline lives, where a stuck one must be noticed: after it has ticked."""
        if not isinstance(item, Tick):
            return
        self._manager.alive()
        now_s = asyncio.get_running_loop().time()
        if self._publisher is not None and now_s - self._beat_s >= HEARTBEAT_S:
            self._beat_s = now_s
            self._publisher.take_heartbeat(item.at_s)

    def _events(self, _count: int) -> None:
        if self._publisher is not None:
            self._publisher.wake()


def _log_failure(part: str, exc: Exception) -> None:
    log.error("the program failed: %s", part, exc_info=exc)


@contextmanager
def _plain_errors() -> Iterator[None]:
    """Out of the task groups an error of ours comes as itself: the command line says it."""
    try:
        yield
    except BaseExceptionGroup as group:
        ours = group.subgroup(WickbenchError)
        while ours is not None:
            first = ours.exceptions[0]
            if not isinstance(first, BaseExceptionGroup):
                raise first from group
            ours = first
        raise


async def _until(condition: Callable[[], bool]) -> None:
    while not condition():  # noqa: ASYNC110 - uvicorn offers a flag, no event
        await asyncio.sleep(0.005)


async def _end(task: asyncio.Task[None]) -> None:
    task.cancel()
    await asyncio.wait([task])
