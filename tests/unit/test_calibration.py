"""Calibration: lines, their uncertainty, and which record holds on a day."""

import math
import random
from dataclasses import replace

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from logger.conditioning.calibration import (
    USUAL,
    Calibration,
    Correction,
    Point,
    bench_pressure_hpa,
    boiling_c,
    boiling_uncertainty_k,
    fitted,
    from_ice_and_boiling,
    from_points,
    from_two_points,
    in_force,
)
from logger.errors import DataError
from logger.quantities import Quantity
from tests.support.fuzzing import EXAMPLES

FIGURES = st.floats(-50.0, 150.0)
UNCERTAINTIES = st.floats(0.0, 2.0)


def test_offset_alone():
    correction = Correction(offset=-0.3, offset_uncertainty=0.1)
    assert correction.applied(57.0) == pytest.approx(56.7)
    assert correction.uncertainty_at(57.0) == correction.uncertainty_at(0.0) == 0.1


@given(FIGURES, st.floats(-0.15, 0.15), FIGURES, FIGURES)
def test_a_correction_can_be_undone(offset, slope, about, value):
    correction = Correction(offset=offset, slope=slope, about=about)
    assert correction.undone(correction.applied(value)) == pytest.approx(value, abs=1e-9)


def test_one_point_is_an_offset_two_a_line_and_more_a_fit():
    def point(shown, reference):
        return Point(shown=shown, reference=reference, standard_uncertainty=0.1)

    one = from_points([point(50.0, 49.7)])
    assert (one.at(0.0), one.slope, one.uncertainty_at(90.0)) == (pytest.approx(-0.3), 0.0, 0.1)
    two = from_points([point(20.0, 20.2), point(60.0, 59.8)])
    assert two.at(40.0) == pytest.approx(0.0)
    assert two.uncertainty_at(20.0) == pytest.approx(0.1)
    three = [point(20.0, 20.2), point(40.0, 40.0), point(60.0, 59.8)]
    exact = from_points(three)
    assert exact.at(30.0) == pytest.approx(0.1)
    # points on a line have no scatter; what is left is the reference they share
    assert exact.uncertainty_at(40.0) == pytest.approx(0.1)
    with pytest.raises(DataError, match="no point"):
        from_points([])


@pytest.mark.parametrize("count", [1, 2, 3, 8])
def test_points_without_an_uncertainty_take_the_usual_one(count):
    """Even where they lie on a line by luck: the reference that they share may be off."""
    points = [Point(shown=20.0 + 5.0 * i, reference=20.3 + 5.0 * i) for i in range(count)]
    middle = 20.0 + 2.5 * (count - 1)
    usual = USUAL[Quantity.TEMPERATURE]
    line = from_points(points, usual)
    assert line.uncertainty_at(middle) >= usual.reference > 0.5
    assert not line.stated
    assert from_points([replace(p, standard_uncertainty=0.1) for p in points]).stated


def test_ice_and_boiling_water_make_a_line_with_the_pressure_in_its_uncertainty():
    line = from_ice_and_boiling(
        0.2, 99.1, pressure_hpa=1002.0, pressure_uncertainty_hpa=5.0, standard_uncertainty_k=0.05
    )
    assert line.applied(0.2) == pytest.approx(0.0)
    assert line.applied(99.1) == pytest.approx(99.66, abs=0.01)  # boiling at 1002 hPa
    assert line.uncertainty_at(0.2) == pytest.approx(math.hypot(0.06, 0.05))
    assert line.uncertainty_at(99.1) == pytest.approx(math.hypot(5.0 * 0.0276, 0.05), rel=0.01)


def test_ice_and_boiling():
    ice = Point(shown=0.4, reference=0.0, standard_uncertainty=0.1)
    boiling = Point(shown=98.2, reference=99.0, standard_uncertainty=0.3)
    line = from_two_points(ice, boiling)
    assert line.applied(0.4) == pytest.approx(0.0)
    assert line.applied(98.2) == pytest.approx(99.0)
    assert line.applied(49.3) == pytest.approx(49.5)
    # at each point its own uncertainty; half-way half of both together
    assert line.uncertainty_at(0.4) == pytest.approx(0.1)
    assert line.uncertainty_at(98.2) == pytest.approx(0.3)
    assert line.uncertainty_at(49.3) == pytest.approx(math.hypot(0.1, 0.3) / 2)


@given(st.floats(-20.0, 40.0), st.floats(50.0, 150.0), UNCERTAINTIES, UNCERTAINTIES, FIGURES)
@settings(max_examples=EXAMPLES, derandomize=True, deadline=None)
def test_two_points_interpolate_their_uncertainties(low, high, u_low, u_high, at):
    points = [
        Point(shown=low, reference=low + 0.2, standard_uncertainty=u_low),
        Point(shown=high, reference=high - 0.7, standard_uncertainty=u_high),
    ]
    line, turned = from_two_points(*points), from_two_points(*reversed(points))
    share = (at - low) / (high - low)
    # two independent errors, each weighted as the line through the points weights it (GUM 5.1.2)
    expected = math.hypot((1 - share) * u_low, share * u_high)
    assert line.uncertainty_at(at) == pytest.approx(expected, abs=1e-6)
    assert turned.uncertainty_at(at) == pytest.approx(expected, abs=1e-6)
    assert line.at(at) == pytest.approx(0.2 - 0.9 * share, abs=1e-9)
    assert turned.at(at) == pytest.approx(line.at(at), abs=1e-9)


