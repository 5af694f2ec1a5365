"""What a bench takes that only watches: 16 channels at 1 Hz, MQTT, two streams; with an engine too.

The real service with a real mosquitto, and a real victoria-metrics the second time. Four candles
are lit, so that every rule has something to judge. Run: python -m tests.benchmarks.bench_idle
"""

import argparse
import sys
import tempfile
import threading
import time
import urllib.request
from contextlib import ExitStack, suppress
from dataclasses import dataclass
from http.client import HTTPException
from pathlib import Path

from tests.benchmarks import wide_bench
from tests.benchmarks.figures import Figure, cpu_s, descriptors, rss_mb, tell, to_disk_bytes
from tests.support.broker import Broker
from tests.support.engine import Engine
from tests.support.process_bench import BenchProcess
from tests.support.waiting import until

CHANNELS, STREAMS = 16, 2
SETTLES_S, OVER_S = 20.0, 120.0
CORE_PERCENT, RSS_MB, FORWARDING_MB, BYTES = 0.7, 60.0, 85.0, 500.0

MQTT = """
[mqtt]
host = "127.0.0.1"
port = {port}
"""
ENGINE = """
[influx]
url = "{url}"
bucket = "wickbench"
"""


@dataclass(frozen=True)
class Idle:
    """What it took."""

    core_percent: float
    rss_mb: float
    bytes_a_reading: float
    descriptors: int


def idle(*, engine: bool, over_s: float = OVER_S) -> Idle:
    """A bench that watches for `over_s` after it has settled."""
    with tempfile.TemporaryDirectory() as name, ExitStack() as stack:
        folder = Path(name)
        (folder / "broker").mkdir()
        broker = Broker(folder / "broker", ("allow_anonymous true",))
        broker.start()
        stack.callback(broker.kill)
        more = MQTT.format(port=broker.port)
        if engine:
            (folder / "engine").mkdir()
            taker = Engine(folder / "engine")
            taker.start()
            stack.callback(taker.stop)
            more += ENGINE.format(url=taker.url)
        bench = stack.enter_context(BenchProcess(folder, wide_bench.configuration(CHANNELS, more)))
        bench.start(cold=True)
        bench.opened()
        until(lambda: ": connected" in bench.log.read_text(), "the broker has it")
        for station in range(CHANNELS // wide_bench.PER_STATION):
            status, said = bench.post("/api/burns", station=f"jar-{station}", trial="cedar-6")
            assert status < 300, said
        rows = wide_bench.seconds(CHANNELS, 100_000)
        bench.write(lambda: next(rows), every_s=1.0)
        for _ in range(STREAMS):
            threading.Thread(target=_follow, args=(bench.address,), daemon=True).start()
        time.sleep(SETTLES_S)
        pid = bench.process.pid
        used_s, wrote, begun_s = cpu_s(pid), to_disk_bytes(pid), time.monotonic()
        time.sleep(over_s)
        took_s = time.monotonic() - begun_s
        return Idle(
            core_percent=100.0 * (cpu_s(pid) - used_s) / took_s,
            rss_mb=rss_mb(pid),
            bytes_a_reading=(to_disk_bytes(pid) - wrote) / (took_s * CHANNELS),
            descriptors=descriptors(pid),
        )


def _follow(address: str) -> None:
    with suppress(OSError, HTTPException), urllib.request.urlopen(f"{address}/api/live") as stream:
        while stream.read(65_536):
            pass


def main() -> int:
    """Tell the figures."""
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--over", type=float, default=OVER_S, help="seconds")
    over_s = parser.parse_args().over
    alone, forwarding = idle(engine=False, over_s=over_s), idle(engine=True, over_s=over_s)
    what = f"idle bench, {CHANNELS} channels at 1 Hz, MQTT, {STREAMS} streams"
    none = "no baseline"
    return tell(
        Figure(
            what=f"{what}: share of a core",
            baseline=f"{none}; forwarding {forwarding.core_percent:.2f} %",
            measured=f"{alone.core_percent:.2f} %",
            to_reach=f"{CORE_PERCENT} %",
            met=alone.core_percent <= CORE_PERCENT,
        ),
        Figure(
            what="... memory",
            baseline=none,
            measured=f"{alone.rss_mb:.0f} MB, forwarding {forwarding.rss_mb:.0f} MB",
            to_reach=f"{RSS_MB:.0f} MB, forwarding {FORWARDING_MB:.0f} MB",
            met=alone.rss_mb <= RSS_MB and forwarding.rss_mb <= FORWARDING_MB,
        ),
        Figure(
            what="... written to the disk a reading",
            baseline=f"{none}; {alone.descriptors} descriptors are open",
            measured=f"{alone.bytes_a_reading:.0f} bytes",
            to_reach=f"{BYTES:.0f} bytes",
            met=alone.bytes_a_reading <= BYTES,
        ),
    )


if __name__ == "__main__":
    sys.exit(main())
