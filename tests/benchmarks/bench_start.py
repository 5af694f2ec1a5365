"""How long a start takes: `--help`, and `run` until page and port are open.

Wall time, the shortest of several, beside `python -c pass`; and processor time, which other work
hardly touches. The first of them compiles what was not. Run: python -m tests.benchmarks.bench_start
"""

import resource
import subprocess
import sys
import tempfile
import time
from collections.abc import Callable
from pathlib import Path

from tests.benchmarks import wide_bench
from tests.benchmarks.figures import Figure, cpu_s, tell
from tests.support.process_bench import BenchProcess

TIMES = 7
HELP_S, OPEN_S = 0.2, 0.7


def command(*words: str) -> tuple[float, float]:
    """Wall and processor time of a command of Python, in seconds."""
    before, begun_s = resource.getrusage(resource.RUSAGE_CHILDREN), time.perf_counter()
    subprocess.run([sys.executable, *words], stdout=subprocess.DEVNULL, check=True)
    took_s, after = time.perf_counter() - begun_s, resource.getrusage(resource.RUSAGE_CHILDREN)
    return took_s, after.ru_utime + after.ru_stime - before.ru_utime - before.ru_stime


def opened() -> tuple[float, float]:
    """The same of `wickbench run`, until its page answers and its instrument's port is held."""
    text = wide_bench.configuration(16)
    with tempfile.TemporaryDirectory() as name, BenchProcess(Path(name), text) as bench:
        begun_s = time.perf_counter()
        bench.start(cold=True)
        while not bench.port.opened:
            time.sleep(0.002)
        took_s = time.perf_counter() - begun_s
        return took_s, cpu_s(bench.process.pid)


def shortest(work: Callable[[], tuple[float, float]]) -> tuple[float, float]:
    """The least wall time and the least processor time of several runs."""
    walls_s, cpus_s = zip(*(work() for _ in range(TIMES)), strict=True)
    return min(walls_s), min(cpus_s)


def main() -> int:
    """Tell the figures."""
    bare_s, bare_cpu_s = shortest(lambda: command("-c", "pass"))
    baseline = f"python -c pass: {bare_s * 1e3:.0f} ms, {bare_cpu_s * 1e3:.0f} of a processor"
    helped_s, helped_cpu_s = shortest(lambda: command("-m", "logger", "--help"))
    open_s, open_cpu_s = shortest(opened)
    return tell(
        *(
            Figure(
                what=what,
                baseline=baseline,
                measured=f"{wall_s * 1e3:.0f} ms, {processor_s * 1e3:.0f} of a processor",
                to_reach=f"{reach_s * 1e3:.0f} ms",
                met=wall_s <= reach_s,
            )
            for what, wall_s, processor_s, reach_s in (
                ("`--help`", helped_s, helped_cpu_s, HELP_S),
                ("`run` until its ports are open", open_s, open_cpu_s, OPEN_S),
            )
        )
    )


if __name__ == "__main__":
    sys.exit(main())
