"""The plainest logger there is, the baseline of two benchmarks: read a line, float, append to CSV.

`python -m tests.benchmarks.bare_loop SOURCE OUT LINES` reads so many lines of comma separated
numbers from a port or file, and writes one row for each number, flushed once a second.
"""

import sys
import time
from pathlib import Path


def main(source: Path, out: Path, lines: int) -> None:
    """Log `lines` lines."""
    flushed_s = time.monotonic()
    with source.open("rb", buffering=65_536) as port, out.open("w", encoding="utf-8") as file:
        for _ in range(lines):
            cells = port.readline().split(b",")
            at_s = time.time()
            for number, cell in enumerate(cells):
                file.write(f"{at_s},{number},{float(cell)}\n")
            if at_s - flushed_s > 1.0:
                file.flush()
                flushed_s = at_s


if __name__ == "__main__":
    main(Path(sys.argv[1]), Path(sys.argv[2]), int(sys.argv[3]))
