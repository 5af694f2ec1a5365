"""Thermistors by Steinhart and Hart, Deep-Sea Research 15 (1968) 497,
doi 10.1016/0011-7471(68)90057-0; the figures were computed from one set of coefficients, whose
digits were seen in code that quotes it.
"""

import math

import pytest

from logger.conditioning.transducers import Thermistor

OPEN_SET = Thermistor(a=1.129148e-3, b=2.34125e-4, c=8.76741e-8)  # 10 kohm at 25 degC
BETA = Thermistor.from_beta(r25_ohm=10_000.0, beta_k=3950.0)


@pytest.mark.parametrize(
    ("resistance_ohm", "temperature_c"),
    [(32650, 0.000), (10000, 24.9997), (5324, 40.004), (2488, 59.990), (1752, 69.993)],
)
def test_steinhart_hart(resistance_ohm, temperature_c):
    assert OPEN_SET.celsius(float(resistance_ohm)) == pytest.approx(temperature_c, abs=0.0006)


@pytest.mark.parametrize(
    ("temperature_c", "resistance_ohm"),
    [
        (0, 32650.4),
        (20, 12493.2),
        (25, 9999.9),
        (37, 6014.2),
        (50, 3601.0),
        (57, 2773.3),
        (60, 2487.1),
        (80, 1256.1),
        (100, 678.4),
    ],
)
def test_steinhart_hart_inverse(temperature_c, resistance_ohm):
    assert OPEN_SET.ohm(float(temperature_c)) == pytest.approx(resistance_ohm, abs=0.051)


@pytest.mark.parametrize(
    ("temperature_c", "resistance_ohm"),
    [(0, 33620.6), (25, 10000.0), (50, 3588.2), (57, 2769.0), (60, 2486.2), (100, 697.5)],
)
def test_beta_form(temperature_c, resistance_ohm):
    assert BETA.ohm(float(temperature_c)) == pytest.approx(resistance_ohm, abs=0.051)
    kelvin = temperature_c + 273.15
    # the defining formula, written out
    assert BETA.ohm(float(temperature_c)) == pytest.approx(
        1e4 * math.exp(3950 * (1 / kelvin - 1 / 298.15)), rel=1e-12
    )
