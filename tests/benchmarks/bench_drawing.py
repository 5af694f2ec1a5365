"""The page's drawing of a past burn: from columns of the store, and from an object an estimate.

Four hours of 16 channels, while they are rows and once they are sealed. Times are of the processor,
so that other work on the machine does not count. Run as a program:
`python tests/benchmarks/bench_drawing.py`.
"""

import sys
import tempfile
import time
from contextlib import closing
from dataclasses import dataclass
from pathlib import Path

import numpy as np

from logger.reports import curve
from logger.reports.place_line import PlaceLine
from logger.service import records
from logger.service.burn_curve import curve_svg
from logger.store import sealing, zones
from logger.store.opening import FILE_NAME, open_to_write
from logger.store.queries import open_read
from logger.store.schema import transaction
from tests.benchmarks.bench_sealing import (
    AT_S,
    BURN_S,
    begin,
    burn_estimates,
    put_burn,
    seal_all,
    tell,
    timed,
)

DRAW_S = 0.3  # what is asked of any burn
WIDTH_PX = 960.0


@dataclass(frozen=True)
class Drawing:
    """The same drawing both ways: seconds of the processor."""

    objects_s: float
    columns_s: float
    equal: bool

    @property
    def ratio(self):
        return self.objects_s / self.columns_s


def by_objects(folder, burn_id):
    """As it was drawn before: out of all that a record of the burn is made of."""
    with open_read(folder) as reader:
        story = records.story_of(reader, records.burn_of(reader, burn_id))
    drawn = curve.of(
        story.burn,
        [PlaceLine.of(one) for one in story.series],
        until_s=story.until_s,
        wall=story.limits.of(story.burn.material),
        words=story.bench.words,
        zone=story.zone,
        alarms=story.alarms,
    )
    return curve.draw(drawn, width=WIDTH_PX)


def drawing(folder, burn_id):
    """The shortest of some drawings each."""
    objects_s, expected = timed(lambda: by_objects(folder, burn_id), clock=time.process_time)
    columns_s, found = timed(
        lambda: curve_svg(folder, burn_id, width=WIDTH_PX), clock=time.process_time
    )
    return Drawing(objects_s=objects_s, columns_s=columns_s, equal=found == expected)


def drawings(folder):
    """Of a burn in rows, and of the same once it is sealed."""
    bench = begin(folder)
    with closing(open_to_write(folder / FILE_NAME)) as con:
        with transaction(con):
            burn = put_burn(con, bench, AT_S)
        rows = list(burn_estimates(np.random.default_rng(2), AT_S, 1))
        rows.append(
            (
                1,
                rows[-1][1] + int(2e6 * BURN_S + 1e6 * sealing.AFTER_S),
                22.0,
                "good",
                len(rows) + 1,
                0.1,
                0.3,
                30,
                0,
            )
        )  # fmt: skip - the newest stays a row
        for first in range(0, len(rows), zones.ZONE_ROWS):
            with transaction(con):
                con.executemany(
                    "INSERT INTO estimate (channel, at_us, value, quality, id, repeatability,"
                    " standard_uncertainty, used, rejected) VALUES (?, ?, ?, ?, ?, ?, ?, ?, ?)",
                    rows[first : first + zones.ZONE_ROWS],
                )
                zones.close(con, "estimate")
        in_rows = drawing(folder, burn.id)
        seal_all(con)
        (sealed,) = con.execute("SELECT coalesce(sum(rows), 0) FROM chunk").fetchone()
    assert sealed > len(rows) / 2, sealed
    return in_rows, drawing(folder, burn.id)


def main():
    """Print both; the exit code says whether one is missed."""
    met = True
    with tempfile.TemporaryDirectory(dir=".", prefix="bench-drawing-") as folder:
        for name, found in zip(("in rows", "sealed"), drawings(Path(folder)), strict=True):
            tell(
                f"a burn {name}: from an object an estimate {found.objects_s:.2f} s, from columns"
                f" {found.columns_s:.2f} s (at most {DRAW_S}): {found.ratio:.1f} times faster,"
                f" equal: {found.equal}"
            )
            met = met and found.equal and found.columns_s <= DRAW_S
    return 0 if met else 1


if __name__ == "__main__":
    sys.exit(main())
