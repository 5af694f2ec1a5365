"""Pt100 against the values of IEC 60751."""

import pytest

from logger.conditioning.transducers import pt100_c

# IEC 60751 table, ohm.
TABLE_OHM = {
    -200: 18.52, -100: 60.26, 0: 100.00, 10: 103.90, 20: 107.79, 22: 108.57, 25: 109.73, 30: 111.67,
    40: 115.54, 50: 119.40, 55: 121.32, 60: 123.24, 70: 127.08, 80: 130.90, 100: 138.51,
    200: 175.86, 250: 194.10, 300: 212.05,
}  # fmt: skip


@pytest.mark.parametrize(("temperature_c", "resistance_ohm"), TABLE_OHM.items())
def test_table(temperature_c, resistance_ohm):
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
