"""Pt100 against the values of IEC 60751."""

import pytest

from logger.conditioning.transducers import limit_of_error_k, pt100_c, pt100_ohm
from logger.quantities import Transducer

# IEC 60751 table, ohm.
TABLE_OHM = {
    -200: 18.52, -100: 60.26, 0: 100.00, 10: 103.90, 20: 107.79, 22: 108.57, 25: 109.73, 30: 111.67,
    40: 115.54, 50: 119.40, 55: 121.32, 60: 123.24, 70: 127.08, 80: 130.90, 100: 138.51,
    200: 175.86, 250: 194.10, 300: 212.05,
}  # fmt: skip


@pytest.mark.parametrize(("temperature_c", "resistance_ohm"), TABLE_OHM.items())
def test_table(temperature_c, resistance_ohm):
    assert pt100_ohm(float(temperature_c)) == pytest.approx(resistance_ohm, abs=0.0051)
    # 5 milliohm of the table's rounding at 0.35 ohm/K or more; -200 degC itself rounds to below
    # the range's end
    if temperature_c > -200:
        assert pt100_c(resistance_ohm) == pytest.approx(temperature_c, abs=0.0146)


def test_closed_form_above_zero():
    # the quadratic of IEC 60751 solved by the school formula, independent of Newton's method
    a, b = 3.9083e-3, -5.775e-7
    for ohm in (100.0, 109.73, 123.24, 138.51, 212.05, 390.0):
        closed_c = (-a + (a * a - 4 * b * (1 - ohm / 100)) ** 0.5) / (2 * b)
        assert pt100_c(ohm) == pytest.approx(closed_c, abs=1e-9)


@pytest.mark.parametrize(
    ("tolerance_class", "temperature_c", "limit_k"),
    # Class B of wire-wound resistors reaches from -196 degC (2008 and later editions, from memory).
    [  # IEC 60751: 0.1 + 0.0017|t|, 0.15 + 0.002|t|, 0.3 + 0.005|t|, 0.6 + 0.01|t|
        ("AA", 60.0, 0.202),
        ("A", 60.0, 0.270),
        ("B", 60.0, 0.600),
        ("C", 60.0, 1.2),
        ("A", 100.0, 0.35),
        ("B", 100.0, 0.8),
        ("A", 200.0, 0.55),
        ("B", 200.0, 1.3),
        ("B", -196.0, 1.28),
    ],
)
def test_tolerance_classes(tolerance_class, temperature_c, limit_k):
    assert limit_of_error_k(Transducer.PT100, tolerance_class, temperature_c) == pytest.approx(
        limit_k
    )
