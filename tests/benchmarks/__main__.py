"""All benchmarks in turn, each against its named baseline: `python -m tests.benchmarks [NAME...]`.

Each runs in a process of its own, so that none inherits the memory or the caches of another. The
long ones against simulated truth are run with fewer burns; `make bench-truth` has them whole.
"""

import subprocess
import sys
import time
from pathlib import Path

FOLDER = Path(__file__).parent
APART = {"bench_truth", "bench_worlds", "bench_series"}  # minutes: targets of their own
FEWER = {"bench_forecast": ["--burns", "20", "--first", "1000"]}  # not its final seeds


def main(asked: list[str]) -> int:
    """Run those that were asked for, or all; returns the exit code."""
    known = sorted(path.stem for path in FOLDER.glob("bench_*.py"))
    chosen = [f"bench_{name.removeprefix('bench_')}" for name in asked]
    strangers = sorted(set(chosen) - set(known))
    if strangers:
        sys.stderr.write(f"no benchmark {', '.join(strangers)}; there are {', '.join(known)}\n")
        return 2
    failed = []
    for name in chosen or [name for name in known if name not in APART]:
        sys.stdout.write(f"\n== {name}\n")
        sys.stdout.flush()
        begun_s = time.monotonic()
        command = [sys.executable, "-m", f"tests.benchmarks.{name}", *FEWER.get(name, [])]
        if subprocess.run(command, cwd=FOLDER.parent.parent, check=False).returncode:
            failed.append(name)
        sys.stdout.write(f"({time.monotonic() - begun_s:.0f} s)\n")
    if failed:
        sys.stderr.write(f"\nmissed a figure or failed: {', '.join(failed)}\n")
    return 1 if failed else 0


if __name__ == "__main__":
    sys.exit(main(sys.argv[1:]))
