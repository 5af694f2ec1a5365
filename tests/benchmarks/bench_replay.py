"""Replay of a million readings, 16 channels in 4 stations that are lit for 17 hours.

Processor time, against the plainest logger on the same numbers. `--readings N` for fewer.
Run: python -m tests.benchmarks.bench_replay
"""

import argparse
import subprocess
import sys
import tempfile
from dataclasses import dataclass
from pathlib import Path

from logger.timestamps import rfc3339
from tests.benchmarks import wide_bench
from tests.benchmarks.figures import Figure, tell

CHANNELS = 16
MILLION = 1_000_000
WITHIN_S = 40.0  # for a million
MOST_MB = 120.0


@dataclass(frozen=True)
class Used:
    """What a process took."""

    cpu_s: float
    peak_mb: float


def used_by(command: list[str], out: Path) -> Used:
    """Run it, its lines to `out`."""
    # A child of its own: the most memory of all children so far would be no figure of this one.
    measure = (
        "import resource, subprocess, sys\n"
        "subprocess.run(sys.argv[2:], stdout=open(sys.argv[1], 'w'), check=True)\n"
        "used = resource.getrusage(resource.RUSAGE_CHILDREN)\n"
        "print(used.ru_utime + used.ru_stime, used.ru_maxrss * 1024 / 1e6)"
    )
    command = [sys.executable, "-c", measure, str(out), *command]
    done = subprocess.run(command, capture_output=True, text=True, check=True)
    cpu_s, peak_mb = map(float, done.stdout.split())
    return Used(cpu_s, peak_mb)


def replayed(folder: Path, readings: int) -> Used:
    """What `wickbench replay` takes for so many."""
    config, file = folder / "bench.toml", folder / "readings.csv"
    config.write_text(wide_bench.configuration(CHANNELS).format(folder=folder))
    wide_bench.write_csv(file, CHANNELS, readings)
    lit = ["--lit", rfc3339(wide_bench.BEGUN_S + 1.0), "--config", str(config)]
    return used_by(
        [sys.executable, "-m", "logger", "replay", str(file), *lit], folder / "said.jsonl"
    )


def bare(folder: Path, readings: int) -> Used:
    """What the bare loop takes for so many, as lines of a port."""
    lines, rows = readings // CHANNELS, wide_bench.seconds(CHANNELS, readings // CHANNELS)
    file = folder / "lines.csv"
    with file.open("w", encoding="utf-8") as port:
        for _ in range(lines):
            port.write(",".join(map(str, next(rows))) + "\n")
    command = [sys.executable, "-m", "tests.benchmarks.bare_loop", str(file)]
    return used_by([*command, str(folder / "rows.csv"), str(lines)], folder / "none")


def main() -> int:
    """Tell the figures."""
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--readings", type=int, default=MILLION)
    count = parser.parse_args().readings
    with tempfile.TemporaryDirectory() as name:
        plain, ours = bare(Path(name), count), replayed(Path(name), count)
        few = replayed(Path(name), count // 10)
    baseline = f"the same loop over the file: {plain.cpu_s:.1f} s"
    return tell(
        Figure(
            what=f"replay of {count:,} readings, {count / CHANNELS / 3600.0:.1f} h lit",
            baseline=baseline,
            measured=f"{ours.cpu_s:.0f} s of a processor ({ours.cpu_s / plain.cpu_s:.0f} times)",
            to_reach=f"{WITHIN_S * count / MILLION:.0f} s",
            met=ours.cpu_s <= WITHIN_S * count / MILLION,
        ),
        Figure(
            what="... and memory at most",
            baseline=f"of a tenth of them: {few.peak_mb:.0f} MB",
            measured=f"{ours.peak_mb:.0f} MB",
            to_reach=f"{MOST_MB:.0f} MB, flat",
            met=ours.peak_mb <= MOST_MB,
        ),
    )


if __name__ == "__main__":
    sys.exit(main())
