"""What to try next, and with which sizes to begin: never to a hotter glass unseen."""

from dataclasses import replace

import pytest

from logger.burn.entries import Danger
from logger.burn.heat import LastQuarter
from logger.burn.stated import SELF_EXTINGUISHED, Ending
from logger.decision.criteria import Outcome
from logger.decision.in_trial import Makeup
from logger.decision.next_step import Step
from logger.decision.outlook import Outlook
from logger.decision.starting_sizes import KnownSize, starting_sizes
from logger.shelf.wicks import WickRecord
from logger.words import Words
from tests.support.whole_trial import GOOD, OneBurn, measured, six, verdict_on

SERIES = tuple(WickRecord(name=f"M{n}", series="Marrow", order=n) for n in range(3, 12))
MAKEUP = Makeup(wick=SERIES[3], series=SERIES)  # M6
SMALL = replace(GOOD, flame_mm=(10.0,))  # a low flame: a sign of too small a wick, no more
LATE = Outlook(
    text="expected to peak at 57.0 °C (54.0 to 59.9 °C)",
    last_quarter=LastQuarter(peak_c=57.0, low_c=54.0, high_c=59.9, level=0.9, burns=4),
)
TOO_LATE = replace(LATE, last_quarter=replace(LATE.last_quarter, high_c=60.1))


def step_of(burns, **more):
    return verdict_on(burns, makeup=more.pop("makeup", MAKEUP), **more).next_step


def small(count, **more):
    return [OneBurn(look=SMALL, **more) for _ in range(count)]


def test_one_that_passed_stays():
    found = step_of(six())
    assert (found.step, found.hot, found.cold) == (Step.STAY, (), ())
    burned_already = step_of(six(), outlook=TOO_LATE)  # the last quarter is no forecast any more
    assert burned_already.hot == ()


def test_no_size_up_before_half_of_the_wax_is_gone():
    found = step_of(small(2), left=0.55)
    assert found.step is Step.STAY
    assert "no size up before half of the wax is gone (so far 45 %)" in found.reason
    unknown = step_of(small(2, weighed=False))
    assert unknown.step is Step.STAY
    assert "how much is not known" in unknown.reason


def test_past_it_a_size_up_shows_what_the_last_quarter_is_expected_to_reach():
    found = step_of(small(3), left=0.45, outlook=LATE)
    assert (found.step, found.wick) == (Step.ONE_UP, "M7")
    assert found.expected == LATE.text


def test_and_is_withheld_where_its_bound_is_over_the_limit():
    found = step_of(small(3), left=0.45, outlook=TOO_LATE)
    assert found.step is Step.ANOTHER_VESSEL
    assert "a size up is withheld: the last quarter may reach 60.1 °C" in found.reason
    assert found.conflicting  # too small by its flame, too hot by its end: both are shown
    hot = measured(peak_c=59.8)  # 60.4 with its uncertainty
    assert step_of(small(3, evidence=hot), left=0.45).step is not Step.ONE_UP


@pytest.mark.parametrize(
    "look",
    [
        pytest.param(replace(GOOD, wick="drowning"), id="drowning"),
        pytest.param(replace(GOOD, full_pool="no", hang_up_mm=12.0), id="tunnelling"),
    ],
)
def test_drowning_or_tunnelling_may_go_up_at_once(look):
    assert step_of([OneBurn(look=look)], left=0.8).step is Step.ONE_UP
    withheld = step_of([OneBurn(look=look)], left=0.8, outlook=TOO_LATE)
    assert withheld.step is not Step.ONE_UP


def test_one_that_drowned_before_half_of_its_wax_goes_up():
    out = {"ending": Ending(ended=SELF_EXTINGUISHED)}
    found = step_of([OneBurn(), OneBurn(changes=out)], left=0.6)
    assert (found.step, found.cold[-1].urgent) == (Step.ONE_UP, True)


@pytest.mark.parametrize(
    "burn",
    [
        OneBurn(evidence=measured(peak_c=62.0)),
        OneBurn(look=replace(GOOD, flame_mm=(85.0,))),
        OneBurn(look=replace(GOOD, soot=3)),
        OneBurn(look=replace(GOOD, pool_depth_mm=14.0, flame_mm=(45.0,))),
        OneBurn(changes={"danger": Danger.FLAME_TOO_HIGH}),
    ],
)
def test_too_hot_goes_down(burn):
    found = step_of([burn])
    assert (found.step, found.wick) == (Step.ONE_DOWN, "M5")


def test_a_pool_that_is_full_early_is_a_sign_of_heat_and_no_merit():
    early = step_of([OneBurn(look_h=1.0)], left=0.8)  # of 75 mm: 3 h are usual
    assert "no merit, but a sign of heat" in early.hot[0].text
    assert early.step is Step.STAY
    assert step_of([OneBurn(look_h=3.0)], left=0.8).hot == ()


@pytest.mark.parametrize(
    ("danger", "step"),
    [(Danger.CRACK, Step.ANOTHER_VESSEL), (Danger.FLASH_OVER, Step.STOP)],
)
def test_danger_stops_it(danger, step):
    assert step_of([OneBurn(changes={"danger": danger})]).step is step


def test_conflicting_signs_are_shown_as_such():
    both = [OneBurn(look=SMALL, evidence=measured(peak_c=62.0))]
    found = step_of(both)
    assert found.conflicting
    assert found.step is Step.ANOTHER_VESSEL
    wide = step_of([replace(both[0], changes={"inner_diameter_mm": 95.0})])
    assert wide.step is Step.MORE_WICKS
    assert "contradict one another" in wide.reason


def known(order, width_mm, outcome=Outcome.PASS, step=None):
    return KnownSize(
        trial=f"M{order} in {width_mm}", order=order, inner_diameter_mm=width_mm, outcome=outcome,
        step=step,
    )  # fmt: skip


def sizes(*found, width_mm=80.0):
    return starting_sizes(found, SERIES, width_mm, Words())


def test_a_new_vessel_begins_with_three_neighbours_on_the_line_of_your_verdicts():
    found = sizes(known(5, 65.0), known(7, 75.0))  # a size for 5 mm
    assert found.wicks == ("M7", "M8", "M9")
    assert "the nearest is M7 in 75.0, 75 mm wide" in found.reason


def test_one_vessel_alone_gives_its_own_size_and_its_neighbours():
    assert sizes(known(6, 78.0)).wicks == ("M5", "M6", "M7")
    assert "little more than a guess" in sizes(known(6, 50.0)).reason


def test_sizes_that_were_wrong_in_a_vessel_as_wide_are_left_out():
    hot = known(7, 79.0, Outcome.FAIL, Step.ONE_DOWN)
    assert sizes(known(6, 70.0), hot).wicks == ("M4", "M5", "M6")


def test_nothing_is_made_up_where_nothing_passed():
    found = sizes(known(6, 78.0, Outcome.UNDECIDED))
    assert found.wicks == ()
    assert "No trial of yours has passed" in found.reason
