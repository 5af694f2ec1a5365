"""Thermocouples against IEC 60584-1 tables and an independent package."""

import pytest
import thermocouple_its90

from logger.conditioning.transducers import limit_of_error_k, thermocouple_c, thermocouple_mv
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
    assert thermocouple_mv(kind, float(temperature_c)) == pytest.approx(emf_mv, abs=0.00051)
    # half a microvolt of the table's rounding, at 38 uV/K or more
    assert thermocouple_c(kind, emf_mv, 0.0) == pytest.approx(temperature_c, abs=0.014)


@pytest.mark.parametrize(("kind", "letter"), [(K, "K"), (T, "T")])
def test_package_thermocouple_its90(kind, letter):
    other = thermocouple_its90.get(letter)
    for temperature_c in range(-199, 1372 if kind is K else 400, 3):
        emf_mv = other.emf(float(temperature_c))
        # type K's two pieces leave 2e-9 mV at 0 degC, which a difference of emfs takes off
        assert thermocouple_mv(kind, float(temperature_c)) == pytest.approx(emf_mv, abs=3e-9)
        assert thermocouple_c(kind, emf_mv, 0.0) == pytest.approx(temperature_c, abs=1e-6)
        assert thermocouple_c(kind, 0.5 * emf_mv, 22.0) == pytest.approx(
            other.temperature(0.5 * emf_mv, reference=22.0), abs=1e-6
        )


def test_cold_junction():
    # E(60) - E(22) from the tables above, to four figures
    assert thermocouple_mv(K, 60.0, 22.0) == pytest.approx(1.5576, abs=0.00005)
    assert thermocouple_mv(T, 60.0, 22.0) == pytest.approx(1.5978, abs=0.00005)
    # a much-quoted example: 4.096 mV with the terminals at 25 degC is not 100 degC
    assert thermocouple_c(K, 4.096, 25.0) == pytest.approx(124.31, abs=0.005)


def test_published_inverse_polynomial_is_the_coarser_one():
    # NIST's inverse polynomial gives 99.963 degC for 4.096 mV, within its stated -0.05/+0.04 K
    assert thermocouple_c(K, 4.096, 0.0) - 99.963 == pytest.approx(0.04, abs=0.01)


@pytest.mark.parametrize(("kind", "slope_uv_per_k"), [(K, 41.42), (T, 43.66)])
def test_seebeck_coefficient_at_60(kind, slope_uv_per_k):
    rise_mv = thermocouple_mv(kind, 60.01) - thermocouple_mv(kind, 59.99)
    assert rise_mv / 0.02 * 1000 == pytest.approx(slope_uv_per_k, abs=0.006)


@pytest.mark.parametrize(
    ("kind", "tolerance_class", "temperature_c", "limit_k"),
    # ASTM E230 has other figures: 2.2 K or 0.75 % for K, where IEC 60584-1 class 2 has 2.5 K.
    [  # IEC 60584-1, greater of the two: 1.5 K or 0.4 %, 2.5 K or 0.75 %; 0.5 or 0.4 %, 1 or 0.75 %
        (K, "1", 60.0, 1.5),
        (K, "1", 375.0, 1.5),
        (K, "1", 1000.0, 4.0),
        (K, "2", 60.0, 2.5),
        (K, "2", 1200.0, 9.0),
        (T, "1", 60.0, 0.5),
        (T, "1", 350.0, 1.4),
        (T, "2", 60.0, 1.0),
        (T, "2", -40.0, 1.0),
        (T, "2", 200.0, 1.5),
    ],
)
def test_tolerance_classes(kind, tolerance_class, temperature_c, limit_k):
    assert limit_of_error_k(kind, tolerance_class, temperature_c) == pytest.approx(limit_k)
