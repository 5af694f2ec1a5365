"""Two dozen burns against a known truth, with bars so wide that only a real fault misses them.

The figures themselves are for the long run: `python tests/benchmarks/bench_forecast.py`.
"""

import math

import numpy as np
import pytest

from tests.benchmarks.bench_forecast import MINUTES, Kind, draughts, figures, lagged, run

SEED = 900_000  # neither the long run's nor one used in development


@pytest.fixture(scope="module", params=[True, False], ids=["room", "no-room"])
def burns(request):
    return request.param, run(Kind("small", room=request.param), 24, SEED)


def test_every_figure_is_near_its_bar(burns):
    room, outcomes = burns
    table = figures(Kind("small", room=room), outcomes, widen=1.5)
    assert [str(figure) for figure in table if not figure.met] == []


def test_the_forecast_beats_what_is_simpler(burns):
    _, outcomes = burns
    for minutes in MINUTES:
        rms = {
            method: math.sqrt(np.mean([burn[minutes].errors[method] ** 2 for burn in outcomes]))
            for method in outcomes[0][minutes].errors
        }
        ours = rms.pop("forecast")
        assert ours < (1.0 if minutes < 120 else 1.1) * min(rms.values()), minutes


def test_the_simulated_candle_is_foretold_too():
    outcomes = run(Kind("small", candle=True), 8, SEED)
    for minutes, bar in ((60, 3.5), (120, 3.0)):
        errors = [burn[minutes].errors["forecast"] for burn in outcomes]
        assert math.sqrt(np.mean(np.square(errors))) < bar


def test_a_climbing_fourth_burn_is_foretold_from_the_three_before_it():
    late = Kind("small", candle=True, late=True)
    outcomes = run(late, 3, SEED)
    assert [str(one) for one in figures(late, outcomes, widen=1.5) if not one.met] == []


def test_the_truths_draughts_and_lag_are_what_they_are_called():
    x = draughts(np.random.default_rng(3), 300_000)
    assert x.std() == pytest.approx(0.5, rel=0.05)
    assert np.corrcoef(x[:-150], x[150:])[0, 1] == pytest.approx(math.exp(-1.0), abs=0.06)
    step = lagged(np.r_[0.0, np.ones(900)], 300.0)
    assert step[[300, 600, 900]] == pytest.approx([0.632, 0.865, 0.950], abs=1e-3)
