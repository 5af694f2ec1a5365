"""What storing costs, beside an INSERT and a commit for each row. Run it as a program.

Both write to a folder of the current directory's disk with WAL and synchronous=FULL. "bytes to the
disk" is what the process handed to it (/proc/self/io), log and checkpoints included; "bytes in the
file" is what remains.
"""

import asyncio
import random
import sqlite3
import sys
import tempfile
import time
from pathlib import Path

from logger.pipeline import Bench
from logger.quantities import Reading
from logger.settings.limit_keys import default_limits
from logger.store import opening
from logger.store.opening import FILE_NAME
from logger.store.queries import open_read
from logger.store.store import Store

CHANNELS = 16
AT_S = 1_940_000_000.0


def readings(seconds):
    """16 channels at 1 Hz, jittered by 5 ms, noise of 1 K, two decimals."""
    generator = random.Random(1)
    return [
        Reading(
            channel=f"jar-a-wall-{channel}",
            value=round(generator.gauss(45.0, 1.0), 2),
            at_s=round(AT_S + second + channel / CHANNELS + generator.gauss(0.0, 0.005), 6),
        )
        for second in range(seconds)
        for channel in range(CHANNELS)
    ]


def written_bytes():
    for line in Path("/proc/self/io").read_text().splitlines():
        if line.startswith("wchar"):
            return int(line.split()[1])
    raise RuntimeError("no wchar in /proc/self/io")


def tell(line):
    sys.stdout.write(f"{line}\n")


def report(name, rows, took_s, wrote, size):
    tell(
        f"{name:44} {rows / took_s:10,.0f} rows/s {wrote / rows:8,.0f} bytes to the disk"
        f" {size / rows:6.1f} bytes in the file, a reading"
    )


def row_by_row(folder, rows):
    """The plain way: a table with an index by channel and time, a commit for each row."""
    con = sqlite3.connect(folder / FILE_NAME, isolation_level=None)
    con.execute("PRAGMA journal_mode = WAL")
    con.execute("PRAGMA synchronous = FULL")
    con.execute(
        "CREATE TABLE reading (channel TEXT, at REAL, value REAL, PRIMARY KEY (channel, at))"
    )
    before, begun_s = written_bytes(), time.perf_counter()
    for one in rows:
        con.execute("INSERT INTO reading VALUES (?, ?, ?)", (one.channel, one.at_s, one.value))
    took_s = time.perf_counter() - begun_s
    con.close()
    return took_s, written_bytes() - before


async def in_batches(folder, rows, size):
    """Our store, `size` readings in a commit; it tells the time spent in commits alone."""
    store = await Store.open(folder)
    bench = Bench(channels=(), stations=(), limits=default_limits())
    await store.begin_run(settings_text="", bench=bench, started_s=AT_S, version="0")
    before, begun_s = written_bytes(), time.perf_counter()
    for first in range(0, len(rows), size):
        await store.append([(one, ()) for one in rows[first : first + size]])
    took_s = time.perf_counter() - begun_s
    await store.close()
    return took_s, written_bytes() - before


def measure(name, rows, write):
    with tempfile.TemporaryDirectory(dir=".", prefix="bench-store-") as folder:
        took_s, wrote = write(Path(folder), rows)
        report(name, len(rows), took_s, wrote, (Path(folder) / FILE_NAME).stat().st_size)


def read_back(rows):
    """A start's check, a stretch found in the middle, and the memory of ten minutes."""
    with tempfile.TemporaryDirectory(dir=".", prefix="bench-store-") as name:
        folder = Path(name)
        asyncio.run(in_batches(folder, rows, 5000))
        path = folder / FILE_NAME
        begun_s = time.perf_counter()
        opening.open_to_write(path).close()
        size = path.stat().st_size
        took_s = time.perf_counter() - begun_s
        tell(f"open and check {size / 2**20:.0f} MB: {took_s * 1e3:.0f} ms")
        middle_s = AT_S + len(rows) / CHANNELS / 2
        with open_read(folder) as reader:
            begun_s = time.perf_counter()
            found = sum(1 for _ in reader.readings(None, middle_s, middle_s + 600.0))
            took_s = time.perf_counter() - begun_s
            tell(f"{found} readings of 600 s amid {len(rows):,}: {took_s * 1e3:.1f} ms")


def main():
    """Print all figures."""
    few, many = readings(125), readings(12_500)
    measure("plain: INSERT and commit for each row", few, row_by_row)
    measure(
        "ours: a commit every second (16 readings)",
        readings(1250),
        lambda folder, rows: asyncio.run(in_batches(folder, rows, CHANNELS)),
    )
    measure(
        "ours: caught up, 5000 in a commit",
        many,
        lambda folder, rows: asyncio.run(in_batches(folder, rows, 5000)),
    )
    read_back(readings(62_500))


if __name__ == "__main__":
    main()
