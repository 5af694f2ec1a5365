"""The record of a trial of 30 burns: seconds of a processor, memory, and megabytes of the files.

Run with `python -m tests.benchmarks.bench_report [--burns N]`. Each file is made in a process of
its own. The baseline is the records of the same burns, one page each: the trial's record has all
of them and the verdict, and may cost twice as much. Its memory must not grow as all of the burns
together would.
"""

import argparse
import asyncio
import json
import sqlite3
import subprocess
import sys
import tempfile
from pathlib import Path

from tests.support.many_burns import repeat
from tests.support.reported_series import GOOD, SHELF_OF_GOOD, ReportedBench

BURNS = 30
BURN_S = 14_400.0
MOST_RATIO = 2.0
MOST_MB = {"html": 200.0, "pdf": 400.0}  # of memory, the program included (our choice)
MOST_FILE_MB = 10.0  # what a mail takes anywhere (common practice)

MEASURED = """
import json, resource, sys, time
from pathlib import Path
from logger import settings
from logger.reports.document_files import FileForm, document_file
from logger.reports.document_pdf import PaperSize
from logger.service import records
from logger.service.trial_report import report
from logger.service.trial_verdict import Judging
from logger.store.queries import open_read

what, config, trial = sys.argv[1:]
loaded = settings.load(Path(config))
data = loaded.bench.data
begun_s, begun_wall_s, size = time.process_time(), time.monotonic(), 0
if what == "records":
    with open_read(data) as reader:
        burns = reader.burns(trial)
    for burn in burns:
        size += len(records.record_html(data, burn.id).encode())
else:
    made = report(Judging(data), loaded, [trial])
    size = len(document_file(made, FileForm(what), PaperSize.A4))
print(json.dumps({
    "cpu_s": time.process_time() - begun_s,
    "wall_s": time.monotonic() - begun_wall_s,
    "size_mb": size / 1e6,
    "memory_mb": resource.getrusage(resource.RUSAGE_SELF).ru_maxrss / 1024.0,
}))
"""


def trial(folder: Path, burns: int) -> Path:
    """A bench with one trial; its configuration."""
    bench = ReportedBench(folder, BURN_S)
    bench.burn(0, GOOD, 52.0)
    asyncio.run(bench.stored(SHELF_OF_GOOD))
    with sqlite3.connect(bench.data / "bench.sqlite3") as con:
        (first,) = con.execute("SELECT id FROM burn").fetchone()
    con.close()
    repeat(bench.data, first, burns)
    return folder / "bench.toml"


def measured(what: str, config: Path) -> dict[str, float]:
    """Of one process that makes it."""
    command = [sys.executable, "-c", MEASURED, what, str(config), GOOD]
    done = subprocess.run(command, capture_output=True, text=True, check=True)
    return json.loads(done.stdout)


def main() -> int:
    """Print all; the exit code says whether one is missed."""
    parser = argparse.ArgumentParser()
    parser.add_argument("--burns", type=int, default=BURNS)
    burns = parser.parse_args().burns
    met = True
    with tempfile.TemporaryDirectory(prefix="bench-report-") as folder:
        config = trial(Path(folder), burns)
        baseline = measured("records", config)
        tell(f"{burns} burns, each record by itself: {told(baseline)}")
        for form, most_mb in MOST_MB.items():
            found = measured(form, config)
            ratio = found["cpu_s"] / baseline["cpu_s"]
            tell(f"one record as {form}: {told(found)}; {ratio:.1f} of the baseline")
            tell(
                f"  at most {MOST_RATIO}; {most_mb:.0f} MB of memory, {MOST_FILE_MB:.0f} MB of file"
            )
            met = met and ratio <= MOST_RATIO
            met = met and found["memory_mb"] <= most_mb and found["size_mb"] <= MOST_FILE_MB
    return 0 if met else 1


def tell(line: str) -> None:
    """A line of the result."""
    sys.stdout.write(f"{line}\n")
    sys.stdout.flush()


def told(found: dict[str, float]) -> str:
    """One line."""
    return (
        f"{found['cpu_s']:.1f} s of processor, {found['wall_s']:.1f} s in all, "
        f"{found['size_mb']:.1f} MB, memory {found['memory_mb']:.0f} MB"
    )


if __name__ == "__main__":
    sys.exit(main())
