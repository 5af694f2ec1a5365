"""The figures of a run: what was measured, beside its baseline and what is to be reached.

A benchmark tells each figure here; `python -m tests.benchmarks` gathers those of all into a table.
"""

import json
import os
import sys
from collections.abc import Callable
from dataclasses import asdict, dataclass
from pathlib import Path

FILE = "WICKBENCH_FIGURES"  # where to add them; unset: a benchmark is run by itself

# An installed program is compiled once: what a benchmark starts must not compile it each time.
os.environ.pop("PYTHONDONTWRITEBYTECODE", None)


@dataclass(frozen=True, kw_only=True)
class Figure:
    """One line of the table."""

    what: str
    baseline: str  # by name, with its own figure of the same run
    measured: str
    to_reach: str
    met: bool | None = None  # None: nothing is to be reached

    def line(self) -> str:
        """As it is printed."""
        met = {True: "met", False: "MISSED", None: ""}[self.met]
        return f"{self.what}: {self.measured}  [{self.baseline}; to reach {self.to_reach}] {met}"


def tell(*figures: Figure) -> int:
    """Print them, and add them to the table of the run; 1 where one is missed."""
    for one in figures:
        sys.stdout.write(f"{one.line()}\n")
        sys.stdout.flush()
        if path := os.environ.get(FILE):
            with Path(path).open("a", encoding="utf-8") as file:
                file.write(json.dumps(asdict(one)) + "\n")
    return int(any(one.met is False for one in figures))


def table(figures: list[Figure]) -> str:
    """In Markdown."""
    rows = [("what", "baseline in the same run", "measured", "to reach", "")]
    rows += [("---",) * 5]
    words = {True: "met", False: "**missed**", None: ""}
    rows += [
        (one.what, one.baseline, one.measured, one.to_reach, words[one.met]) for one in figures
    ]
    return "".join(f"| {' | '.join(row)} |\n" for row in rows)


def gathered(path: Path) -> list[Figure]:
    """Those that benchmarks have added to `path`."""
    if not path.exists():
        return []
    return [Figure(**json.loads(line)) for line in path.read_text(encoding="utf-8").splitlines()]


def cpu_s(pid: int) -> float:
    """Processor time of a process so far (proc(5): utime and stime, fields 14 and 15)."""
    fields = Path(f"/proc/{pid}/stat").read_text().rpartition(")")[2].split()
    return (int(fields[11]) + int(fields[12])) / os.sysconf("SC_CLK_TCK")


def rss_mb(pid: int | str = "self") -> float:
    """Memory of a process that is in use now (proc(5): VmRSS), in MB of 10^6 bytes."""
    return _of_proc(pid, "status", "VmRSS") * 1024.0 / 1e6


def written_bytes(pid: int | str = "self") -> float:
    """What a process has handed to files and sockets so far (proc(5): wchar)."""
    return _of_proc(pid, "io", "wchar")


def to_disk_bytes(pid: int | str = "self") -> float:
    """What of it went towards a disk (proc(5): write_bytes)."""
    return _of_proc(pid, "io", "write_bytes")


def descriptors(pid: int | str = "self") -> int:
    """How many are open."""
    return len(list(Path(f"/proc/{pid}/fd").iterdir()))


def _of_proc(pid: int | str, file: str, key: str) -> float:
    for line in Path(f"/proc/{pid}/{file}").read_text().splitlines():
        name, _, value = line.partition(":")
        if name == key:
            return float(value.split()[0])
    raise LookupError(f"no {key} in /proc/{pid}/{file}")


def best(work: Callable[[], float], times: int) -> float:
    """The least of several runs: others use the machine too."""
    return min(work() for _ in range(times))
