"""What sealing costs and brings: bytes, time of the writer, curves over months, a year of burns.

Run as a program: `python -m tests.benchmarks.bench_sealing [--estimates N] [--burns N]`. The whole
figures are those of `--estimates 10000000 --burns 600`, which take an hour and 1.5 GB. Times of
reading are of the processor, so that other work on the machine does not count.
"""

import argparse
import asyncio
import sqlite3
import sys
import tempfile
import time
from collections.abc import Iterator
from contextlib import closing
from dataclasses import dataclass, replace
from pathlib import Path

import numpy as np

from logger.burn.entries import Lit
from logger.burn.model import Burn
from logger.pipeline import Pipeline
from logger.service.burn_curve import curve_svg
from logger.service.core import bench_of
from logger.settings.config_file import parse
from logger.store import sealing
from logger.store.buckets import Spans
from logger.store.codec import dump, micros
from logger.store.damage import Damage
from logger.store.opening import FILE_NAME, open_to_write
from logger.store.queries import open_read
from logger.store.schema import transaction
from logger.store.sealed import verify
from logger.store.store import Store
from tests.benchmarks import figures
from tests.benchmarks.figures import Figure

CHANNELS = 16
AT_S = 1_940_000_000.0
DAY_S = 86_400.0
BURN_S = 14_400
EVERY_S = 5  # from estimate to estimate, as is usual
BUCKETS = 1000

# What is to be reached; the sizes of the long run are for --estimates 10000000 --burns 600.
MOST_BYTES = 6.0  # a reading, with its share of the estimates
FASTER = 50.0  # than SQL over rows
OPEN_S, DRAW_S, WRITER_S = 2.0, 0.3, 0.05

SETTINGS = """
[bench]
name = "back-room"
[[station]]
name = "jar-a"
material = "glass"
[[instrument]]
name = "probes-a"
driver = "serial-lines"
port = "/dev/null"
""" + "".join(
    f"""
[[instrument.channel]]
name = "jar-a-wall-{number}"
station = "jar-a"
place = "wall"
height = "{20 + 5 * number} mm"
clock = 3
quantity = "temperature"
field = {number}
unit = "degC"
kind = "contact"
"""
    for number in range(1, CHANNELS + 1)
)


def tell(line):
    sys.stdout.write(f"{line}\n")
    sys.stdout.flush()


@dataclass(frozen=True)
class Curves:
    """The same estimates drawn from rows and from chunks: seconds of the processor."""

    sql_s: float
    sealed_s: float
    equal: bool
    writer_s: float  # a step of the writer, its commit with it

    @property
    def ratio(self):
        return self.sql_s / self.sealed_s


def begin(folder):
    """A database of this version with the bench and a run; its bench in the core's terms."""
    bench = bench_of(parse(SETTINGS, Path("bench.toml")))

    async def work():
        store = await Store.open(folder)
        await store.begin_run(settings_text=SETTINGS, bench=bench, started_s=AT_S, version="0")
        await store.close()

    asyncio.run(work())
    with closing(open_to_write(folder / FILE_NAME)) as con:
        con.executemany(
            "INSERT INTO channel (id, name) VALUES (?, ?)",
            [(number, f"jar-a-wall-{number}") for number in range(1, CHANNELS + 1)],
        )
    return bench


def timed(work, times=3, clock=time.perf_counter):
    """The shortest of some runs by `clock`, and what it gave."""
    took_s = []
    for _ in range(times):
        begun_s = clock()
        found = work()
        took_s.append(clock() - begun_s)
    return min(took_s), found


# a curve over months


