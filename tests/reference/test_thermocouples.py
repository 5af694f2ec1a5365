"""Thermocouples against IEC 60584-1 tables and an independent package."""

import pytest
import thermocouple_its90

from logger.conditioning.transducers import thermocouple_c
from logger.quantities import Transducer

K, T = Transducer.THERMOCOUPLE_K, Transducer.THERMOCOUPLE_T

# IEC 60584-1 (= NIST ITS-90) tables, mV, reference junction 0 degC; K at 100 and 300 degC read in
# published tables, the rest computed alike by three packages.
TEMPERATURES_C = (0, 10, 20, 22, 25, 30, 40, 50, 55, 57, 60, 70, 80, 100, 120, 150, 200, 250, 300)
TABLE_MV = {
    K: (0.000, 0.397, 0.798, 0.879, 1.000, 1.203, 1.612, 2.023, 2.230, 2.312, 2.436, 2.851, 3.267,
        4.096, 4.920, 6.138, 8.138, 10.153, 12.209),
    T: (0.000, 0.391, 0.790, 0.870, 0.992, 1.196, 1.612, 2.036, 2.251, 2.338, 2.468, 2.909, 3.358,
        4.279, 5.228, 6.704, 9.288, 12.013, 14.862),
}  # fmt: skip
POINTS = [
    (kind, t, mv) for kind in TABLE_MV for t, mv in zip(TEMPERATURES_C, TABLE_MV[kind], strict=True)
]


@pytest.mark.parametrize(("kind", "temperature_c", "emf_mv"), POINTS)
def test_table(kind, temperature_c, emf_mv):
    # half a microvolt of the table's rounding, at 38 uV/K or more
    assert thermocouple_c(kind, emf_mv, 0.0) == pytest.approx(temperature_c, abs=0.014)


@pytest.mark.parametrize(("kind", "letter"), [(K, "K"), (T, "T")])
def test_package_thermocouple_its90(kind, letter):
    other = thermocouple_its90.get(letter)
    for temperature_c in range(-199, 1372 if kind is K else 400, 3):
        emf_mv = other.emf(float(temperature_c))
        assert thermocouple_c(kind, emf_mv, 0.0) == pytest.approx(temperature_c, abs=1e-6)
        assert thermocouple_c(kind, 0.5 * emf_mv, 22.0) == pytest.approx(
            other.temperature(0.5 * emf_mv, reference=22.0), abs=1e-6
        )


def test_cold_junction():
    # E(60) - E(22) from the tables above, to four figures
    assert thermocouple_c(K, 1.5576, 22.0) == pytest.approx(60.0, abs=0.002)
    assert thermocouple_c(T, 1.5978, 22.0) == pytest.approx(60.0, abs=0.002)
    # a much-quoted example: 4.096 mV with the terminals at 25 degC is not 100 degC
    assert thermocouple_c(K, 4.096, 25.0) == pytest.approx(124.31, abs=0.005)


def test_published_inverse_polynomial_is_the_coarser_one():
    # NIST's inverse polynomial gives 99.963 degC for 4.096 mV, within its stated -0.05/+0.04 K
    assert thermocouple_c(K, 4.096, 0.0) - 99.963 == pytest.approx(0.04, abs=0.01)


@pytest.mark.parametrize(("kind", "slope_uv_per_k"), [(K, 41.42), (T, 43.66)])
def test_seebeck_coefficient_at_60(kind, slope_uv_per_k):
    at_60_mv = dict(zip(TEMPERATURES_C, TABLE_MV[kind], strict=True))[60]
    rise_k = thermocouple_c(kind, at_60_mv + 0.01, 0.0) - thermocouple_c(kind, at_60_mv - 0.01, 0.0)
    assert 20.0 / rise_k == pytest.approx(slope_uv_per_k, abs=0.006)
