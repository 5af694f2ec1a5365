"""Heat transfer of the simulated candle against a published example and the package `ht`."""

import itertools

import ht
import pytest

from simulators.candle import Candle
from simulators.heat_transfer import (
    Air,
    air_at,
    convection_w_per_m2k,
    nusselt_vertical_plate,
    radiation_w_per_m2,
    rayleigh,
)
from simulators.jar import WICKS
from simulators.room import Room


@pytest.mark.parametrize("prandtl", [0.69, 0.707, 7.0])
@pytest.mark.parametrize("rayleigh_number", [1e3, 2.09e6, 1e9, 2.63e9, 1e12])
def test_nusselt_number_is_that_of_the_package(prandtl, rayleigh_number):
    expected = ht.Nu_vertical_plate_Churchill(prandtl, rayleigh_number / prandtl)
    assert nusselt_vertical_plate(prandtl, rayleigh_number) == pytest.approx(expected, rel=1e-12)


def test_nusselt_number_of_the_documentation():
    # Docstring of ht: Nu(Pr 0.69, Gr 2.63e9).
    expected = 147.16185223770603
    assert nusselt_vertical_plate(0.69, 0.69 * 2.63e9) == pytest.approx(expected, rel=1e-12)


def test_the_worked_example_of_a_glass_screen():
    # Incropera/Bergman, Fundamentals of Heat and Mass Transfer, example 9.2: glass fire screen
    # 0.71 m high, 1.02 m wide, 232 degC, air 23 degC: Ra 1.813e9, Nu 147, h 7.0, 1060 W.
    # (inputs from memory; the published diffusivity is rounded, hence 0.2 %)
    air = Air(film_k=400.0, conductivity=0.0338, viscosity=26.4e-6, prandtl=0.69)
    number = rayleigh(232.0 - 23.0, 0.71, air)
    h = convection_w_per_m2k(232.0, 23.0, 0.71, air)
    assert number == pytest.approx(1.813e9, rel=2e-3)
    assert nusselt_vertical_plate(0.69, number) == pytest.approx(147.1, abs=0.15)
    assert h == pytest.approx(7.0, abs=0.05)
    assert h * 0.71 * 1.02 * (232.0 - 23.0) == pytest.approx(1060.0, rel=2e-3)


@pytest.mark.parametrize(
    ("film_k", "conductivity", "viscosity", "prandtl", "tolerance"),
    [
        # computed with CoolProp at one atmosphere
        pytest.param(300.0, 0.0264, 1.575e-5, 0.707, 1e-9, id="300 K"),
        pytest.param(313.0, 0.02735, 1.700e-5, 0.7055, 1e-9, id="313 K"),
        # handbook value (from memory, high); the two sources differ by 0.9 % in viscosity
        pytest.param(300.0, 0.0263, 1.589e-5, 0.707, 0.01, id="300 K, handbook"),
        # 350 K, handbook (from memory, high): the far end of any film here
        pytest.param(350.0, 0.0300, 20.92e-6, 0.700, 0.02, id="350 K, handbook"),
    ],
)
def test_air(film_k, conductivity, viscosity, prandtl, tolerance):
    air = air_at(film_k)
    assert air.conductivity == pytest.approx(conductivity, rel=tolerance)
    assert air.viscosity == pytest.approx(viscosity, rel=tolerance)
    assert air.prandtl == pytest.approx(prandtl, rel=tolerance)


def test_the_sanity_case_of_a_jar_at_the_limit():
    # Wall 80 mm by 90 mm at 60 degC, room 22 degC, emissivity 0.92; computed by hand with the
    # formulas' sources: Ra 2.09e6, Nu 20.17, h 6.15 and 6.49 W/m2K, 10.9 W.
    air = air_at(0.5 * (60.0 + 22.0) + 273.15)
    number = rayleigh(60.0 - 22.0, 0.090, air)
    convection = convection_w_per_m2k(60.0, 22.0, 0.090)
    radiation = radiation_w_per_m2(60.0, 22.0, 0.92)
    assert number == pytest.approx(2.09e6, rel=0.005)
    assert nusselt_vertical_plate(air.prandtl, number) == pytest.approx(20.17, abs=0.05)
    assert convection == pytest.approx(6.15, abs=0.02)
    assert radiation == pytest.approx(246.740, abs=0.001)
    assert radiation / 38.0 == pytest.approx(6.49, abs=0.005)
    area_m2 = 3.141593 * 0.080 * 0.090
    assert area_m2 * (convection * 38.0 + radiation) == pytest.approx(10.9, abs=0.05)


def test_the_candles_wall_loses_what_the_package_says():
    """An independent sum over the wall of a steady candle, ht's coefficient, against its ledger."""
    candle = Candle(
        WICKS["wick-6"], Room(start_c=22.0, warming_k_per_h=0.0), draught_share=0.0, seed=0
    )
    candle.light()
    candle.step(8 * 3600.0)
    before_j = candle.ledger.outside_j
    candle.step(600.0)
    lost_w = (candle.ledger.outside_j - before_j) / 600.0

    heights_mm = [7.5, 22.5, 37.5, 52.5, 67.5, 82.5]
    wall_c = [candle.wall_c(h, c) for h, c in itertools.product(heights_mm, (12, 3, 6, 9))]
    mean_c = sum(wall_c) / len(wall_c)
    film_k = 0.5 * (mean_c + 22.0) + 273.15
    # Handbook air between 300 K and 350 K (from memory, high), straight line.
    share = (film_k - 300.0) / 50.0
    viscosity, conductivity = 15.89e-6 + share * 5.03e-6, 0.0263 + share * 0.0037
    grashof = 9.81 / film_k * (mean_c - 22.0) * 0.090**3 / viscosity**2
    h = ht.Nu_vertical_plate_Churchill(0.706, grashof) * conductivity / 0.090

    cell_m2 = 3.141593 * 0.080 / 4 * 0.015
    cells_k = [(c + 273.15, 295.15) for c in wall_c]
    expected_w = sum(
        cell_m2 * (h * (wall_k - room_k) + 5.670374419e-8 * 0.92 * (wall_k**4 - room_k**4))
        for wall_k, room_k in cells_k
    )
    # The rim, a lip open on both faces, is extra: 2 x 5 mm of circumference, the same laws.
    rim_k = candle.rim_c + 273.15
    expected_w += (2 * 3.141593 * 0.080 * 0.005) * (
        h * (rim_k - 295.15) + 5.670374419e-8 * 0.92 * (rim_k**4 - 295.15**4)
    )
    assert lost_w == pytest.approx(expected_w, rel=0.01)
