"""Transducers: the whole range comes back from an independent forward function; broken sensors
are refused.
"""

import math

import pytest
import thermocouple_its90
from hypothesis import given, settings
from hypothesis import strategies as st

from logger.conditioning.transducers import ntc_c, pt100_c, thermocouple_c
from logger.errors import DataError
from logger.quantities import Transducer
from tests.support.fuzzing import EXAMPLES

K, T = Transducer.THERMOCOUPLE_K, Transducer.THERMOCOUPLE_T
EMF = {K: thermocouple_its90.get("K").emf, T: thermocouple_its90.get("T").emf}


def pt100_ohm(t):
    """IEC 60751, written out."""
    cold = -4.183e-12 * (t - 100.0) * t**3 if t < 0.0 else 0.0
    return 100.0 * (1.0 + 3.9083e-3 * t - 5.775e-7 * t * t + cold)


def ntc_ohm(t):
    """The definition of the B value, for 10 kohm at 25 degC and 3950 K."""
    return 1e4 * math.exp(3950.0 * (1.0 / (t + 273.15) - 1.0 / 298.15))


CURVES = [
    pytest.param(EMF[K], lambda mv: thermocouple_c(K, mv, 0.0), -200, 1372, id="K"),
    pytest.param(EMF[T], lambda mv: thermocouple_c(T, mv, 0.0), -200, 400, id="T"),
    pytest.param(pt100_ohm, pt100_c, -200, 850, id="Pt100"),
    pytest.param(ntc_ohm, lambda r: ntc_c(r, r25_ohm=1e4, beta_k=3950.0), -80, 300, id="NTC"),
]


@pytest.mark.parametrize(("forward", "inverse", "low_c", "high_c"), CURVES)
def test_the_whole_range_comes_back(forward, inverse, low_c, high_c):
    for step in range(1, 1000):
        t = low_c + (high_c - low_c) * step / 1000.0
        # type K's two published pieces are 2e-9 mV apart at 0 degC
        assert inverse(forward(t)) == pytest.approx(t, abs=1e-6)


@pytest.mark.parametrize(("forward", "inverse", "low_c", "high_c"), CURVES)
def test_nothing_beyond_the_range_is_a_temperature(forward, inverse, low_c, high_c):
    signals = sorted([forward(low_c), forward(high_c)])
    margin = 1e-3 * (signals[1] - signals[0])
    for outside in (signals[0] - margin, signals[1] + margin, math.nan, math.inf, -math.inf):
        with pytest.raises(DataError, match="check lead, plug"):
            inverse(outside)


def test_message_names_the_value_and_the_range():
    with pytest.raises(DataError, match=r"^80 mV is outside thermocouple K \(-5.89\d* to 54.88"):
        thermocouple_c(K, 80.0, 0.0)


def test_terminals_outside_the_range_are_refused():
    with pytest.raises(DataError, match="outside the range of thermocouple T"):
        thermocouple_c(T, 1.0, 401.0)


@given(hot_c=st.floats(-100, 300), cold_c=st.floats(-20, 60), kind=st.sampled_from([K, T]))
@settings(max_examples=EXAMPLES, derandomize=True, deadline=None)
def test_cold_junction_is_undone(hot_c, cold_c, kind):
    emf_mv = EMF[kind](hot_c) - EMF[kind](cold_c)
    assert thermocouple_c(kind, emf_mv, cold_c) == pytest.approx(hot_c, abs=1e-6)
