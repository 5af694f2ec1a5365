"""From `take` to a subscriber, beside a bare publish of the same text over the same broker.

Run with `python -m tests.benchmarks.bench_mqtt`; the ways take turns, so that what else the machine
does falls on all. An alarm is two messages, its state and the phone's line; the broker sends small
packets at once, as that of config/mosquitto.conf does.
"""

import asyncio
import itertools
import statistics
import sys
import tempfile
import time
from dataclasses import replace
from pathlib import Path

import aiomqtt

from logger.alarms import lifecycle
from logger.alarms.lifecycle import AlarmEvent, Finding, Priority, Signal, Timing
from logger.publish.mqtt import Publisher
from logger.publish.topics import Topics
from logger.quantities import Rule
from logger.settings import MqttSettings
from tests.support.broker import Broker

ROUNDS = 3000
WARM_UP = 200
BENCH = "bench"
TOPICS = Topics(bench=BENCH)
BARE = "bare/state"
T0_S = 1_935_000_000.0


class Nothing:
    """An outbox without events."""

    async def waiting_events(self, limit: int) -> list:
        return []

    async def mark_delivered(self, seqs) -> None:
        pass


def crossing(value: float) -> AlarmEvent:
    """A wall that has just crossed its limit."""
    finding = Finding(
        rule=Rule.WALL_LIMIT,
        subject="jar-a-wall-3",
        station="jar-a",
        channel="jar-a-wall-3",
        signal=Signal.ON,
        priority=Priority.WARNING,
        value=value,
        limit=60.0,
        unit="degC",
        text=f"jar-a: wall, 60 mm, 3 o'clock reads {value:.3f} degC, at your limit of 60.0 degC. "
        "Go to the candle: put it out with a snuffer or lid",
    )
    _, events = lifecycle.step(None, finding, Timing(), T0_S, "jar-a-1935000000")
    return events[0]


async def arrival(arrived: asyncio.Queue, topic: str) -> float:
    """When the next message to `topic` comes; others are passed over."""
    while True:
        came_s, came_to = await asyncio.wait_for(arrived.get(), 10.0)
        if came_to == topic:
            return came_s


async def measure(broker: Broker) -> dict[str, list[float]]:
    """Times in milliseconds, by way."""
    settings = MqttSettings(host=broker.host, port=broker.port)
    connected = asyncio.Event()
    publisher = Publisher(
        settings,
        BENCH,
        Nothing(),
        channel_of=lambda _: None,
        report=lambda health: connected.set(),
        now=lambda: T0_S,
    )
    arrived: asyncio.Queue = asyncio.Queue()
    found: dict[str, list[float]] = {"bare publish": [], "alarm state": [], "phone line": []}

    async def collect(client: aiomqtt.Client) -> None:
        async for message in client.messages:
            arrived.put_nowait((time.perf_counter(), message.topic.value))

    v5 = aiomqtt.ProtocolVersion.V5
    async with (
        aiomqtt.Client(broker.host, broker.port, protocol=v5) as ear,
        aiomqtt.Client(broker.host, broker.port, protocol=v5) as bare,
    ):
        await ear.subscribe("#", qos=1)
        tasks = [asyncio.create_task(collect(ear)), asyncio.create_task(publisher.run())]
        await connected.wait()
        for count in itertools.count():
            event = crossing(60.0 + count / 1000.0)
            state = TOPICS.alarm(TOPICS.alarm_topic(event.alarm.finding), [event.alarm])
            phone = f"{TOPICS.prefix}/phone"

            began_s = time.perf_counter()
            publishing = asyncio.create_task(bare.publish(BARE, state.payload, 1, True))
            bare_s = await arrival(arrived, BARE) - began_s
            await publishing

            began_s = time.perf_counter()
            publisher.take([replace(event)])
            state_s = await arrival(arrived, state.topic) - began_s
            phone_s = await arrival(arrived, phone) - began_s
            if count >= WARM_UP:
                for way, took_s in zip(found, (bare_s, state_s, phone_s), strict=True):
                    found[way].append(took_s * 1000.0)
            if count == WARM_UP + ROUNDS:
                break
        for task in reversed(tasks):
            task.cancel()
            await asyncio.wait({task})
    return found


def tell(line: str) -> None:
    """A line of the result."""
    sys.stdout.write(f"{line}\n")


def main() -> None:
    """Print p50 and p99 of each way and their ratio to the bare publish."""
    with tempfile.TemporaryDirectory() as folder:
        broker = Broker(Path(folder), ("allow_anonymous true", "set_tcp_nodelay true"))
        broker.start()
        try:
            found = asyncio.run(measure(broker))
        finally:
            broker.kill()
    tell(f"take -> subscriber, {ROUNDS} rounds, loopback, QoS 1; ms (ratio to the bare publish)")
    base = None
    for way, times in found.items():
        cuts = statistics.quantiles(times, n=100)
        base = base or (cuts[49], cuts[98])
        ratios = f"({cuts[49] / base[0]:.2f}, {cuts[98] / base[1]:.2f})"
        tell(f"{way:14} p50 {cuts[49]:.3f}  p99 {cuts[98]:.3f}  {ratios}")


if __name__ == "__main__":
    main()
