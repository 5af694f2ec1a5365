"""What all own trials showed, against figures reckoned by hand."""

import math
from dataclasses import replace

import pytest

from logger.burn.consumption import consumption
from logger.decision.own_trials import own_trials
from logger.quantities import DEGF
from logger.reports.own_trials_chart import own_trials_chart
from logger.reports.own_trials_messages import own_trial_lines, own_trials_message
from logger.shelf.recipes import FormulaRecord
from logger.shelf.vessels import VesselRecord
from logger.shelf.wicks import WickRecord
from logger.words import Words
from tests.support.trials import burned, trial


def vessel(width_mm):
    return VesselRecord(name=f"jar {width_mm:g}", inner_diameter_mm=width_mm)


def weighed(facts):
    return replace(facts, weighed=consumption([one.burn for one in facts.burns]))


TRIALS = (
    trial(
        "wide",
        burned(0, 50.0, room_c=22.0, before_g=300.0, after_g=276.0),
        burned(1, 54.0, room_c=23.0, before_g=276.0, after_g=248.0),
        vessel=vessel(75.0),
        wick=WickRecord(name="M6", series="Marrow flat braid"),
        formula=FormulaRecord(name="slate 8"),
    ),
    trial("narrow", burned(0, 47.0, room_c=None), vessel=vessel(60.0)),
    trial("no vessel", burned(0, 47.0)),
    trial("small", burned(0, 45.0), vessel=vessel(60.0)),
)


def test_the_hottest_burn_above_its_room_and_the_wax_of_all_hours():
    small, wide = own_trials(
        map(weighed, TRIALS)
    )  # "narrow" has neither a measured room nor a weighing
    assert (small.trial, small.inner_diameter_mm, small.rate_g_per_h) == ("small", 60.0, None)
    assert wide.rise_k.value == pytest.approx(31.0)  # 54 - 23, not 50 - 22
    # 0.5 of the place and 0.1 of the room
    assert wide.rise_k.standard_uncertainty == pytest.approx(math.hypot(0.5, 0.1))
    assert wide.rate_g_per_h.value == pytest.approx(52.0 / 8.0)
    first, second = own_trial_lines([small, wide], Words())
    assert first == "60 mm  small; undecided; 23.0 °C ± 1.0 above the room"
    assert "75 mm  wide; Marrow flat braid, M6, slate 8" in second
    assert "31.0 °C ± 1.0 above the room; 6.5 g ±" in second
    message = own_trials_message([small, wide])["trials"]
    assert message[0]["consumption"] is None
    assert message[1]["rise"]["value"] == pytest.approx(31.0)


def test_the_drawing_has_a_bar_for_each_figure():
    found = own_trials(map(weighed, TRIALS))
    drawing = own_trials_chart(found, Words())
    assert drawing.count('stroke-width="1.5"') == 3  # two heats, one consumption
    assert ">75<" in drawing
    in_fahrenheit = own_trials_chart(found, Words(temperature_in=DEGF))
    assert "Above the room, °F" in in_fahrenheit
    unweighed = [replace(one, rate_g_per_h=None) for one in found]
    assert "not measured yet" in own_trials_chart(unweighed, Words())
    assert list(own_trial_lines([], Words())) == [
        "no trial yet has a vessel of known inner diameter and a measured burn"
    ]