def fill_rows(con, count):
    """Estimates of one channel, one a second, with gaps of 20 min a day; zones as the store's."""
    generator = np.random.default_rng(1)
    for first in range(0, count, sealing.BLOCK_ROWS):
        ids = np.arange(first, min(first + sealing.BLOCK_ROWS, count))
        at_us = [micros(AT_S) + int(one) * 1_000_000 for one in ids + ids // 85_200 * 1200]
        values = 45.0 + 10.0 * np.sin(ids / 7200.0) + generator.normal(0.0, 0.1, len(ids))
        rows = [
            (int(id_) + 1, 1, at, value, 0.3, 0.1, 30, 0, "good")
            for id_, at, value in zip(ids, at_us, values.tolist(), strict=True)
        ]
        con.executemany("INSERT INTO estimate VALUES (?, ?, ?, ?, ?, ?, ?, ?, ?)", rows)
        con.execute(
            "INSERT INTO zone VALUES ('estimate', ?, ?, ?, ?, NULL)",
            (rows[0][0], rows[-1][0], at_us[0], at_us[-1]),
        )
    con.execute(  # the newest row stays one
        "INSERT INTO estimate VALUES (?, 1, ?, 45.0, 0.3, 0.1, 30, 0, 'good')",
        (count + 1, at_us[-1] + micros(sealing.AFTER_S) + 2_000_000),
    )
    return at_us[-1] / 1e6 + 1.0


def by_sql(con, spans):
    """Lowest and highest of each bucket by GROUP BY over the rows."""
    from_us, width_us = micros(spans.from_s), spans.width_s * 1e6
    found = con.execute(
        "SELECT CAST((at_us - ?1) / ?2 AS INTEGER) AS bucket, min(value), max(value)"
        " FROM estimate WHERE channel = 1 AND at_us >= ?1 AND at_us < ?3 AND quality <> 'lost'"
        " GROUP BY bucket",
        (from_us, width_us, from_us + int(width_us * spans.count)),
    )
    buckets = {bucket: (low, high) for bucket, low, high in found}
    return [buckets.get(index, (None, None)) for index in range(spans.count)]


def seal_all(con):
    """Seal what is due as the service does; how long the writer took for a step, in the mean."""
    took_s = []
    while place := sealing.due(con):
        block = sealing.packed(place, sealing.stored_rows(con, place))
        begun_s = time.perf_counter()
        with transaction(con):
            assert sealing.put(con, block)
        took_s.append(time.perf_counter() - begun_s)
    return sum(took_s) / len(took_s)


def curves(folder, count, buckets=BUCKETS):
    """The same curve from rows by SQL and from chunks by the store's own query."""
    begin(folder)
    with closing(open_to_write(folder / FILE_NAME)) as con:
        with transaction(con):
            to_s = fill_rows(con, count)
        spans = Spans.of(AT_S, to_s, buckets, 1.0)
        sql_s, expected = timed(lambda: by_sql(con, spans), clock=time.thread_time)
        writer_s = seal_all(con)
    name = "jar-a-wall-1"
    with open_read(folder) as reader:
        sealed_s, found = timed(
            lambda: reader.series(name, AT_S, to_s, buckets, every_s=1.0), clock=time.thread_time
        )
    equal = [(one.low, one.high) for one in found] == expected
    return Curves(sql_s=sql_s, sealed_s=sealed_s, equal=equal, writer_s=writer_s)


# a bench of a year


@dataclass
class Year:
    """Burns of four hours, of 16 channels at 1 Hz, and what reading them takes."""

    readings: int = 0
    estimates: int = 0
    bytes: int = 0
    made_s: float = 0.0
    open_s: float = 0.0
    curves_s: float = 0.0  # all channels of one burn, 1000 buckets each
    svg_s: float = 0.0  # the page's curve of one burn
    verify_s: float = 0.0
    parts: dict[str, int] | None = None  # of the chunks themselves, by table
    heads: int = 0  # what else is stored of chunks

    @property
    def bytes_a_reading(self):
        return self.bytes / self.readings

    @property
    def sealed_bytes(self):
        return (sum(self.parts.values()) + self.heads) / (self.readings - sealing.BLOCK_ROWS)


class Sealed:
    """Rows of one table, sealed in blocks as they come."""

    def __init__(self, con, table):
        self.con = con
        self.table = table
        self.rows = []
        self.first = 1

    def add(self, rows: Iterator[tuple]):
        """Rows in order of arrival: channel, then the columns; their ids are put in."""
        self.rows.extend(rows)
        while len(self.rows) > sealing.BLOCK_ROWS:
            block, self.rows = (
                self.rows[: sealing.BLOCK_ROWS],
                self.rows[sealing.BLOCK_ROWS :],
            )
            zone = sealing.Zone(self.first, self.first + len(block) - 1, 0, 0)
            self.first += len(block)
            place = sealing.OldRows(table=self.table, zones=(zone,))
            sealing.insert(self.con, sealing.packed(place, sorted(block, key=by_channel)))


def by_channel(row):
    return row[0]  # the sort is stable: within a channel in order of arrival


def burn_readings(generator, lit_s, first_id):
    """Of one burn, in order of arrival: jitter of 5 ms, noise of 1 K, two decimals."""
    seconds = np.arange(BURN_S)[:, None] + np.arange(CHANNELS)[None, :] / CHANNELS
    jitter = generator.normal(0.0, 0.005, seconds.shape)
    at_us = np.rint((lit_s + seconds + jitter) * 1e6).astype(np.int64)
    course = 22.0 + 33.0 * (1.0 - np.exp(-seconds / 2400.0))
    values = np.round(course + generator.normal(0.0, 1.0, seconds.shape), 2)
    channels = np.tile(np.arange(1, CHANNELS + 1), BURN_S)
    ids = range(first_id, first_id + channels.size)
    return zip(channels.tolist(), at_us.ravel().tolist(), values.ravel().tolist(), ids, strict=True)


def burn_estimates(generator, lit_s, first_id):
    """Of one burn: values and uncertainties of full precision, as a filter gives them."""
    steps = BURN_S // EVERY_S
    seconds = np.repeat(np.arange(1, steps + 1) * EVERY_S, CHANNELS)
    at_us = (micros(lit_s) + seconds * 1_000_000).tolist()
    course = 22.0 + 33.0 * (1.0 - np.exp(-seconds / 2400.0))
    values = (course + generator.normal(0.0, 0.1, seconds.size)).tolist()
    repeatability = np.abs(generator.normal(0.1, 0.005, seconds.size))
    uncertainty = np.sqrt(repeatability * repeatability + 25.0 / 12.0).tolist()
    channels = np.tile(np.arange(1, CHANNELS + 1), steps).tolist()
    ids = range(first_id, first_id + seconds.size)
    same = [30] * seconds.size
    return zip(
        channels,
        at_us,
        values,
        ["good"] * seconds.size,
        ids,
        repeatability.tolist(),
        uncertainty,
        same,
        [0] * seconds.size,
        strict=True,
    )


def put_burn(con, bench, lit_s):
    """One burn from lighting to out; its id."""
    entry = Lit(at_s=lit_s, entered_s=lit_s, id="lit", station="jar-a", trial="cotton 3, soy")
    outputs = Pipeline(bench, lit_s).step(entry)
    (burn,) = (one for one in outputs if isinstance(one, Burn))
    burn = replace(burn, out_s=lit_s + BURN_S)
    con.execute("INSERT OR IGNORE INTO trial VALUES (?, ?)", (burn.trial, micros(lit_s)))
    con.execute(
        "INSERT INTO burn (id, station, trial, lit_us, settings, body)"
        " SELECT ?, ?, ?, ?, id, ? FROM settings",
        (burn.id, burn.station, burn.trial, micros(lit_s), dump(burn)),
    )
    return burn


def make_year(folder, burns):
    """Write them straight into chunks; the figures so far, and the burns."""
    bench, year = begin(folder), Year()
    generator = np.random.default_rng(2)
    made = []
    begun_s = time.perf_counter()
    with closing(open_to_write(folder / FILE_NAME)) as con:
        readings, estimates = Sealed(con, "reading"), Sealed(con, "estimate")
        for number in range(burns):
            lit_s = AT_S + number * DAY_S / 1.7  # 600 in a year
            with transaction(con):
                made.append(put_burn(con, bench, lit_s))
                readings.add(burn_readings(generator, lit_s, year.readings + 1))
                estimates.add(burn_estimates(generator, lit_s, year.estimates + 1))
            year.readings += BURN_S * CHANNELS
            year.estimates += BURN_S * CHANNELS // EVERY_S
        with transaction(con):
            con.executemany(
                "INSERT INTO reading (channel, at_us, value, id) VALUES (?, ?, ?, ?)",
                readings.rows,
            )
            con.executemany(
                "INSERT INTO estimate (channel, at_us, value, quality, id, repeatability,"
                " standard_uncertainty, used, rejected) VALUES (?, ?, ?, ?, ?, ?, ?, ?, ?)",
                estimates.rows,
            )
    year.made_s = time.perf_counter() - begun_s
    return year, made


def row_bytes():
    """What a reading of a burn takes as a row of a table, in bytes."""
    with tempfile.TemporaryDirectory() as folder:
        path = Path(folder) / FILE_NAME
        with closing(sqlite3.connect(path)) as con, con:
            con.execute("CREATE TABLE reading (id INTEGER PRIMARY KEY, channel, at_us, value)")
            rows = burn_readings(np.random.default_rng(3), AT_S, 1)
            con.executemany(
                "INSERT INTO reading VALUES (?, ?, ?, ?)",
                ((id_, channel, at, value) for channel, at, value, id_ in rows),
            )
            (count,) = con.execute("SELECT count(*) FROM reading").fetchone()
        return path.stat().st_size / count


def year_of(folder, burns):
    """Make a bench of so many burns and read it."""
    year, made = make_year(folder, burns)
    path = folder / FILE_NAME
    year.bytes = path.stat().st_size
    with closing(sqlite3.connect(path)) as con:
        year.parts = dict(con.execute("SELECT of, sum(size) FROM chunk GROUP BY of"))
        (year.heads,) = con.execute(
            "SELECT sum(100 + length(levels)) FROM chunk"  # 100: measured with dbstat
        ).fetchone()

    async def start():
        store = Store(folder)
        found = await store.start(
            settings_text=SETTINGS,
            bench=bench_of(parse(SETTINGS, Path("bench.toml"))),
            started_s=made[-1].out_s + 60.0,
            version="0",
            broker=False,
            on_late=lambda found: None,
        )
        await store.close()
        return found

    year.open_s, _ = timed(lambda: asyncio.run(start()), times=1, clock=time.process_time)

    def curves_of(burn):
        with open_read(folder) as reader:
            spans = Spans.of(burn.lit_s, burn.out_s, BUCKETS, EVERY_S)
            walls = [f"jar-a-wall-{number}" for number in range(1, CHANNELS + 1)]
            return list(reader.several(walls, spans).values())

    some = [made[0], made[len(made) // 2], made[-1]]
    for burn in some:
        took_s, drawn = timed(lambda burn=burn: curves_of(burn), clock=time.process_time)
        full = sum(1 for one in drawn for bucket in one if bucket.low is not None)
        assert full > 0.99 * BUCKETS * CHANNELS, full
        year.curves_s = max(year.curves_s, took_s)
        took_s, svg = timed(
            lambda burn=burn: curve_svg(folder, burn.id, width=960.0),
            clock=time.process_time,
        )
        assert "polyline" in svg or "path" in svg
        year.svg_s = max(year.svg_s, took_s)
    with open_read(folder) as reader:
        damage = Damage()
        year.verify_s, checked = timed(
            lambda: verify(reader._con, damage), times=1, clock=time.process_time
        )
        assert not damage.lines, damage
        assert checked > 0.9 * (year.readings + year.estimates) - 2 * sealing.BLOCK_ROWS
    return year


def main():
    """Print all figures; the exit code says whether one is missed."""
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--estimates", type=int, default=2_000_000)
    parser.add_argument("--burns", type=int, default=6)
    asked = parser.parse_args()
    with tempfile.TemporaryDirectory(dir=".", prefix="bench-sealing-") as folder:
        drawn = curves(Path(folder), asked.estimates)
    tell(
        f"{asked.estimates:,} estimates to {BUCKETS} buckets: GROUP BY over rows"
        f" {drawn.sql_s * 1e3:,.0f} ms, from chunks {drawn.sealed_s * 1e3:,.1f} ms:"
        f" {drawn.ratio:.0f} times faster (to reach {FASTER:.0f}), equal: {drawn.equal}"
    )
    tell(
        f"longest step of the writer: {drawn.writer_s * 1e3:.0f} ms (at most {WRITER_S * 1e3:.0f})"
    )
    with tempfile.TemporaryDirectory(dir=".", prefix="bench-sealing-") as folder:
        year = year_of(Path(folder), asked.burns)
    tell(
        f"{asked.burns} burns, {year.readings:,} readings and {year.estimates:,} estimates in"
        f" {year.bytes / 2**20:,.0f} MB: {year.bytes_a_reading:.2f} bytes a reading (at most"
        f" {MOST_BYTES}); {year.parts['reading'] / year.readings:.2f} of them for the reading"
        f" itself, {year.parts['estimate'] / year.estimates:.2f} for each estimate;"
        f" made in {year.made_s:.0f} s"
    )
    tell(
        f"opened in {year.open_s:.2f} s (at most {OPEN_S}); {CHANNELS} curves of a burn in"
        f" {year.curves_s:.2f} s (at most {DRAW_S}), the page's drawing in {year.svg_s:.2f} s;"
        f" every chunk verified in {year.verify_s:.1f} s"
    )
    told = figures.tell(
        Figure(
            what="bytes at rest a sealed reading, with its share of the estimates, "
            f"{asked.burns} burns",
            baseline=f"as rows: {row_bytes():.1f}",
            measured=f"{year.sealed_bytes:.2f} (the whole file {year.bytes_a_reading:.2f}: the"
            " last block of each table is rows)",
            to_reach=f"{MOST_BYTES:.0f}",
            met=year.sealed_bytes <= MOST_BYTES,
        )
    )
    met = not told and drawn.equal and drawn.ratio >= FASTER and drawn.writer_s <= WRITER_S
    return 0 if met and year.open_s <= OPEN_S and year.curves_s <= DRAW_S else 1


if __name__ == "__main__":
    sys.exit(main())
