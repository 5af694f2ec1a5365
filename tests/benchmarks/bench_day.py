"""24 hours of a bench: does it grow? The whole service in this process, its clock stepped.

Four channels at 1 Hz; a candle is lit for four hours, three times. Memory and descriptors are
looked at each hour, the database as well. `--hours N` for fewer. Run:
python -m tests.benchmarks.bench_day
"""

import argparse
import asyncio
import gc
import sys
import tempfile
import time
from dataclasses import dataclass
from pathlib import Path

from logger import settings
from logger.burn.entries import Lit, Out
from logger.clock import SteppedClock
from logger.quantities import Reading
from logger.service.run import run
from logger.service.running_service import Service
from logger.store.opening import FILE_NAME
from logger.store.sealer import Sealer
from tests.benchmarks import wide_bench
from tests.benchmarks.figures import Figure, descriptors, rss_mb, tell

CHANNELS = 4
HOUR_S = 3600
LIT_H, OUT_H = (0, 8, 16), (4, 12, 20)
SAVED_EVERY_S = 30  # of bench time: more than that the recorder need not hold
GROWTH_MB = 2.0  # after the first hour
WARMED_H = 1


@dataclass(frozen=True)
class Hour:
    """A bench at the end of an hour."""

    rss_mb: float
    descriptors: int
    database_mb: float  # with its log
    cpu_s: float  # that the hour took


def database_mb(data: Path) -> float:
    """All files of the database."""
    return sum(one.stat().st_size for one in data.glob(f"{FILE_NAME}*")) / 1e6


async def hours(folder: Path, count: int) -> list[Hour]:
    """So many hours of a bench in `folder`."""
    file = folder / "bench.toml"
    text = wide_bench.configuration(CHANNELS).format(folder=folder)
    file.write_text(text.replace('port = "', 'silent_after = "1 h"\nport = "'))
    loaded = settings.load(file)
    clock = SteppedClock(wide_bench.BEGUN_S)
    seen: list[Hour] = []

    async def body(service: Service) -> None:
        sealer = Sealer(service.store, loaded.bench.data)  # the service's looks each real minute
        for hour in range(count):
            begun_s = time.process_time()
            await turn(service, clock, hour)
            rows = wide_bench.seconds(CHANNELS, HOUR_S, warm=hour % 8 < 4)
            for second in range(HOUR_S):
                at_s = clock.now_s()
                for name, value in zip(wide_bench.names(CHANNELS), next(rows), strict=True):
                    service.engine.put(Reading(channel=name, value=value, at_s=at_s))
                await clock.advance(1.0)
                if second % SAVED_EVERY_S == 0:
                    await service.recorder.saved()
            await service.recorder.saved()
            while await sealer.step():
                pass
            gc.collect()
            seen.append(
                Hour(
                    rss_mb(),
                    descriptors(),
                    database_mb(loaded.bench.data),
                    time.process_time() - begun_s,
                )
            )
            sys.stdout.write(f"hour {hour + 1}: {seen[-1]}\n")
            sys.stdout.flush()

    await run(loaded, clock, body)
    return seen


async def turn(service: Service, clock: SteppedClock, hour: int) -> None:
    """Light the candle, or record it out, where that is due."""
    at_s = clock.now_s()
    if hour in LIT_H:
        lit = Lit(at_s=at_s, entered_s=at_s, id=f"lit-{hour}", station="jar-0", trial="cedar-6")
        await service.enter(lit, sure=True)
    if hour in OUT_H:
        out = Out(at_s=at_s, entered_s=at_s, id=f"out-{hour}", station="jar-0")
        await service.enter(out, sure=True)


def main() -> int:
    """Tell the figures."""
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--hours", type=int, default=24)
    count = parser.parse_args().hours
    with tempfile.TemporaryDirectory() as name:
        seen = asyncio.run(hours(Path(name), count))
    first, last = seen[WARMED_H - 1], seen[-1]
    grown_mb = last.rss_mb - first.rss_mb
    # Rows are sealed a while after they came: the database is compared from then on.
    half, whole = seen[count // 2 - 1].database_mb, last.database_mb
    what = f"{count} h of a bench, {CHANNELS} channels at 1 Hz"
    same = len({one.descriptors for one in seen}) == 1
    return tell(
        Figure(
            what=f"{what}: memory gained after the first hour",
            baseline=f"after that hour: {first.rss_mb:.1f} MB",
            measured=f"{grown_mb:.1f} MB",
            to_reach=f"{GROWTH_MB:.0f} MB",
            met=grown_mb <= GROWTH_MB,
        ),
        Figure(
            what="... descriptors",
            baseline=f"after the first hour: {first.descriptors}",
            measured=f"{min(h.descriptors for h in seen)} to {max(h.descriptors for h in seen)}",
            to_reach="constant",
            met=same,
        ),
        Figure(
            what="... database",
            baseline=f"after half of it: {half:.2f} MB",
            measured=f"{whole:.2f} MB, {whole / half:.2f} times",
            to_reach="linear",
            met=whole / half < 2.2,
        ),
    )


if __name__ == "__main__":
    sys.exit(main())
