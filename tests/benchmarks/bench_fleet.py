"""Many benches on one mosquitto and one victoria-metrics: what is lost, how late, what fills up.

200 benches of 8 channels at 1 Hz, then more until something breaks; simulated benches, a real
broker and a real engine, all on one machine. Run: python -m tests.benchmarks.bench_fleet
"""

import argparse
import json
import os
import resource
import subprocess
import sys
import tempfile
import time
from contextlib import ExitStack
from pathlib import Path

from tests.benchmarks.figures import Figure, cpu_s, rss_mb, tell
from tests.support.broker import Broker
from tests.support.engine import Engine

WITHIN_MS = 1000.0  # an alarm's p99 under load (our choice): a person walks for minutes
STEPS = (200, 400, 700, 1000)


def measure(benches: int, seconds: int) -> dict[str, float]:
    """One step, with a broker and an engine of its own."""
    with tempfile.TemporaryDirectory() as name, ExitStack() as stack:
        folder = Path(name)
        for part in ("broker", "engine"):
            (folder / part).mkdir()
        # What waits for a subscriber is otherwise 1000 messages, some half a second of 200 benches.
        lines = ("allow_anonymous true", "log_type error", "max_queued_messages 0")
        broker, engine = Broker(folder / "broker", lines), Engine(folder / "engine")
        broker.start()
        stack.callback(broker.kill)
        engine.start()
        stack.callback(engine.stop)
        pids = {"broker": broker._process.pid, "engine": engine._process.pid}
        before_s = {part: cpu_s(pid) for part, pid in pids.items()}
        command = [
            *(sys.executable, "-m", "simulators.fleet", "--broker", f"127.0.0.1:{broker.port}"),
            *("--engine", engine.url, "--benches", str(benches), "--seconds", str(seconds)),
        ]
        children_s, begun_s = _children_s(), time.monotonic()
        done = subprocess.run(command, capture_output=True, text=True, check=False)
        assert done.stdout, done.stderr
        took_s = time.monotonic() - begun_s
        found = json.loads(done.stdout)
        for part, pid in pids.items():
            found[f"{part}_core"] = (cpu_s(pid) - before_s[part]) / took_s
            found[f"{part}_mb"] = rss_mb(pid)
        found["fleet_core"] = (_children_s() - children_s) / took_s
        return found


def _children_s() -> float:
    used = resource.getrusage(resource.RUSAGE_CHILDREN)
    return used.ru_utime + used.ru_stime


def words(found: dict[str, float]) -> str:
    """A step in a line."""
    return (
        f"{found['sent']:,} messages, lost {found['lost']}; alarm p50 {found['alarm_p50_ms']} ms,"
        f" p99 {found['alarm_p99_ms']} ms; engine took {found['points']:,} points, refused"
        f" {found['points_refused']}; cores: broker {found['broker_core']:.2f},"
        f" engine {found['engine_core']:.2f}, the fleet itself {found['fleet_core']:.2f}"
        f" (late by {found['bench_late_p99_ms']} ms); broker {found['broker_mb']:.0f} MB,"
        f" engine {found['engine_mb']:.0f} MB"
    )


def main() -> int:
    """Tell the figures, step by step until one breaks."""
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--seconds", type=int, default=60)
    parser.add_argument("--benches", type=int, nargs="*", default=STEPS)
    asked = parser.parse_args()
    missed = 0
    for benches in asked.benches:
        found = measure(benches, asked.seconds)
        sound = not (found["lost"] or found["points_refused"] or found["disconnected"])
        met = sound and found["alarm_p99_ms"] <= WITHIN_MS
        figure = Figure(
            what=f"{benches} benches of 8 channels at 1 Hz, one broker, one engine",
            baseline=f"{os.cpu_count()} cores, shared with the fleet itself",
            measured=words(found),
            to_reach=f"none lost, alarm p99 {WITHIN_MS:.0f} ms" if benches == STEPS[0] else "seen",
            met=met if benches == STEPS[0] else None,
        )
        missed |= tell(figure)
        if not met:
            break
    return missed


if __name__ == "__main__":
    sys.exit(main())
