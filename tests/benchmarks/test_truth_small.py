"""Four short burns against a known truth, with bars so wide that only a real fault misses them.

The figures themselves are for the long run: `python tests/benchmarks/bench_truth.py`.
"""

import math
import statistics

import numpy as np
import pytest

from tests.benchmarks.bench_truth import Result, run
from tests.benchmarks.bench_worlds import table
from tests.support.worlds import bursts, wander

SEED = 700_000  # neither the long run's nor one used in development


@pytest.fixture(scope="module")
def result() -> Result:
    return run(4, SEED, duration_s=2_400)


def test_every_figure_is_near_its_bar(result):
    missed = [str(figure) for figure in result.figures(widen=2.0) if not figure.met]
    assert missed == []


def test_the_estimate_beats_every_plain_average_once_there_are_hits(result):
    for share, burns in result.outcomes.items():
        if share > 0.0:
            ours = statistics.fmean(burn.squares["estimate"] for burn in burns)
            for other in ("plain mean", "median", "Hampel"):
                theirs = statistics.fmean(burn.squares[other] for burn in burns)
                assert ours < theirs / 25.0  # an error five times as small


@pytest.mark.parametrize(
    "part",
    ["draughts of", "read every 10 s", "climb of 0.3 K/s", "step of", "10% dropouts", "freezes"],
)
def test_in_other_worlds_every_figure_is_near_its_bar(part):
    missed = [str(figure) for figure in table(2, SEED, part) if not figure.met]
    assert missed == []


def test_bursts_cover_their_share_and_last_four_readings():
    hits, number = bursts(np.random.default_rng(1), 200_000, 0.30)
    assert hits.mean() == pytest.approx(0.30, abs=0.02)
    assert hits.sum() / len(np.unique(number[hits])) == pytest.approx(4.0, rel=0.05)


def test_draughts_are_half_a_kelvin_and_last_150_s():
    x = 0.5 * wander(np.random.default_rng(2), 400_000, 1.0 / 150.0)
    assert x.std() == pytest.approx(0.5, rel=0.05)
    assert np.corrcoef(x[:-150], x[150:])[0, 1] == pytest.approx(math.exp(-1.0), abs=0.06)
