"""Calibration lines and the boiling point against published figures."""

import math
from importlib.resources import files

import numpy as np
import pytest

from logger.conditioning.calibration import (
    Point,
    bench_pressure_hpa,
    boiling_c,
    fitted,
    from_points,
)
from logger.conditioning.student import student_t

# GUM (JCGM 100:2008) table H.6: thermometer readings and observed corrections, degC
H3_READINGS = (
    21.521, 22.012, 22.512, 23.003, 23.507, 23.999, 24.513, 25.002, 25.503, 26.010, 26.511,
)  # fmt: skip
H3_CORRECTIONS = (
    -0.171, -0.169, -0.166, -0.159, -0.164, -0.165, -0.156, -0.157, -0.159, -0.161, -0.160,
)  # fmt: skip


def test_gum_h3():
    fit = fitted(
        [Point(shown=t, reference=t + b) for t, b in zip(H3_READINGS, H3_CORRECTIONS, strict=True)]
    )
    line = fit.correction
    # H.3.2, H.3.3: y1 = -0.1712(29) at 20 degC, y2 = 0.00218(67), r = -0.930, s = 0.0035
    assert line.at(20.0) == pytest.approx(-0.1712, abs=0.00005)
    assert line.uncertainty_at(20.0) == pytest.approx(0.0029, abs=0.00005)
    assert line.slope == pytest.approx(0.00218, abs=0.000005)
    assert line.slope_uncertainty == pytest.approx(0.00067, abs=0.000005)
    assert fit.scatter == pytest.approx(0.0035, abs=0.00005)
    covariance_at_20 = (20.0 - line.about) * line.slope_uncertainty**2
    correlation = covariance_at_20 / (line.uncertainty_at(20.0) * line.slope_uncertainty)
    assert correlation == pytest.approx(-0.930, abs=0.0005)
    # H.3.4: the predicted correction at 30 degC, -0.1494 with u = 0.0041
    assert line.at(30.0) == pytest.approx(-0.1494, abs=0.00005)
    assert line.uncertainty_at(30.0) == pytest.approx(0.0041, abs=0.00005)


def test_nist_norris():
    # NIST StRD Norris as shipped in scipy's wheel, lines 61 to 96: y, x. Its line y = B0 + B1 x
    # is here the correction y - x with slope B1 - 1 (0.002: an ozone monitor's calibration).
    path = files("scipy.stats.tests.data") / "nist_linregress" / "Norris.dat"
    rows = [line.split() for line in path.read_text().splitlines()[60:96]]
    assert len(rows) == 36
    fit = fitted([Point(shown=float(x), reference=float(y)) for y, x in rows])
    line = fit.correction
    assert line.at(0.0) == pytest.approx(-0.262323073774029, rel=1e-11)
    assert line.uncertainty_at(0.0) == pytest.approx(0.232818234301152, rel=1e-11)
    assert 1.0 + line.slope == pytest.approx(1.00211681802045, rel=1e-13)
    assert line.slope_uncertainty == pytest.approx(0.429796848199937e-03, rel=1e-11)
    assert fit.scatter == pytest.approx(0.884796396144373, rel=1e-11)


@pytest.mark.parametrize("count", [3, 4, 6, 11])
def test_a_fitted_line_holds_what_it_says_however_few_its_points(count):
    """Coverage by trial of Student's t, n - 2 degrees of freedom (GUM G.3.2 and H.3; from memory).

    The line within twice its stated uncertainty in 95 % of repeated calibrations, and one more
    comparison within t times the root of both variances (prediction interval, any textbook).
    """
    rng, trials, at = np.random.default_rng([7, count]), 3000, 60.0
    shown = np.linspace(20.0, 50.0, count)
    lines_held = comparisons_held = 0
    for _ in range(trials):
        noise = rng.normal(scale=0.2, size=count + 1)
        points = [
            Point(shown=x, reference=x - 0.17 + 0.002 * (x - 20.0) + e)
            for x, e in zip(shown.tolist(), noise[:-1].tolist(), strict=True)
        ]
        true = -0.17 + 0.002 * (at - 20.0)
        line, fit = from_points(points), fitted(points)
        lines_held += abs(line.at(at) - true) <= 2.0 * line.uncertainty_at(at)
        reach = student_t(0.975, count - 2) * math.hypot(
            fit.scatter, fit.correction.uncertainty_at(at)
        )
        comparisons_held += abs(fit.correction.at(at) - true - noise[-1]) <= reach
    # binomial, 3000 trials: 0.95 with a standard error of 0.004
    assert lines_held / trials == pytest.approx(0.95, abs=0.013)
    assert comparisons_held / trials == pytest.approx(0.95, abs=0.013)


def test_boiling_point_of_iapws_if97():
    # verification value of IAPWS-IF97, table 36, at 0.1 MPa; its others lie far above air pressure
    assert boiling_c(1000.0) + 273.15 == pytest.approx(372.755919, abs=5e-7)


@pytest.mark.parametrize(
    ("pressure_hpa", "celsius"),
    [  # handbook values; 99.974 at one atmosphere on the ITS-90, the others from memory
        (1013.25, 99.974),
        (1000.0, 99.606),
        (900.0, 96.69),
        (800.0, 93.49),
        (700.0, 89.93),
    ],
)
def test_boiling_point_of_handbooks(pressure_hpa, celsius):
    assert boiling_c(pressure_hpa) == pytest.approx(celsius, abs=0.006)


@pytest.mark.parametrize(
    ("altitude_m", "pressure_hpa"),
    [(0.0, 1013.25), (500.0, 954.61), (1000.0, 898.75), (2000.0, 794.95), (5000.0, 540.20)],
)
def test_standard_atmosphere(altitude_m, pressure_hpa):
    # ISO 2533 / U.S. Standard Atmosphere 1976 tables (from memory), at geopotential heights: up to
    # 3 km a height by the tape measure differs from that by less than 2 m, 0.2 hPa
    assert bench_pressure_hpa(1013.25, altitude_m) == pytest.approx(pressure_hpa, abs=0.2)
