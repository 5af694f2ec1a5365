"""Infrared correction against integrals and figures computed outside this program."""

import math

import pytest
from scipy import constants
from scipy.integrate import quad

from logger.conditioning.infrared import FINISHES, apparent_c, radiance, surface


# Computed from Planck's law over 8 to 14 um for a display set to 1.
@pytest.mark.parametrize(
    ("true_c", "emissivity", "reflected_c", "shown_c"),
    [
        (60.0, 0.92, 25.0, 57.524),
        (60.0, 0.92, 20.0, 57.224),
        (57.0, 0.95, 22.0, 55.462),
        (100.0, 0.90, 25.0, 93.934),
    ],
)
def test_apparent_temperatures(true_c, emissivity, reflected_c, shown_c):
    seen = {"emissivity": emissivity, "reflected_c": reflected_c}
    assert apparent_c(true_c, **seen) == pytest.approx(shown_c, abs=0.0006)
    assert surface(shown_c, **seen).celsius == pytest.approx(true_c, abs=0.0006)


@pytest.mark.parametrize(("celsius", "expected"), [(60.0, 86.932), (25.0, 53.397)])
def test_radiance_in_8_to_14_um(celsius, expected):
    assert radiance(celsius + 273.15)[0] == pytest.approx(expected, abs=0.0006)


@pytest.mark.parametrize("celsius", [-70.0, -40.0, 0.0, 25.0, 60.0, 100.0, 300.0, 600.0, 1000.0])
def test_quadrature_of_plancks_law(celsius):
    kelvin = celsius + 273.15

    def planck(metre):
        c, h, k = constants.c, constants.h, constants.k
        return 2 * h * c**2 / metre**5 / math.expm1(h * c / (metre * k * kelvin))

    integral, _ = quad(planck, 8e-6, 14e-6, epsabs=0, epsrel=1e-12)
    assert radiance(kelvin)[0] == pytest.approx(integral, rel=1e-6)


@pytest.mark.parametrize(("kelvin", "exponent"), [(300.0, 4.57), (330.0, 4.22)])
def test_effective_exponent(kelvin, exponent):
    value, slope = radiance(kelvin)
    assert kelvin * slope / value == pytest.approx(exponent, abs=0.0061)


def test_alarm_margin_an_uncorrected_display_eats():
    # 60 degC glass of 0.92 in a 25 degC room reads 2.4 of the 2.8 K between 135 and 140 degF low
    shown_c = apparent_c(60.0, emissivity=0.92, reflected_c=25.0)
    assert 60.0 - shown_c == pytest.approx(2.476, abs=0.001)


# Makers' published emissivities at 8 to 14 um.
@pytest.mark.parametrize(
    ("name", "low", "high"),
    [
        ("bare-glass", 0.90, 0.95),
        ("ceramic", 0.90, 0.94),
        ("glazed-ceramic", 0.85, 0.95),
        ("matte-paint", 0.97, 0.97),
        ("painted", 0.90, 0.98),
        ("bare-metal", 0.1, 0.1),
    ],
)
def test_published_emissivities(name, low, high):
    emissivity = FINISHES[name].emissivity
    assert emissivity is not None
    assert low <= emissivity <= high
