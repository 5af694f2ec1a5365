"""A short bench of sealing: the same figures, in some seconds.

The figures themselves are for the long run: `python tests/benchmarks/bench_sealing.py`.
"""

import pytest

from tests.benchmarks.bench_drawing import drawings
from tests.benchmarks.bench_sealing import DRAW_S, OPEN_S, curves, year_of
from tests.benchmarks.bench_zoom import STEP_S, steps


def test_a_curve_over_weeks_is_the_one_of_the_rows_and_much_faster(tmp_path):
    drawn = curves(tmp_path, 200_000, buckets=80)
    assert drawn.equal
    assert drawn.ratio > 5.0  # of so few, with their uncertainty; 50 for ten million


def test_a_few_burns_fit_open_and_draw(tmp_path):
    year = year_of(tmp_path, 2)
    assert year.parts["reading"] / (year.readings - 16_384) < 4.0
    assert year.parts["estimate"] / (year.estimates - 16_384) < 16.0
    assert year.sealed_bytes == pytest.approx(5.9, abs=0.3)
    assert year.open_s < OPEN_S
    assert year.curves_s < DRAW_S


def test_a_page_draws_a_burn_from_columns_alike_and_faster(tmp_path):
    for found in drawings(tmp_path):
        assert found.equal
        assert found.ratio > 1.5  # 3 and 6 on an idle machine
        assert found.columns_s < DRAW_S


def test_every_step_of_zooming_is_quick_down_to_single_readings(tmp_path):
    readings, found = steps(tmp_path, 1, step_places=4)
    assert readings == 230_400
    assert [one.figures > 0 for one in found] == [True] * len(found)
    assert found[-1].figures == pytest.approx(4 * 60, abs=4)
    assert max(one.took_s for one in found) < STEP_S
