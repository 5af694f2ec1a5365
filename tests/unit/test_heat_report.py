"""The heat of a burn place by place: fits, time over the lines, budgets, and how they are told."""

import math
from dataclasses import replace

import pytest

from logger.conditioning.calibration import Calibration, Correction
from logger.quantities import Kind
from logger.reports.place_heat import heat, warm_ups
from tests.support.burn_from_formula import (
    BASE,
    HAND,
    LIMITS,
    LIT_S,
    ROOM,
    ROOM_C,
    WALL_3,
    WALL_9,
    FormulaBurn,
    estimate,
)
from tests.support.record_page import page


def places(**burn):
    return {one.series.channel.name: one for one in FormulaBurn(fitted=True, **burn).record().heat}


def calibration(at_s, u):
    correction = Correction(offset=0.4, offset_uncertainty=u)
    return Calibration(at_s=at_s, who="Ines", reference="an ice bath", correction=correction)


def test_the_warm_up_of_every_place_is_fitted_above_the_room():
    found = places(peak_c=55.0)
    fit = found["wall-3"].warm_up
    assert fit.above_room
    # Newton's warming ends at 55 in a room that ends at 26
    assert fit.plateau_c == pytest.approx(55.0, abs=1.0)  # the fit allows for a climb besides
    assert abs(fit.rise_k - 29.0) < 2.0 * fit.rise_sd_k + 0.1
    assert fit.settled
    assert found["room"].warm_up is None


def test_a_short_burn_is_foretold_and_says_so():
    fit = places(length_s=3000.0)["wall-3"].warm_up
    assert not fit.settled
    assert "predicted" in page(length_s=3000.0, fitted=True).text


def test_a_plateau_above_all_that_was_measured_is_not_called_seen():
    found = places(peak_c=55.0)["wall-3"]
    assert found.plateau_seen
    fit = found.warm_up  # as of a candle put out at its limit: most of the slow rise was there
    higher = replace(found, warm_up=replace(fit, rise_k=fit.rise_k + 2.5))
    assert higher.warm_up.settled
    assert not higher.plateau_seen


def test_without_a_room_the_rise_is_above_the_first_value():
    fit = places(channels=(WALL_3, WALL_9))["wall-3"].warm_up
    assert not fit.above_room
    assert fit.base_c == pytest.approx(ROOM_C)


def test_time_over_each_line_is_that_of_the_formula():
    found = places(peak_c=65.0)["wall-3"]
    # 65 - 43 exp(-t / 1800 s) is over a line from 1800 ln(43 / (65 - line)) s on
    for over_s, line_c in ((found.over_alert_s, 57.0), (found.over_limit_s, 60.0)):
        since_s = 1800.0 * math.log((65.0 - ROOM_C) / (65.0 - line_c))
        assert over_s == pytest.approx(14_400.0 - since_s, abs=1.0)
    assert places(peak_c=55.0)["wall-3"].over_alert_s == 0.0


def test_what_comes_after_out_is_no_part_of_the_fit():
    series = FormulaBurn().series()
    whole = warm_ups(series, lit_s=LIT_S, until_s=LIT_S + 7200.0)
    assert whole["wall-3"].seen_s <= 7200.0


def budget(channel, *, u=0.8, repeatability=0.3, calibrations=None, more=()):
    peak = replace(estimate(channel.name, LIT_S + 7000.0, 70.0, u=u), repeatability=repeatability)
    burn = FormulaBurn(channels=(channel, ROOM), more=(peak, *more))
    found = heat(
        burn.series(),
        LIMITS.of(None),
        lit_s=LIT_S,
        until_s=burn.until_s,
        calibrations=calibrations or {},
    )
    parts = found[0].budget
    assert parts is None or len({part.name for part in parts.components}) == len(parts.components)
    return parts and {part.name: part.standard_uncertainty for part in parts.components}


def test_a_budget_is_of_the_highest_estimate_and_of_what_is_stated():
    assert budget(WALL_3) == {
        "repeatability": 0.3,
        "accuracy": pytest.approx(0.5 / math.sqrt(3.0)),
        "coupling": pytest.approx(0.1 / math.sqrt(3.0)),
    }
    unknown = budget(replace(WALL_3, coupling=None, accuracy=None))
    assert unknown["coupling"] == pytest.approx(1.5 / math.sqrt(3.0))
    assert unknown["accuracy"] == pytest.approx(2.5 / math.sqrt(3.0))  # assumed


def test_the_calibration_of_that_day_is_in_it():
    days = (calibration(LIT_S - 9e5, 0.1), calibration(LIT_S + 7100.0, 0.7))
    assert budget(WALL_3, calibrations={"wall-3": days})["calibration"] == pytest.approx(0.1)
    assert "calibration" not in budget(WALL_3, calibrations={"wall-3": days[1:]})


def test_what_the_lag_added_is_what_is_left():
    slow = replace(WALL_3, lag_s=8.0)
    left = math.sqrt(0.8**2 - 0.3**2 - (0.5**2 + 0.1**2) / 3.0)
    assert budget(slow)["lag"] == pytest.approx(left)


def test_an_infrared_place_mirrors_the_room_as_it_was_then():
    mirror = replace(WALL_3, emissivity=0.5, reflected="room", kind=Kind.INFRARED)
    stated = replace(mirror, reflected=26.0)
    assert budget(mirror) == pytest.approx(budget(stated), rel=0.02)
    assert budget(mirror)["reflected"] < budget(replace(mirror, reflected=None))["reflected"]


def test_what_a_person_read_has_no_budget_and_no_time_over_a_line():
    hand = estimate(HAND.name, LIT_S + 7000.0, 58.0)
    found = places(channels=(WALL_3, HAND, ROOM), more=(hand,))[HAND.name]
    assert (found.budget, found.warm_up, found.over_alert_s) == (None, None, None)
    assert found.warmest.bound_c > 58.6  # but its figure is referred to the warmest room


def test_the_page_tells_it_place_by_place():
    given = {"wall-3": (calibration(LIT_S - 60.0, 0.1),)}
    text = page(peak_c=58.5, fitted=True, calibrations=given, outlook="Fewer than three").text
    heat_ = text[text.index("Heat Place") : text.index("Alarms")]
    for words in (
        "A wall, 60 mm, 3 o'clock 32.5 °C ± ",
        "above the room",
        "°C, seen",
        "at once, within about",
        "In a room of 27.0 °C",
        "at most 60.3 °C",
        "calibration 0.10 °C (against an ice bath, by Ines)",
        "a measured figure is never lowered. Fewer than three.",
    ):
        assert words in heat_
    top = text[: text.index("What was measured")]
    assert "In a room of 27.0 °C it may reach 60.3 °C, over the limit." in top


def test_hostile_references_stay_text():
    hostile = replace(calibration(LIT_S - 60.0, 0.1), reference="<script>x</script>")
    found = page(fitted=True, calibrations={"wall-3": (hostile,)})
    assert "script" not in found.tags
    assert "<script>x</script>" in found.text


def test_a_record_without_any_instrument_is_whole_too():
    assert "no instrument gave a good figure" in page(channels=(HAND,), fitted=True).text
    assert "Heat" in page(channels=(BASE,), fitted=True).text
