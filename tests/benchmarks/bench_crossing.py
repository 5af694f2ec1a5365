"""From the last byte of the reading that crosses the limit to the message at a subscriber.

The real service in a process of its own, its instrument on a pseudo-terminal, a broker on loopback;
beside it a bare publish of the same text over the same broker. A line every 10 ms climbs on one
channel after the other: each crosses once. Run with `python -m tests.benchmarks.bench_crossing`.
"""

import asyncio
import random
import statistics
import sys
import tempfile
import time
from pathlib import Path

import aiomqtt

from tests.benchmarks import figures
from tests.benchmarks.figures import Figure
from tests.support.broker import Broker
from tests.support.process_bench import BenchProcess
from tests.support.waiting import until

CHANNELS = 60
EVERY_S = 0.01  # longer than a message takes: the line before it is the one that crossed
SETTLED = 20  # lines under the alert, before the climb
MOST_LINES = 400
BARE = "bare/state"
ABOVE_MS = 5.0  # of the p99 over the bare publish's: a person notices nothing below it

BENCH = """
[bench]
name = "bench"
data = "{folder}/data"

[[station]]
name = "jar-a"
material = "glass"

[mqtt]
host = "127.0.0.1"
port = PORT

[web]
listen = "127.0.0.1:0"

[[instrument]]
name = "boards"
driver = "serial-lines"
port = "{folder}/probes"
silent_after = "1 h"
"""
CHANNEL = """
[[instrument.channel]]
name = "wall-{number}"
station = "jar-a"
quantity = "temperature"
place = "wall"
height = "60 mm"
device = "p{number}"
field = 1
unit = "degC"
kind = "contact"
coupling = "0.1 delta_degC"
accuracy = "0.1 delta_degC"
"""


async def climb(bench: BenchProcess, number: int, arrived: asyncio.Queue) -> tuple[float, bytes]:
    """Lead channel `number` over the limit; how long its alarm took, and its text."""
    rng = random.Random(number)
    topic = f"wickbench/bench/alarm/jar-a/wall-limit/wall-{number}"
    sent: list[float] = []
    for line in range(MOST_LINES):
        value_c = 58.0 + 0.05 * max(0, line - SETTLED) + rng.gauss(0.0, 0.05)
        bench.port.send_raw(f"p{number},{value_c:.2f}\n".encode())
        sent.append(time.perf_counter())
        due_s = sent[-1] + EVERY_S
        while (left_s := due_s - time.perf_counter()) > 0.0:
            try:
                async with asyncio.timeout(left_s):
                    came_s, came_to, text = await arrived.get()
            except TimeoutError:
                break
            if came_to == topic:
                crossed_s = max(at_s for at_s in sent if at_s < came_s)
                return came_s - crossed_s, text
    raise AssertionError(f"no alarm of channel {number}")


async def measure(bench: BenchProcess, broker: Broker) -> dict[str, list[float]]:
    """Times in milliseconds, by way."""
    arrived: asyncio.Queue = asyncio.Queue()
    found: dict[str, list[float]] = {"bare publish": [], "reading to alarm": []}

    async def collect(client: aiomqtt.Client) -> None:
        async for message in client.messages:
            arrived.put_nowait((time.perf_counter(), message.topic.value, message.payload))

    v5 = aiomqtt.ProtocolVersion.V5
    async with (
        aiomqtt.Client(broker.host, broker.port, protocol=v5) as ear,
        aiomqtt.Client(broker.host, broker.port, protocol=v5) as bare,
    ):
        await ear.subscribe([("wickbench/bench/alarm/#", 1), (BARE, 1)])
        task = asyncio.create_task(collect(ear))
        for number in range(CHANNELS):
            took_s, text = await climb(bench, number, arrived)
            found["reading to alarm"].append(took_s * 1000.0)
            began_s = time.perf_counter()
            await bare.publish(BARE, text, 1, True)
            while True:
                came_s, came_to, _ = await asyncio.wait_for(arrived.get(), 10.0)
                if came_to == BARE:
                    break
            found["bare publish"].append((came_s - began_s) * 1000.0)
        task.cancel()
        await asyncio.wait({task})
    return found


def tell(line: str) -> None:
    """A line of the result."""
    sys.stdout.write(f"{line}\n")


def main() -> int:
    """Print p50 and p99 of each way, and tell the figure."""
    with tempfile.TemporaryDirectory() as name:
        folder = Path(name)
        (folder / "broker").mkdir()
        broker = Broker(folder / "broker", ("allow_anonymous true", "set_tcp_nodelay true"))
        broker.start()
        channels = "".join(CHANNEL.format(number=number) for number in range(CHANNELS))
        text = BENCH.replace("PORT", str(broker.port)) + channels
        try:
            with BenchProcess(folder, text) as bench:
                bench.start()
                bench.opened()
                until(lambda: ": connected" in bench.log.read_text(), "the broker has it")
                found = asyncio.run(measure(bench, broker))
        finally:
            broker.kill()
    tell(f"last byte -> subscriber, {CHANNELS} crossings, loopback, QoS 1; ms (ratio to bare)")
    base = None
    for way, times in found.items():
        cuts = statistics.quantiles(times, n=100, method="inclusive")
        base = base or (cuts[49], cuts[98])
        ratios = f"({cuts[49] / base[0]:.2f}, {cuts[98] / base[1]:.2f})"
        tell(f"{way:16} p50 {cuts[49]:.3f}  p99 {cuts[98]:.3f}  {ratios}")
    assert base is not None
    return figures.tell(
        Figure(
            what=f"crossing to message at a subscriber, p99 of {CHANNELS}",
            baseline=f"a bare publish: p50 {base[0]:.1f}, p99 {base[1]:.1f} ms",
            measured=f"{cuts[98] - base[1]:+.1f} ms (p50 {cuts[49] - base[0]:+.1f} ms)",
            to_reach=f"+{ABOVE_MS:.0f} ms",
            met=cuts[98] - base[1] <= ABOVE_MS,
        )
    )


if __name__ == "__main__":
    sys.exit(main())
