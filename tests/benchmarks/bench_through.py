"""Readings a second from bytes on a port to durable rows, against the plainest logger.

The whole service in a process of its own, 16 channels in 4 stations that are lit: estimates, alarm
rules and forecasts. Lines come as fast as they are taken. Both are given in processor time, which
other work on the machine hardly touches. Run: python -m tests.benchmarks.bench_through
"""

import os
import resource
import sqlite3
import subprocess
import sys
import tempfile
import time
import tty
from contextlib import closing
from pathlib import Path

from logger.store.opening import FILE_NAME
from tests.benchmarks import wide_bench
from tests.benchmarks.figures import Figure, cpu_s, tell
from tests.support.process_bench import BenchProcess
from tests.support.waiting import until

CHANNELS = 16
LINES = 5000
BARE_LINES = 50_000
SHARE = 0.05  # of the plainest logger's rate


def through_us(lines: int = LINES) -> float:
    """Processor time of the service a reading, from the port to its row, in microseconds."""
    text = wide_bench.configuration(CHANNELS)
    with tempfile.TemporaryDirectory() as name, BenchProcess(Path(name), text) as bench:
        bench.start()
        bench.opened()
        for station in range(CHANNELS // wide_bench.PER_STATION):
            status, said = bench.post("/api/burns", station=f"jar-{station}", trial="cedar-6")
            assert status < 300, said
        rows = wide_bench.seconds(CHANNELS, lines)
        first, before_s = _stored(bench), cpu_s(bench.process.pid)
        for _ in range(lines):
            _push(bench, bench.port.line_format.line(next(rows)))
        whole = first + lines * CHANNELS
        until(lambda: _stored(bench) >= whole, "all rows are stored", 60.0)
        return (cpu_s(bench.process.pid) - before_s) / (lines * CHANNELS) * 1e6


def _push(bench: BenchProcess, data: bytes) -> None:
    """Write all of it, waiting while the port is full."""
    while data := data[bench.port.send_raw(data) :]:
        time.sleep(0.001)


def _stored(bench: BenchProcess) -> int:
    """Readings in the database, as another process sees them: they are durable."""
    path = bench.data / FILE_NAME
    with closing(sqlite3.connect(f"file:{path}?mode=ro", uri=True)) as con:
        (rows,) = con.execute("SELECT coalesce(max(id), 0) FROM reading").fetchone()
    return rows


def bare_us(lines: int = BARE_LINES) -> float:
    """The same of the bare loop."""
    with tempfile.TemporaryDirectory() as name:
        folder = Path(name)
        master, slave = os.openpty()
        tty.setraw(slave)
        port = os.ttyname(slave)
        before = resource.getrusage(resource.RUSAGE_CHILDREN)
        command = [sys.executable, "-m", "tests.benchmarks.bare_loop"]
        process = subprocess.Popen([*command, port, str(folder / "out.csv"), str(lines)])
        rows = wide_bench.seconds(CHANNELS, lines)
        for _ in range(lines):  # a write waits while the port is full
            os.write(master, ",".join(map(str, next(rows))).encode() + b"\n")
        process.wait()
        os.close(slave)
        os.close(master)
        after = resource.getrusage(resource.RUSAGE_CHILDREN)
        used_s = after.ru_utime + after.ru_stime - before.ru_utime - before.ru_stime
    return used_s / (lines * CHANNELS) * 1e6


def main() -> int:
    """Tell the figure."""
    bare, ours = bare_us(), through_us()
    share = bare / ours
    return tell(
        Figure(
            what=f"bytes on the port to durable row, {CHANNELS} channels in 4 stations",
            baseline=f"read, float, append to CSV, flush once a second: {1e6 / bare:,.0f}/s",
            measured=f"{1e6 / ours:,.0f}/s, {share:.3f} of it",
            to_reach=f"{SHARE} of it",
            met=share >= SHARE,
        )
    )


if __name__ == "__main__":
    sys.exit(main())
