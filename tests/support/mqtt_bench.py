"""A publisher under test with its outbox in memory, and what it is given to say."""

import asyncio
import json
from contextlib import asynccontextmanager
from dataclasses import dataclass

from logger import messages
from logger.alarms import lifecycle
from logger.alarms.lifecycle import AlarmEvent, Finding, Priority, Signal, Timing
from logger.announcements import Announcer, PhoneLine
from logger.burn.model import BurnEvent, BurnEventKind, BurnPhase, BurnStatus
from logger.errors import StoreError
from logger.publish.delivery_times import DeliveryTimes
from logger.publish.mqtt import Publisher
from logger.quantities import Channel, Estimate, Place, Position, Quality, Quantity, Rule
from logger.settings import MqttSettings
from logger.words import Words
from tests.support.waiting import within

T0_S = 1_935_000_000.0
BENCH = "back-room"
IMPATIENT = DeliveryTimes(
    unconfirmed_s=0.2,
    give_up_s=1.0,
    farewell_s=1.0,
    first_retry_s=0.02,
    longest_retry_s=0.05,
    store_s=0.2,
)


@dataclass(frozen=True)
class Waiting:
    seq: int
    event: BurnEvent

    @property
    def payload(self) -> str:
        """As a subscriber hears it."""
        return json.dumps(messages.event(self.event), separators=(",", ":"))


class Shelf:
    """An outbox in memory."""

    def __init__(self) -> None:
        self.events: list[Waiting] = []
        self.marked: set[int] = set()
        self.lines: dict[str, PhoneLine] = {}
        self.full = False
        self._news = asyncio.Event()

    def add(self, count: int, text: str = "") -> None:
        for seq in range(len(self.events), len(self.events) + count):
            event = BurnEvent(
                id=f"jar-a-1/note/-/{seq}",
                time_s=T0_S,
                since_s=T0_S,
                station="jar-a",
                burn="jar-a-1",
                event=BurnEventKind.NOTE,
                text=text,
            )
            self.events.append(Waiting(seq, event))

    async def waiting_events(self, limit: int) -> list[Waiting]:
        return [event for event in self.events if event.seq not in self.marked][:limit]

    def keep_line(self, line) -> None:
        self.lines[line.id] = line

    def mark_lines_done(self, ids) -> None:
        for id_ in ids:
            self.lines.pop(id_, None)

    async def mark_delivered(self, seqs) -> None:
        if self.full:
            raise StoreError("disk full")
        self.marked.update(seqs)
        self._news.set()

    async def until_marked(self, count: int) -> None:
        async with within(10):
            while len(self.marked) < count:
                self._news.clear()
                await self._news.wait()


def announcements(outputs):
    return Announcer(Words(), lambda: (), lambda: ()).announce(outputs)


def settings_for(broker, **changes) -> MqttSettings:
    return MqttSettings(**({"host": broker.host, "port": broker.port} | changes))


class Gate:
    """Holds back the next try of a publisher until a subscriber is there to hear it."""

    def __init__(self) -> None:
        self._open = asyncio.Event()

    def open(self) -> None:
        self._open.set()

    async def sleep(self, _seconds: float) -> None:
        await self._open.wait()


class Bench:
    """A publisher and what it reports."""

    def __init__(self, settings: MqttSettings, shelf: Shelf | None = None, **changes) -> None:
        self.shelf = shelf or Shelf()
        self.health = []
        self._news = asyncio.Event()
        options = {"times": IMPATIENT, "now": lambda: T0_S} | changes
        self.publisher = Publisher(
            settings, BENCH, self.shelf, channel_of=channel, report=self._hear, **options
        )

    def _hear(self, news) -> None:
        self.health.append(news)
        self._news.set()

    async def until_health(self, ok: bool, within_s: float = 10.0) -> str:
        """Wait until the latest health is `ok`; the reason."""
        async with within(within_s):
            while not self.health or self.health[-1].ok is not ok:
                self._news.clear()
                await self._news.wait()
        return self.health[-1].reason

    async def until_reason(self, words: str) -> None:
        """Wait until a fault is reported that holds `words`."""
        async with within(10):
            while not any(words in one.reason for one in self.health if not one.ok):
                self._news.clear()
                await self._news.wait()

    def take(self, outputs) -> None:
        """As the service does: the outputs, and what a person is told of them."""
        self.publisher.take(outputs)
        self.publisher.announce(announcements(outputs))

    async def until_served(self, ear) -> None:
        """Wait until the publisher is connected and has subscribed to commands."""
        self.take([estimate(20.0, "ready")])
        await ear.hear("channel/ready")

    @asynccontextmanager
    async def running(self):
        task = asyncio.create_task(self.publisher.run())
        try:
            yield self
        finally:
            task.cancel()
            await asyncio.wait({task})
            assert task.cancelled(), task.exception()


def channel(name: str) -> Channel:
    return Channel(
        name=name,
        instrument="probes",
        quantity=Quantity.TEMPERATURE,
        place=Place(position=Position.WALL, height_mm=60.0),
        station="jar-a",
    )


def estimate(value: float, name: str = "wall") -> Estimate:
    return Estimate(
        channel=name,
        at_s=T0_S,
        value=value,
        standard_uncertainty=0.2,
        repeatability=0.1,
        used=20,
        rejected=0,
        quality=Quality.GOOD,
    )


def status(phase: BurnPhase = BurnPhase.LIT, at_s: float = T0_S) -> BurnStatus:
    return BurnStatus(
        at_s=at_s,
        station="jar-a",
        phase=phase,
        burn="jar-a-1935000000",
        number=None,
        trial="cedar-12",
        lit_s=T0_S,
        out_s=None,
        elapsed_s=0.0,
        remaining_s=14400.0,
        limit_c=60.0,
        alert_c=57.2,
        hottest=None,
        margin_c=None,
        automatic=True,
    )


def finding(signal: Signal, rule: str = "wall-limit", channel: str = "wall") -> Finding:
    return Finding(
        rule=Rule(rule),
        subject=channel,
        station="jar-a",
        channel=channel,
        signal=signal,
        priority=Priority.WARNING,
        text="jar-a: at your limit. Go to the candle",
    )


def raised(channel: str = "wall") -> AlarmEvent:
    found = finding(Signal.ON, channel=channel)
    _, events = lifecycle.step(None, found, Timing(), T0_S, "jar-a-1935000000")
    return events[0]


def ended(event: AlarmEvent) -> AlarmEvent:
    alarm, _ = lifecycle.acknowledge(event.alarm, T0_S, by="", where="")
    _, events = lifecycle.step(alarm, finding(Signal.OFF, alarm.finding.rule), Timing(), T0_S)
    return events[0]


ALARM = f"wickbench/{BENCH}/alarm/jar-a/wall-limit/wall"
