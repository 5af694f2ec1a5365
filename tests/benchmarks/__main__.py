"""All benchmarks in turn, each against its named baseline: `python -m tests.benchmarks [NAME...]`.

Each runs in a process of its own, so that none inherits the memory or the caches of another. The
long ones against simulated truth are run with fewer burns; `make bench-truth` has them whole. At
the end comes one table of the figures that are to be reached, and with `--write` it goes into
RESULTS.md with the machine and the date.
"""

import argparse
import os
import platform
import subprocess
import sys
import tempfile
import time
from datetime import UTC, datetime
from pathlib import Path

from tests.benchmarks.figures import FILE, gathered, table

FOLDER = Path(__file__).parent
RESULTS = FOLDER / "RESULTS.md"
COMMAND = "python -m tests.benchmarks table --write"
TABLE = (
    "through",
    "replay",
    "crossing",
    "idle",
    "start",
    "sealing",
    "day",
    "growth",
    "fleet",
    "page",
)
APART = {"bench_truth", "bench_worlds", "bench_series"}  # minutes: targets of their own
FEWER = {
    "bench_forecast": ["--burns", "20", "--first", "1000"],  # not its final seeds
    "bench_page": ["--over", "30"],
}


def machine() -> str:
    """What this runs on, and how busy it is."""
    models = [
        line.partition(":")[2].strip()
        for line in Path("/proc/cpuinfo").read_text(encoding="utf-8").splitlines()
        if line.startswith("model name")
    ]
    return (
        f"{platform.system()} {platform.machine()}, {os.cpu_count()} cores"
        f" ({models[0] if models else 'model not told'}), Python {platform.python_version()},"
        f" load {os.getloadavg()[0]:.1f} at the start"
    )


def run(names: list[str], told: Path) -> list[str]:
    """Run the benchmarks called so; those that missed a figure, or failed."""
    failed = []
    for name in names:
        sys.stdout.write(f"\n== {name}\n")
        sys.stdout.flush()
        begun_s = time.monotonic()
        command = [sys.executable, "-m", f"tests.benchmarks.{name}", *FEWER.get(name, [])]
        environment = {**os.environ, FILE: str(told)}
        root = FOLDER.parent.parent
        if subprocess.run(command, cwd=root, env=environment, check=False).returncode:
            failed.append(name)
        sys.stdout.write(f"({time.monotonic() - begun_s:.0f} s)\n")
    return failed


def main() -> int:
    """Run those that were asked for, or all; returns the exit code."""
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("names", nargs="*", help="`table`: those that make up the table")
    parser.add_argument("--write", action="store_true", help="write RESULTS.md")
    asked = parser.parse_args()
    known = sorted(path.stem for path in FOLDER.glob("bench_*.py"))
    order = [f"bench_{name}" for name in TABLE]
    chosen = [f"bench_{name.removeprefix('bench_')}" for name in asked.names]
    if asked.names == ["table"]:
        chosen = order
    strangers = sorted(set(chosen) - set(known))
    if strangers:
        sys.stderr.write(f"no benchmark {', '.join(strangers)}; there are {', '.join(known)}\n")
        return 2
    here, others = machine(), [name for name in known if name not in {*APART, *order}]
    with tempfile.TemporaryDirectory() as folder:
        told = Path(folder) / "figures"
        failed = run(chosen or [*others, *order], told)
        made = table(gathered(told))
    sys.stdout.write(f"\n{here}\n\n{made}")
    if asked.write:
        head = f"# What was measured\n\nThe table is written by `{COMMAND}`.\n\n"
        _, section, words = RESULTS.read_text(encoding="utf-8").partition("\n## ")  # by hand
        now = f"{datetime.now(UTC):%d %B %Y}, {here}.\n\n{made}"
        RESULTS.write_text(f"{head}{now}{section}{words}", encoding="utf-8")
    if failed:
        sys.stderr.write(f"\nmissed a figure or failed: {', '.join(failed)}\n")
    return 1 if failed else 0


if __name__ == "__main__":
    sys.exit(main())
