"""Infrared: display and surface are each other's inverse; slopes and refusals hold."""

import math

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from logger.conditioning.infrared import (
    FINISHES,
    apparent_c,
    emissivity_from_patch,
    surface,
)
from logger.errors import DataError
from tests.support.fuzzing import EXAMPLES

SETTINGS = st.floats(0.3, 1.0)
TEMPERATURES_C = st.floats(0.0, 200.0)


@given(TEMPERATURES_C, SETTINGS, SETTINGS, st.floats(0.0, 60.0))
@settings(max_examples=EXAMPLES, derandomize=True, deadline=None)
def test_display_and_surface_are_inverse(true_c, emissivity, emissivity_set, reflected_c):
    seen = {"reflected_c": reflected_c, "emissivity": emissivity}
    try:
        shown_c = apparent_c(true_c, emissivity_set=emissivity_set, **seen)
    except DataError:
        return  # a setting far from the truth shows nothing on the scale
    found = surface(shown_c, emissivity_set=emissivity_set, **seen)
    assert found.celsius == pytest.approx(true_c, abs=1e-8)
    if emissivity_set == emissivity:
        assert shown_c == pytest.approx(true_c, abs=1e-8)
    elif emissivity_set > emissivity:  # the display lies between surface and surroundings
        low_c, high_c = sorted((true_c, reflected_c))
        assert low_c - 1e-8 <= shown_c <= high_c + 1e-8


@given(st.floats(40.0, 200.0), st.floats(0.5, 0.98), SETTINGS, st.floats(0.0, 60.0))
@settings(max_examples=EXAMPLES, derandomize=True, deadline=None)
def test_slopes_against_differences(shown_c, emissivity, emissivity_set, reflected_c):
    def celsius(shown=0.0, emissivity_=0.0, reflected=0.0):
        return surface(
            shown_c + shown,
            emissivity=emissivity + emissivity_,
            emissivity_set=emissivity_set,
            reflected_c=reflected_c + reflected,
        ).celsius

    found = surface(
        shown_c,
        emissivity=emissivity,
        emissivity_set=emissivity_set,
        reflected_c=reflected_c,
    )
    d = 1e-3
    assert found.per_apparent == pytest.approx((celsius(d) - celsius(-d)) / (2 * d), abs=1e-6)
    by_emissivity = (celsius(emissivity_=d) - celsius(emissivity_=-d)) / (2 * d)
    assert found.per_emissivity_k == pytest.approx(by_emissivity, rel=2e-4, abs=1e-3)
    by_reflected = (celsius(reflected=d) - celsius(reflected=-d)) / (2 * d)
    assert found.per_reflected == pytest.approx(by_reflected, abs=1e-6)


def test_a_surface_as_warm_as_its_surroundings_needs_no_correction():
    found = surface(25.0, emissivity=0.5, reflected_c=25.0)
    assert found.celsius == pytest.approx(25.0, abs=1e-9)
    assert found.emissivity_uncertainty_k == 0.0


def test_emissivity_uncertainty_is_the_spread_of_a_rectangle():
    # 0.03 either way in emissivity, taken as rectangular: half the full swing over root three
    at = [surface(57.5, emissivity=e, reflected_c=25.0).celsius for e in (0.89, 0.95)]
    found = surface(57.5, emissivity=0.92, reflected_c=25.0)
    assert found.emissivity_uncertainty_k == pytest.approx((at[0] - at[1]) / 2 / 3**0.5, rel=0.005)


@pytest.mark.parametrize("emissivity", [0.0, -0.1, 1.01, math.nan])
def test_impossible_emissivity_is_refused(emissivity):
    with pytest.raises(DataError, match=r"0\.01 to 1"):
        surface(57.5, emissivity=emissivity, reflected_c=25.0)
    with pytest.raises(DataError, match=r"0\.01 to 1"):
        surface(57.5, emissivity=0.92, emissivity_set=emissivity, reflected_c=25.0)


@pytest.mark.parametrize("temperature_c", [-71.0, 1001.0, math.nan, math.inf])
def test_temperatures_off_the_scale_are_refused(temperature_c):
    with pytest.raises(DataError, match="no infrared thermometer shows such"):
        surface(temperature_c, emissivity=0.92, reflected_c=25.0)
    with pytest.raises(DataError, match="no infrared thermometer shows such"):
        surface(57.5, emissivity=0.92, reflected_c=temperature_c)


@pytest.mark.parametrize(("shown_c", "reflected_c"), [(0.0, 60.0), (990.0, 20.0)])
def test_reading_that_emissivity_and_reflection_cannot_make_is_refused(shown_c, reflected_c):
    with pytest.raises(DataError, match="check emissivity and reflected"):
        surface(shown_c, emissivity=0.2, reflected_c=reflected_c)


def test_patch_finds_the_emissivity():
    bare_c = apparent_c(60.0, emissivity=0.63, reflected_c=22.0)
    found = emissivity_from_patch(bare_c, patch_c=60.0, reflected_c=22.0)
    assert found == pytest.approx(0.63, abs=1e-9)


def test_patch_too_near_the_room_or_at_odds_with_it_is_refused():
    with pytest.raises(DataError, match="too close together"):
        emissivity_from_patch(30.0, patch_c=31.9, reflected_c=22.0)
    with pytest.raises(DataError, match="measure both again"):
        emissivity_from_patch(61.0, patch_c=60.0, reflected_c=22.0)
    with pytest.raises(DataError, match="measure both again"):
        emissivity_from_patch(20.0, patch_c=60.0, reflected_c=22.0)


def test_finishes_that_are_not_bare_glass_say_so():
    for name in ("painted", "metallised", "mirrored"):
        assert "not bare glass" in FINISHES[name].note
    assert FINISHES["metallised"].emissivity is None
    assert FINISHES["mirrored"].emissivity is None
    for finish in FINISHES.values():
        assert finish.emissivity is None or 0.0 < finish.emissivity < 1.0
