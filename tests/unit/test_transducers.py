"""Transducers: both directions agree, floats and arrays agree, broken sensors are refused."""

import math

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from logger.conditioning.transducers import (
    Thermistor,
    limit_of_error_k,
    pt100_c,
    pt100_ohm,
    thermocouple_c,
    thermocouple_mv,
)
from logger.errors import DataError
from logger.quantities import Transducer

K, T = Transducer.THERMOCOUPLE_K, Transducer.THERMOCOUPLE_T
OPEN_SET = Thermistor(a=1.129148e-3, b=2.34125e-4, c=8.76741e-8)
BETA = Thermistor.from_beta(r25_ohm=10_000.0, beta_k=3950.0)


def thermocouple(kind):
    return lambda t: thermocouple_mv(kind, t), lambda mv: thermocouple_c(kind, mv, 0.0)


CURVES = [
    pytest.param(*thermocouple(K), -200, 1372, id="K"),
    pytest.param(*thermocouple(T), -200, 400, id="T"),
    pytest.param(pt100_ohm, pt100_c, -200, 850, id="Pt100"),
    pytest.param(OPEN_SET.ohm, OPEN_SET.celsius, -80, 300, id="NTC"),
    pytest.param(BETA.ohm, BETA.celsius, -80, 300, id="NTC beta"),
]


@pytest.mark.parametrize(("forward", "inverse", "low_c", "high_c"), CURVES)
def test_there_and_back_over_the_whole_range_for_floats_and_arrays(forward, inverse, low_c, high_c):
    temperatures = np.linspace(low_c, high_c, 4001)[1:-1]
    signals = forward(temperatures)
    assert np.abs(inverse(signals) - temperatures).max() < 1e-8  # rounding, at -200 degC of T
    assert np.all(np.diff(signals) > 0) or np.all(np.diff(signals) < 0)
    for index in range(0, len(temperatures), 40):
        scalar = forward(float(temperatures[index]))
        assert isinstance(scalar, float)
        assert scalar == pytest.approx(signals[index], rel=1e-12)
        assert inverse(scalar) == pytest.approx(temperatures[index], abs=1e-8)


@pytest.mark.parametrize(("forward", "inverse", "low_c", "high_c"), CURVES)
def test_ends_of_the_range_belong_to_it_and_nothing_beyond_does(forward, inverse, low_c, high_c):
    for edge in (low_c, high_c):
        assert inverse(forward(edge)) == pytest.approx(edge, abs=1e-8)
    for outside in (low_c - 0.01, high_c + 0.01, math.nan, math.inf, -math.inf):
        with pytest.raises(DataError, match="degC"):
            forward(outside)
        with pytest.raises(DataError, match="outside"):
            forward(np.array([20.0, outside, 30.0]))
    signals = sorted([forward(low_c), forward(high_c)])
    margin = 1e-3 * (signals[1] - signals[0])
    for outside in (signals[0] - margin, signals[1] + margin, math.nan, math.inf):
        with pytest.raises(DataError, match="check lead, plug"):
            inverse(outside)
        with pytest.raises(DataError):
            inverse(np.array([sum(signals) / 2, outside]))


def test_message_names_the_value_and_the_range():
    with pytest.raises(DataError, match=r"^80 mV is outside thermocouple K \(-5.89\d* to 54.88"):
        thermocouple_c(K, 80.0, 0.0)


def test_empty_array_stays_empty():
    assert pt100_c(np.array([])).size == 0


@given(hot_c=st.floats(-100, 300), cold_c=st.floats(-20, 60), kind=st.sampled_from([K, T]))
@settings(max_examples=500, derandomize=True, deadline=None)
def test_cold_junction_is_undone(hot_c, cold_c, kind):
    emf_mv = thermocouple_mv(kind, hot_c, cold_c)
    assert thermocouple_c(kind, emf_mv, cold_c) == pytest.approx(hot_c, abs=1e-7)


def test_slope_is_continuous_at_zero():
    for forward in (lambda t: thermocouple_mv(K, t), lambda t: thermocouple_mv(T, t), pt100_ohm):
        below, above = forward(0.0) - forward(-0.01), forward(0.01) - forward(0.0)
        assert below == pytest.approx(above, rel=1e-3)


@pytest.mark.parametrize(
    ("a", "b", "c"),
    [
        (1.129148e-3, -2.34125e-4, 8.76741e-8),
        (1.129148e-3, 2.34125e-4, -8.76741e-8),
        (1.129148e-3, 2.34125e-3, 8.76741e-8),  # a slip in the exponent of b
        (-1e3, 2.34125e-4, 0.0),
        (math.nan, 2.34125e-4, 8.76741e-8),
    ],
)
def test_coefficients_of_no_thermistor_are_refused(a, b, c):
    with pytest.raises(DataError, match="check the coefficients"):
        Thermistor(a=a, b=b, c=c)


@pytest.mark.parametrize(
    ("r25_ohm", "beta_k"),
    [(0.0, 3950.0), (1e4, 0.0), (-1e4, 3950.0), (1e4, -3950.0), (1e4, math.nan)],
)
def test_beta_of_no_thermistor_is_refused(r25_ohm, beta_k):
    with pytest.raises(DataError, match="data sheet"):
        Thermistor.from_beta(r25_ohm=r25_ohm, beta_k=beta_k)


def test_no_thermocouple_and_no_class_are_refused():
    with pytest.raises(DataError, match="pt100 is no thermocouple"):
        thermocouple_mv(Transducer.PT100, 60.0)
    with pytest.raises(DataError, match="tolerance class"):
        limit_of_error_k(K, "A", 60.0)
    with pytest.raises(DataError, match="class 1"):
        limit_of_error_k(T, "1", 400.0)
