"""A forwarder under test on a real database, what it is given to forward, and what it reports."""

import asyncio
from contextlib import asynccontextmanager
from pathlib import Path

from logger.alarms.lifecycle import (
    Alarm,
    AlarmEvent,
    AlarmEventKind,
    AlarmState,
    Finding,
    Priority,
    Signal,
)
from logger.burn.limits import Station
from logger.pipeline import Bench
from logger.publish.delivery_times import DeliveryTimes
from logger.publish.influx import Forwarder
from logger.quantities import (
    DEGF,
    Channel,
    Estimate,
    Place,
    Position,
    Quality,
    Quantity,
    Reading,
    Rule,
    Tick,
)
from logger.settings import InfluxSettings
from logger.settings.limit_keys import default_limits
from logger.store.spool import Spool
from logger.store.store import Store
from tests.support.engine import compare, stored_samples
from tests.support.waiting import patient, within

WALL = Channel(
    name="jar-a-wall-3",
    instrument="probes-a",
    station="jar-a",
    quantity=Quantity.TEMPERATURE,
    place=Place(position=Position.WALL, height_mm=60.0, clock=3),
    unit=DEGF,
)
ROOM = Channel(
    name="room",
    instrument="probes-a",
    quantity=Quantity.TEMPERATURE,
    place=Place(position=Position.ROOM),
)
BENCH = Bench(channels=(WALL, ROOM), stations=(Station(name="jar-a"),), limits=default_limits())
KINDS = ("event", "estimate", "reading")
IMPATIENT = DeliveryTimes(
    give_up_s=0.6, farewell_s=0.5, first_retry_s=0.02, longest_retry_s=0.05, store_s=0.2
)


def rows(first, count, at_s):
    """Seconds of a bench from second `first`: a reading and an estimate of both channels each,

    and a raised alarm each tenth. Values tell their second; stamps are whole milliseconds.
    """
    for second in range(first, first + count):
        now_s = round(at_s + second, 3)
        outputs = []
        for offset, channel in ((0.25, WALL), (0.5, ROOM)):
            value = float(second + offset)
            yield (Reading(channel=channel.name, value=value, at_s=round(now_s + offset, 3)), ())
            outputs.append(
                Estimate(
                    channel=channel.name,
                    at_s=now_s,
                    value=value / 2.0,
                    standard_uncertainty=0.25,
                    repeatability=0.1,
                    used=second % 30,
                    rejected=2,
                    quality=Quality.GOOD,
                )
            )
        if second % 10 == 0:
            outputs.append(alarm(second, now_s))
        yield (Tick(at_s=now_s), outputs)


def alarm(number, at_s, channel=WALL.name, text="hot"):
    finding = Finding(
        rule=Rule.WALL_LIMIT,
        subject=channel,
        station="jar-a",
        channel=channel,
        signal=Signal.ON,
        priority=Priority.WARNING,
        value=61.0,
        limit=60.0,
        unit="degC",
        text=text,
    )
    now = Alarm(finding=finding, state=AlarmState.UNACKNOWLEDGED, since_s=at_s)
    return AlarmEvent(
        id=f"bench/wall-limit/{channel}/{number}",
        time_s=at_s,
        what=AlarmEventKind.RAISED,
        alarm=now,
    )


class ForwardingBench:
    """A store in `data` with one run, and forwarders started on it."""

    def __init__(self, data: Path, store: Store, at_s: float) -> None:
        self.data = data
        self.store = store
        self.at_s = at_s
        self.now_s = at_s
        self.seconds = 0
        self.news = []
        self.forwarder: Forwarder | None = None

    async def add(self, count: int) -> None:
        """So many seconds are stored."""
        await self.store.append(list(rows(self.seconds, count, self.at_s)))
        self.seconds += count
        self.now_s = self.at_s + self.seconds

    @asynccontextmanager
    async def forwarding(self, url: str, *, kinds=KINDS, **more):
        """With a forwarder at work; killed, with no last words, where `kill` is set meanwhile."""
        settings = InfluxSettings(url=url, **more.pop("settings", {}))
        spool = Spool(self.store, self.data, url, kinds, ())
        options = {"sleep": lambda s: asyncio.sleep(min(s, 0.05)), "times": IMPATIENT} | more
        self.forwarder = Forwarder(
            settings,
            "back-room",
            spool,
            report=self.news.append,
            now=lambda: self.now_s,
            **options,
        )
        task = asyncio.create_task(self.forwarder.run())
        try:
            yield self.forwarder
        finally:
            task.cancel()
            await asyncio.wait({task}, timeout=patient(10.0))
            assert task.done(), "the forwarder does not stop"

    async def until(self, true, what, within_s=15.0) -> None:
        try:
            async with within(within_s):
                while not true(self.forwarder.state):
                    await asyncio.sleep(0.01)
        except TimeoutError:
            raise AssertionError(
                f"not within {within_s} s: {what}: {self.forwarder.state}"
            ) from None

    async def until_all_is_there(self, within_s=15.0) -> None:
        """Until the engine has confirmed all that is stored."""
        spool = Spool(self.store, self.data, self.forwarder._settings.url, KINDS, ())
        try:
            async with within(within_s):
                while (await spool.backlog()).waiting:
                    await asyncio.sleep(0.02)
        except TimeoutError:
            raise AssertionError(f"points still wait: {self.forwarder.state}") from None
        finally:
            spool.close()

    def same_as_in(self, engine) -> int:
        """Compare the whole export with the database; how many samples that were."""
        return compare(engine, stored_samples(self.data, "back-room", BENCH.channels))