def test_uncertainty_of_a_fit_is_the_spread_of_repeated_calibrations():
    rng = random.Random(3)
    shown = [20.0, 30.0, 45.0, 60.0, 70.0]
    fits = [
        fitted([Point(shown=x, reference=x + 0.5 - 0.01 * x + rng.gauss(0.0, 0.2)) for x in shown])
        for _ in range(2000)
    ]
    at_80 = [fit.correction.at(80.0) for fit in fits]
    mean = sum(at_80) / len(at_80)
    spread = math.sqrt(sum((b - mean) ** 2 for b in at_80) / len(at_80))
    stated = math.sqrt(sum(fit.correction.uncertainty_at(80.0) ** 2 for fit in fits) / len(fits))
    assert mean == pytest.approx(0.5 - 0.8, abs=0.02)  # 4 standard errors of 0.16/sqrt(2000)
    assert stated == pytest.approx(spread, rel=0.08)  # 2000 trials know a spread to 1.6 %


def test_points_on_a_line_leave_no_scatter():
    fit = fitted([Point(shown=x, reference=1.02 * x - 0.4) for x in (10.0, 20.0, 50.0)])
    assert fit.scatter == pytest.approx(0.0, abs=1e-12)
    assert fit.points == 3
    assert fit.correction.applied(100.0) == pytest.approx(101.6)


def test_too_few_points_or_all_alike_are_refused():
    here, there = Point(shown=20.0, reference=20.1), Point(shown=60.0, reference=60.2)
    with pytest.raises(DataError, match="3 or more"):
        fitted([here, there])
    with pytest.raises(DataError, match="far apart"):
        fitted([here, here, here])
    with pytest.raises(DataError, match="far apart"):
        from_two_points(here, here)


def test_swapped_points_and_wrong_units_are_refused():
    with pytest.raises(DataError, match="check units"):
        from_two_points(Point(shown=0.3, reference=99.0), Point(shown=98.0, reference=0.0))
    with pytest.raises(DataError, match="check units"):
        fitted([Point(shown=1.8 * c + 32, reference=c) for c in (0.0, 50.0, 100.0)])


@pytest.mark.parametrize(
    "figures",
    [
        {"offset": math.nan},
        {"offset": 0.1, "slope": math.inf},
        {"offset": 0.1, "covariance": math.nan},
        {"offset": 0.1, "offset_uncertainty": -0.1},
        {"offset": 0.1, "slope_uncertainty": -0.1},
    ],
)
def test_figures_that_cannot_be_are_refused(figures):
    with pytest.raises(DataError, match="calibration"):
        Correction(**figures)


def record(at_s, reference="ice bath"):
    return Calibration(at_s=at_s, who="mo", reference=reference, correction=Correction(offset=0.1))


def test_a_burn_keeps_the_calibration_of_its_day():
    spring, summer = record(1000.0), record(2000.0)
    for records in ([spring, summer], [summer, spring]):
        assert in_force(records, 999.0) is None
        assert in_force(records, 1000.0) is spring
        assert in_force(records, 1999.0) is spring
        assert in_force(records, 2000.0) is summer
        assert in_force(records, 9000.0) is summer
    assert in_force([], 9000.0) is None


def test_a_correction_entered_for_the_same_moment_replaces_the_first():
    first, second = record(1000.0), record(1000.0, "ice bath, entered again")
    assert in_force([first, second], 1500.0) is second


@pytest.mark.parametrize("pressure_hpa", [499.0, 1101.0, 101_325.0, 29.92, math.nan])
def test_a_pressure_in_another_unit_is_refused(pressure_hpa):
    with pytest.raises(DataError, match="check the unit"):
        boiling_c(pressure_hpa)


def test_boiling_point_rises_with_pressure_and_its_uncertainty_with_that_of_the_pressure():
    points = [boiling_c(float(p)) for p in range(500, 1101, 10)]
    assert points == sorted(points)
    swing_k = (boiling_c(1002.0) - boiling_c(998.0)) / 2
    assert boiling_uncertainty_k(1000.0, 2.0) == pytest.approx(swing_k, rel=0.01)


@pytest.mark.parametrize(("sea_level_hpa", "altitude_m"), [(700, 0), (1013, 6000), (math.nan, 0)])
def test_impossible_air_is_refused(sea_level_hpa, altitude_m):
    with pytest.raises(DataError, match="sea-level pressure"):
        bench_pressure_hpa(sea_level_hpa, altitude_m)
