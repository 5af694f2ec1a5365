"""How cost grows: over channels, and over burns that are stored.

Channels: processor time of a second of the pipeline, all stations lit. Burns: a start until its
page answers, and the page that lists them. Run: python -m tests.benchmarks.bench_growth
"""

import argparse
import sys
import tempfile
import time
import urllib.request
from pathlib import Path

from logger.burn.entries import Lit
from logger.pipeline import Pipeline, with_ticks
from logger.quantities import Reading
from logger.service.core import bench_of
from logger.settings.config_file import parse
from logger.store.opening import FILE_NAME
from tests.benchmarks import wide_bench
from tests.benchmarks.figures import Figure, cpu_s, rss_mb, tell
from tests.support import many_burns
from tests.support.process_bench import BenchProcess
from tests.support.waiting import until

CHANNELS, SECONDS = (1, 4, 16, 64), 600
BURNS = (1, 10, 100, 1000)
NO_WORSE = 1.3  # than linear: times are of a busy machine
FEWER_ESTIMATES_S = 600.0  # from one to the next: a start reads burns, not their series


def lit_bench(channels: int, seconds: int) -> tuple[Pipeline, list[Lit | Reading]]:
    """A bench so wide, and its inputs: every station is lit at once."""
    text = wide_bench.configuration(channels).format(folder="/nonexistent")
    bench, names = bench_of(parse(text, Path("bench.toml"))), wide_bench.names(channels)
    pipeline, rows = Pipeline(bench, wide_bench.BEGUN_S), wide_bench.seconds(channels, seconds)
    inputs: list[Lit | Reading] = []
    for station in bench.stations:
        at_s = wide_bench.BEGUN_S
        inputs.append(
            Lit(at_s=at_s, entered_s=at_s, id=station.name, station=station.name, trial="cedar-6")
        )
    for second in range(seconds):
        at_s = wide_bench.BEGUN_S + second + 0.5
        inputs += [
            Reading(channel=name, value=value, at_s=at_s)
            for name, value in zip(names, next(rows), strict=True)
        ]
    return pipeline, inputs


def second_us(channels: int, seconds: int = SECONDS) -> float:
    """Processor time of one second of a lit bench, in microseconds."""
    pipeline, inputs = lit_bench(channels, seconds)
    begun_s = time.process_time()
    for item in with_ticks(inputs):
        pipeline.step(item)
    return (time.process_time() - begun_s) / seconds * 1e6


def started(burns: int) -> tuple[float, float, float, float]:
    """Of a bench with so many burns: seconds and MB of a start, ms of `/burns`, MB on disk."""
    text = wide_bench.configuration(4)
    with tempfile.TemporaryDirectory() as name, BenchProcess(Path(name), text) as bench:
        bench.start(cold=True)
        lit = {"station": "jar-0", "trial": "cedar-6", "at": "6 h ago"}
        status, said = bench.post("/api/burns", **lit)
        assert status < 300, said
        status, out = bench.post(f"/api/burns/{said['burn']}/out", at="2 h ago")
        assert status < 300, out
        bench.terminate()
        # The others a day before each other, and fewer rows of each.
        every_s, day_s = many_burns.EVERY_S, many_burns.DAY_S
        many_burns.EVERY_S, many_burns.DAY_S = FEWER_ESTIMATES_S, -day_s
        try:
            many_burns.repeat(bench.data, said["burn"], burns)
        finally:
            many_burns.EVERY_S, many_burns.DAY_S = every_s, day_s
        bench.start(cold=True)
        until(lambda: bench.text("/") != "", "its page answers")
        used_s, memory_mb = cpu_s(bench.process.pid), rss_mb(bench.process.pid)
        begun_s = time.perf_counter()
        with urllib.request.urlopen(f"{bench.address}/burns") as answer:
            answer.read()
        listed_ms = (time.perf_counter() - begun_s) * 1e3
        return used_s, memory_mb, listed_ms, (bench.data / FILE_NAME).stat().st_size / 1e6


def main() -> int:
    """Tell the figures."""
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--burns", type=int, nargs="*", default=BURNS)
    burns = parser.parse_args().burns
    figures: list[Figure] = []
    second_us(4)  # what is imported at its first use does not count
    first_us = second_us(4)
    for channels in CHANNELS:
        took_us = second_us(channels)
        shares = channels / 4.0
        figures.append(
            Figure(
                what=f"pipeline, a second of {channels} channel{'s' if channels > 1 else ''}",
                baseline=f"4 channels: {first_us:.0f} us",
                measured=f"{took_us:.0f} us, {took_us / channels:.0f} a channel",
                to_reach="no worse than linear",
                met=took_us <= NO_WORSE * first_us * max(shares, 1.0),
            )
        )
    one: tuple[float, float, float, float] | None = None
    for count in burns:
        used_s, memory_mb, listed_ms, disk_mb = found = started(count)
        one = one or found
        figures.append(
            Figure(
                what=f"start with {count:,} burn{'s' if count > 1 else ''} stored",
                baseline=f"of {burns[0]}: {one[0]:.2f} s of a processor, {one[1]:.0f} MB",
                measured=f"{used_s:.2f} s, {memory_mb:.0f} MB; `/burns` in {listed_ms:.0f} ms;"
                f" database {disk_mb:.1f} MB",
                to_reach="no worse than linear",
                met=used_s - one[0] <= NO_WORSE * count * one[0],
            )
        )
    return tell(*figures)


if __name__ == "__main__":
    sys.exit(main())
