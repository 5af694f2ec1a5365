"""Zooming a chart of a whole station: every step from weeks of readings to single ones.

Burns of four hours with 16 places at 1 Hz: `--burns 44` is ten million readings, and takes some
minutes to make. Each step asks for all places at 600 buckets, as the page of curves does; times are
of the processor. Run as a program: `python -m tests.benchmarks.bench_zoom [--burns N]`.
"""

import argparse
import sys
import tempfile
import time
from dataclasses import dataclass
from pathlib import Path

from logger.reports.curve_series import CurveSubject
from logger.service import curve_data
from logger.service.core import bench_of
from logger.settings.config_file import parse
from tests.benchmarks.bench_sealing import CHANNELS, SETTINGS, make_year, tell, timed

STEP_S = 0.5  # of the processor for a step, all 16 places of it (our choice: it feels at once)
STATION = CurveSubject(station="jar-a")
POINTS = 600
CLOSER = 4.0  # from step to step


@dataclass(frozen=True)
class Step:
    """What one view took."""

    span_s: float
    took_s: float
    figures: int  # buckets, or readings, with something in them


def steps(folder, burns, step_places=CHANNELS):
    """Every step down to a view of single readings; and how many readings there are."""
    year, made = make_year(folder, burns)
    bench = bench_of(parse(SETTINGS, Path("bench.toml")))
    names = [one.name for one in bench.channels][:step_places]
    from_s, to_s = made[0].lit_s, made[-1].out_s
    middle_s = made[len(made) // 2].lit_s + 7200.0
    found = []
    while to_s - from_s > curve_data.SINGLE_S:
        took_s, series = timed(
            lambda span=(from_s, to_s): curve_data.curve_series(
                folder, STATION, bench, channels=names, span_s=span, points=POINTS
            ),
            clock=time.process_time,
        )
        full = sum(high is not None for one in series["series"] for high in one["max"])
        found.append(Step(to_s - from_s, took_s, full))
        half_s = (to_s - from_s) / 2.0 / CLOSER
        from_s, to_s = middle_s - half_s, middle_s + half_s
    span = (middle_s, middle_s + 60.0)
    took_s, single = timed(
        lambda: curve_data.readings_one_by_one(folder, STATION, bench, channels=names, span_s=span),
        clock=time.process_time,
    )
    found.append(Step(60.0, took_s, sum(len(one["values"]) for one in single["places"])))
    return year.readings, found


def main():
    """Print all steps; the exit code says whether one is missed."""
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--burns", type=int, default=6)
    asked = parser.parse_args()
    with tempfile.TemporaryDirectory(dir=".", prefix="bench-sealing-") as folder:
        readings, found = steps(Path(folder), asked.burns)
    tell(f"{readings:,} readings of {CHANNELS} places; at most {STEP_S} s a step")
    for one in found:
        tell(f"  {one.span_s:12,.0f} s in view: {one.took_s * 1e3:6.0f} ms, {one.figures} figures")
    return 0 if all(one.took_s <= STEP_S for one in found) else 1


if __name__ == "__main__":
    sys.exit(main())
