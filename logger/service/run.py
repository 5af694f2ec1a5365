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
from dataclasses import replace
from functools import partial

from logger.announcements import Announcer
from logger.burn.entries import Stopped
from logger.clock import Clock
from logger.errors import StoreError, WickbenchError
from logger.hub import Hub
from logger.instruments.from_settings import build
from logger.instruments.instrument_link import InstrumentLink
from logger.instruments.supervisor import supervise
from logger.pipeline import Input, Output, Pipeline, Recalled
from logger.publish.mqtt import Publisher
from logger.quantities import Forwarding, Health, Part, Reading, Tick
from logger.service.alarm_program import AlarmProgram
from logger.service.core import VERSION, bench_of
from logger.service.earlier_settings import changed_since
from logger.service.engine import Engine
from logger.service.forwarding import forwarder_of
from logger.service.keeping import discard_old
from logger.service.manager import ServiceManager
from logger.service.page_access import PageAccess
from logger.service.running_service import Service
from logger.service.ticking import go_on_from, resume, tick
from logger.service.trial_verdict import Judging
from logger.service.warm_up import warm_up
from logger.settings import Settings
from logger.store.disk_space import SpaceWatch
from logger.store.lock import DataLock
from logger.store.recorder import Recorder
from logger.store.remembered import Remembered
from logger.store.runs import Run
from logger.store.sealer import Sealer
from logger.store.store import Store
from logger.web import app, server

log = logging.getLogger(__name__)

HEARTBEAT_S = 5.0  # of real time
RECORDS = "records"  # the subject of the alarm about what was recorded before
UNKNOWN = (
    "the disk does not give what was recorded before this start: look whether a candle burns, and "
    "record it lit here"
)


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
        last, found = await self._prepare()
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
        self._engine = Engine(pipeline, clock.now_s(), sinks, keepers=("page", "recording"))
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
            disk_space=SpaceWatch(self._store.space, now_s=clock.now_s, report=self._report),
        )
        forwarder = forwarder_of(
            settings, self._store, report=self._report, now=clock.now_s, on_state=self._forwarding
        )
        self._publisher = self._publisher_of(service, recorder, last.id)
        if self._publisher is not None:
            here = {station.name for station in settings.stations}
            stations_gone = [one.station for one in pipeline.burns if one.station not in here]
            self._publisher.remember(pipeline.alarms, stations_gone, before.lines)
        self._tell_records(damage=UNKNOWN if found is None else found.damage)
        resume(
            self._engine,
            last.last_seen_s,
            started_s,
            lit=any(burn.lit for burn in pipeline.burns),
            behind=behind,
        )
        web = server.server(app.create(service, self._page_access.token))
        async with asyncio.TaskGroup() as takers:
            serving = takers.create_task(web.serve(sockets=[bound]), name="web")
            recording = takers.create_task(recorder.run(), name="recorder")
            engine = takers.create_task(self._engine.run(), name="engine")
            sending = [
                takers.create_task(one.run(), name=name)
                for one, name in ((self._publisher, "mqtt"), (forwarder, "forwarding"))
                if one is not None
            ]
            resort = takers.create_task(alarm_program.run(), name="last resort")
            await _until(lambda: web.started or serving.done())
            lock.publish_address(self._page_access.url)
            self._manager.ready(self._page_access.url)
            async with asyncio.TaskGroup() as sources:
                tasks = [
                    sources.create_task(tick(self._engine, clock), name="tick"),
                    sources.create_task(service.disk_space.run(), name="disk space"),
                    sources.create_task(
                        discard_old(self._store, settings, clock.now_s), name="discard"
                    ),
                    sources.create_task(self._sealer(recorder).run(), name="sealer"),
                    sources.create_task(warm_up(), name="warm-up"),
                ]
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
            web.stop()
            await asyncio.wait([serving])
            for one in sending:
                await _end(one)
            await _end(recording)  # saves what was taken

    async def _prepare(self) -> tuple[Run, Remembered | None]:
        """Begin a run in the store."""
        return await self._store.start(
            settings_text=self._settings.text,
            bench=bench_of(self._settings),
            started_s=self._clock.now_s(),
            version=VERSION,
            broker=self._settings.mqtt is not None,
            on_late=self._recall_late,
        )

    def _publisher_of(self, service: Service, recorder: Recorder, run: int) -> Publisher | None:
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
            run=run,
        )

    def _sealer(self, recorder: Recorder) -> Sealer:
        data = self._settings.bench.data
        return Sealer(self._store, data, quiet=lambda: recorder.fault is None)

    def _emit_of(self, link: InstrumentLink) -> Callable[[Reading], None]:
        """Where an instrument's readings go; what lay in its port for long is counted there."""

        def emit(reading: Reading) -> None:
            if not self._engine.put(reading):
                link.drop()

        return emit

    def _recall_late(self, found: Remembered) -> None:
        """What the disk gave only after the start, with every part joined."""
        log.warning("the disk answers: what was recorded before this start is known now")
        self._recorder.remember(found.entry_ids)
        if self._publisher is not None:
            self._publisher.remember((), lines=found.lines)
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

    def _forwarding(self, state: Forwarding) -> None:
        self._hub.forwarding = state
        if self._publisher is not None:
            self._publisher.take([state])

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
