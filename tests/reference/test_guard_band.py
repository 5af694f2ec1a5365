"""The decision rule against probability theory, computed by scipy, and published statements of it.

* ILAC-G8:09/2019 4.2.2: with a guard band as wide as the expanded uncertainty U (95 %), the
  probability of accepting wrongly is under 2.5 % (seen: public statements of test houses quote it).
* JCGM 106:2012: probability of conformance of a normal estimate y, u under an upper tolerance limit
  is Phi((limit - y) / u) (formula from memory, high confidence).
"""

import numpy as np
import pytest
from scipy import stats

from logger.decision.criteria import Outcome, guard_band
from logger.decision.wax_criteria import within

LIMIT_C = 60.0
SEED = 14_253


def outcome(value, u):
    return guard_band(lower=value - 2.0 * u, upper=value + 2.0 * u, limit=LIMIT_C)


@pytest.mark.parametrize("u", [0.1, 0.3, 1.0, 3.0])
def test_the_least_sure_pass_conforms_with_more_than_97_5_percent(u):
    values = np.linspace(LIMIT_C - 6.0 * u, LIMIT_C + 6.0 * u, 24_001)
    conformance = stats.norm.cdf((LIMIT_C - values) / u)
    outcomes = np.array([outcome(float(value), u) for value in values])
    assert conformance[outcomes == Outcome.PASS].min() >= 0.975
    assert conformance[outcomes == Outcome.PASS].min() == pytest.approx(
        stats.norm.cdf(2.0), abs=1e-3
    )
    # and so does the least sure fail, on the other side (ISO 14253-1's rule for non-conformance)
    assert conformance[outcomes == Outcome.FAIL].max() == pytest.approx(
        stats.norm.cdf(-2.0), abs=1e-3
    )


@pytest.mark.parametrize("over_k", [1e-6, 0.2, 1.0])
def test_of_vessels_over_the_limit_fewer_than_2_5_percent_pass(over_k):
    u, count = 0.4, 40_000
    measured = np.random.default_rng(SEED).normal(LIMIT_C + over_k, u, count)
    passed = sum(outcome(float(value), u) is Outcome.PASS for value in measured)
    wrong = stats.binomtest(passed, count).proportion_ci(0.999)
    expected = stats.norm.cdf(-2.0 - over_k / u)
    assert wrong.low <= expected <= wrong.high
    assert expected < 0.025


def test_of_vessels_well_under_the_limit_hardly_any_fail():
    u, count = 0.4, 40_000
    measured = np.random.default_rng(SEED + 1).normal(LIMIT_C - 4.0 * u, u, count)
    failed = sum(outcome(float(value), u) is Outcome.FAIL for value in measured)
    assert failed <= stats.binom.ppf(0.9999, count, stats.norm.sf(4.0))


@pytest.mark.parametrize(
    ("volts", "expected"),
    [(-5.47, Outcome.UNDECIDED), (-5.51, Outcome.PASS), (-5.29, Outcome.FAIL)],
)
def test_the_worked_example_of_the_zener_diode(volts, expected):
    """JCGM 106:2012, 7.2.2, example of a Zener diode (from memory): not over -5.40 V, estimate
    -5.47 V, u = 0.05 V; it conforms with a probability of 92 %. With the guard band w = U of 8.3.2
    (r = 1, as ISO 14253-1; from memory) the acceptance limit is -5.50 V: 92 % do not suffice.
    """
    u, limit = 0.05, -5.40
    assert stats.norm.cdf((limit - -5.47) / u) == pytest.approx(0.92, abs=0.005)
    assert guard_band(lower=volts - 2.0 * u, upper=volts + 2.0 * u, limit=limit) is expected


@pytest.mark.parametrize(
    ("value", "expected"),
    [(3.0, Outcome.UNDECIDED), (3.2, Outcome.PASS), (2.7, Outcome.FAIL), (7.8, Outcome.PASS),
     (8.3, Outcome.FAIL)],
)  # fmt: skip
def test_a_range_is_guarded_on_either_side(value, expected):
    """JCGM 106:2012, 8.3.3.2: a two-sided guarded acceptance interval (from memory)."""
    found = within(lower=value - 0.2, upper=value + 0.2, least=3.0, most=8.0)
    assert found is expected
    conforms = stats.norm.cdf((8.0 - value) / 0.1) - stats.norm.cdf((3.0 - value) / 0.1)
    assert bool(conforms >= 0.975) is (expected is Outcome.PASS)
