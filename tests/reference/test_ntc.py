"""Thermistors by their B value: R = R25 exp(B (1/T - 1/298.15 K)), as data sheets define it."""

import pytest

from logger.conditioning.transducers import ntc_c


# 10 kohm at 25 degC and 3950 K, by the formula to a tenth of an ohm.
@pytest.mark.parametrize(
    ("temperature_c", "resistance_ohm"),
    [(0, 33620.6), (25, 10000.0), (50, 3588.2), (57, 2769.0), (60, 2486.2), (100, 697.5)],
)
def test_b_value(temperature_c, resistance_ohm):
    found = ntc_c(resistance_ohm, r25_ohm=10_000.0, beta_k=3950.0)
    assert found == pytest.approx(temperature_c, abs=0.005)  # of the tenth of an ohm
