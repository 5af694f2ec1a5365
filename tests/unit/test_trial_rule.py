"""The verdict on a trial: it passes only where nothing that decides is missing."""

from dataclasses import replace

import pytest

from logger.burn.entries import Danger
from logger.burn.limits import CriterionValue
from logger.burn.look import Look
from logger.burn.stated import SELF_EXTINGUISHED, Ending
from logger.decision.criteria import Outcome
from logger.decision.heat_criteria import WALL_LIMIT
from logger.decision.in_trial import Makeup
from logger.decision.outlook import Outlook
from logger.decision.trial_rule import CRITERIA, TrialEvidence, judge_trial
from logger.quantities import BY_HAND, Position, Quality
from logger.settings.criterion_keys import default_criteria
from logger.words import Words
from tests.support.burn_from_formula import (
    BASE,
    LIT_S,
    ROOM,
    WALL_3,
    WALL_9,
    channel,
    estimate,
    warming,
)
from tests.support.whole_trial import (
    AFTER,
    GOOD,
    LOW,
    OneBurn,
    deciding,
    measured,
    outcome_of,
    six,
    verdict_on,
)


def test_a_candle_burned_to_its_end_and_looked_at_passes():
    verdict = verdict_on(six())
    assert deciding(verdict) == ""
    assert verdict.outcome is Outcome.PASS
    assert {one.criterion for one in verdict.criteria} == set(CRITERIA)
    assert verdict.lots == ("wax, lot A7",)
    assert verdict.weaker == ()
    assert verdict.smallest_next_burn is None
    assert "It rests on one candle" in " ".join(gap.text for gap in verdict.missing)


def test_every_figure_says_whose_it_is():
    verdict = verdict_on(six())
    origins = {one.criterion.name: one.origin for one in verdict.judgements}
    assert origins["flame-height"] == "default: EN 15493, seen as quoted"
    assert origins["hang-up"] == "default: common practice"
    assert "common practice" in origins["wall-limit"]


def without(look, *names):
    empty = Look()
    return replace(look, **{name: getattr(empty, name) for name in names})


BARE_LAST = {"look": without(GOOD, "flame_mm")}


@pytest.mark.parametrize(
    ("burns", "told"),
    [
        pytest.param(lambda: [], "Nothing was burned yet", id="no burn"),
        pytest.param(lambda: six()[:5], "not burned to its end", id="not to its end"),
        pytest.param(
            lambda: [replace(one, weighed=False) for one in six()],
            "nobody weighed",
            id="not weighed",
        ),
        pytest.param(lambda: six(**BARE_LAST), "and not by the last", id="the last flame not seen"),
        pytest.param(
            lambda: [replace(one, look=without(GOOD, "soot")) for one in six()],
            "does not smoke: shown by 0 of 6",
            id="soot never seen",
        ),
        pytest.param(
            lambda: [replace(one, after=None) for one in six()],
            "Nothing but the wick burns: shown by 0 of 6",
            id="nobody stayed",
        ),
        pytest.param(
            lambda: [replace(one, look=without(GOOD, "full_pool")) for one in six()],
            "melt pool reaches the wall by hour 4",
            id="pool never seen",
        ),
        pytest.param(
            lambda: [replace(one, look=without(GOOD, "wax_level_mm")) for one in six()],
            "Nobody recorded where the top of the wax was",
            id="level not known",
        ),
        pytest.param(
            lambda: [replace(one, look=replace(GOOD, wax_level_mm=71.0)) for one in six()],
            "not measured within 10 mm of the top of the wax (71 mm)",
            id="measured elsewhere",
        ),
        pytest.param(
            lambda: six(evidence=measured(channels=(WALL_3, WALL_9, LOW, ROOM))),
            "In the last quarter of the wax the base was not measured",
            id="no base at the end",
        ),
        pytest.param(
            lambda: six(evidence=measured(channels=(WALL_3, WALL_9, BASE, ROOM))),
            "the lowest 15 mm of the wall was not measured",
            id="no low wall at the end",
        ),
        pytest.param(
            lambda: [replace(one, evidence=measured(channels=(WALL_3, WALL_9, LOW, BASE)))
             for one in six()],
            "The room was as the maker tests in: shown by 0 of 6",
            id="no room",
        ),
        pytest.param(
            lambda: [replace(one, evidence=measured(length_s=10_000.0)) for one in six()],
            "shorter than the maker's longest burn",
            id="never a full burn",
        ),
    ],
)  # fmt: skip
def test_it_never_passes_on_thin_evidence(burns, told):
    verdict = verdict_on(burns())
    assert verdict.outcome is Outcome.UNDECIDED
    assert told in deciding(verdict)
    assert str(verdict.smallest_next_burn)


def test_the_wax_s_top_is_known_ten_millimetres_away_and_not_eleven():
    near = [replace(one, look=replace(GOOD, wax_level_mm=70.0)) for one in six()]
    assert verdict_on(near).outcome is Outcome.PASS


def test_one_burn_that_lacks_something_is_made_up_for_by_another_candle():
    blind = measured(channels=(WALL_3, LOW, BASE, ROOM))  # one side alone
    burns = six()
    burns[2] = replace(burns[2], evidence=blind)
    alone = verdict_on(burns)
    assert alone.outcome is Outcome.UNDECIDED
    assert alone.smallest_next_burn.like == ("3",)
    again = OneBurn(tester="M7", share=0.40)
    assert verdict_on([*burns[:5], again, burns[5]]).outcome is Outcome.PASS
    other_part = replace(again, share=0.6)
    assert verdict_on([*burns[:5], other_part, burns[5]]).outcome is Outcome.UNDECIDED


@pytest.mark.parametrize(
    ("look", "name", "outcomes"),
    [
        ("flame_mm", "flame-height", {70.0: "pass", 70.1: "undecided", 80.0: "undecided",
                                      80.1: "fail"}),
        ("soot", "soot", {1: "pass", 2: "fail"}),
        ("smoke", "soot", {1: "pass", 2: "fail"}),
        ("mushrooming", "mushrooming", {1: "pass", 2: "fail"}),
        ("pool_depth_mm", "pool-depth", {17.0: "pass", 17.5: "undecided", 21.5: "fail"}),
        ("hang_up_mm", "hang-up", {2.0: "pass", 3.0: "undecided", 4.5: "fail"}),
    ],
)  # fmt: skip
def test_each_criterion_at_its_edges(look, name, outcomes):
    for value, outcome in outcomes.items():
        seen = replace(GOOD, **{look: (value,) if look == "flame_mm" else value})
        verdict = verdict_on(six(look=seen))
        assert (value, outcome_of(verdict, name)) == (value, outcome)
        assert verdict.outcome == outcome


@pytest.mark.parametrize(
    ("changes", "name", "outcome"),
    [
        ({"after": replace(AFTER, after_smoke_s=28.0)}, "after-smoke", "pass"),
        ({"after": replace(AFTER, after_smoke_s=32.1)}, "after-smoke", "fail"),
        ({"after": replace(AFTER, reignited="yes")}, "secondary-ignition", "fail"),
    ],
)
def test_what_is_seen_once_it_is_out(changes, name, outcome):
    verdict = verdict_on(six(**changes))
    assert outcome_of(verdict, name) == outcome


@pytest.mark.parametrize(
    ("rate", "reach", "outcome"),
    [(3.5, 0.5, "pass"), (3.4, 0.5, "undecided"), (2.4, 0.5, "fail"), (8.6, 0.5, "fail")],
)
def test_consumption_counts_its_interval_on_either_side(rate, reach, outcome):
    assert outcome_of(verdict_on(six(), rate=rate, reach=reach), "consumption") == outcome
    two = verdict_on(six(), rate=2.0 * rate, reach=2.0 * reach, makeup=Makeup(wicks=2))
    assert outcome_of(two, "consumption") == outcome


@pytest.mark.parametrize(
    ("left", "outcome"), [(0.02, "pass"), (0.01, "undecided"), (0.14, "pass"), (0.2, "fail")]
)
def test_the_wax_left_when_it_goes_out_by_itself(left, outcome):
    assert outcome_of(verdict_on(six(), left=left), "wax-left") == outcome


def test_a_candle_that_goes_out_in_the_middle_of_its_life_fails():
    burns = six()
    burns[2] = replace(burns[2], changes={"ending": Ending(ended=SELF_EXTINGUISHED)})
    assert outcome_of(verdict_on(burns), "wax-left") == "fail"


@pytest.mark.parametrize(
    ("first", "second", "third", "outcome"),
    [
        ("", "yes", "", "pass"),
        ("", "no", "yes", "pass"),
        ("", "no", "", "undecided"),
        ("", "no", "no", "fail"),
        ("", "yes", "no", "fail"),
        ("no", "", "", "undecided"),  # nothing is asked of the first
        ("yes", "", "", "pass"),
    ],
)
def test_the_pool_is_judged_in_the_second_and_third_burn(first, second, third, outcome):
    burns = [replace(one, look=without(GOOD, "full_pool")) for one in six()]
    for number, full in enumerate((first, second, third)):
        look = replace(GOOD, full_pool=full)
        burns[number] = replace(burns[number], look=look, look_h=3.97)
    assert outcome_of(verdict_on(burns), "melt-pool-full") == outcome


@pytest.mark.parametrize("danger", [Danger.CRACK, Danger.FLASH_OVER, Danger.FLAME_TOO_HIGH])
def test_a_reported_danger_fails_the_trial(danger):
    burns = six()
    burns[1] = replace(burns[1], changes={"danger": danger})
    verdict = verdict_on(burns)
    assert verdict.outcome is Outcome.FAIL
    assert (outcome_of(verdict, "vessel-intact") == "fail") is (danger is Danger.CRACK)


def test_relit_warm_is_another_test():
    burns = six()
    burns[3] = replace(burns[3], changes={"rested_s": 7200.0})
    verdict = verdict_on(burns)
    assert outcome_of(verdict, "cool-down") == "undecided"
    assert "it had been out for 2 h" in verdict.deciding.reason


UNSTATED = replace(WALL_3, accuracy=None, coupling=None)


@pytest.mark.parametrize(("peak_c", "outcome"), [(55.4, Outcome.PASS), (55.6, Outcome.UNDECIDED)])
def test_an_unstated_accuracy_decides_nothing_within_its_kind_s_limit(peak_c, outcome):
    """Contact: 2.5 K (from memory), however small its scatter; and 6 % of its rise above 22 degC
    for the sides that nobody measured: 55.49 + 2.5 + 2.01 = 60.
    """
    close = measured(peak_c=peak_c, u=0.3, channels=(UNSTATED, WALL_9, LOW, BASE, ROOM))
    verdict = verdict_on([replace(one, evidence=close) for one in six()])
    assert outcome_of(verdict, WALL_LIMIT.name) is outcome
    stated = measured(peak_c=peak_c, u=0.3)
    known = verdict_on([replace(one, evidence=stated) for one in six()])
    assert known.outcome is Outcome.PASS


FOUR_SIDES = (
    WALL_3,
    WALL_9,
    *(channel(f"wall-{clock}", height_mm=60.0, clock=clock) for clock in (6, 12)),
    LOW,
    BASE,
    ROOM,
)


def test_sides_that_nobody_measured_may_be_hotter():
    """58 + 0.6 is under the limit of 60, and with 6 % of 36 more it is not."""
    two, four = (
        measured(peak_c=58.0, channels=channels, more=more)
        for channels, more in (
            ((WALL_3, WALL_9, LOW, BASE, ROOM), ()),
            (
                FOUR_SIDES,
                tuple(
                    one
                    for clock in (6, 12)
                    for one in warming(f"wall-{clock}", 53.0, length_s=14_400.0)
                ),
            ),
        )
    )
    undecided = verdict_on([replace(one, evidence=two) for one in six()])
    assert undecided.outcome is Outcome.UNDECIDED
    assert "a side that was not measured may be hotter" in undecided.deciding.reason
    assert verdict_on([replace(one, evidence=four) for one in six()]).outcome is Outcome.PASS


@pytest.mark.parametrize(
    ("level_mm", "upper_mm", "outcome"),
    [
        (20.0, 60.0, "pass"),  # carried to 10 mm, where the place is
        (12.0, 60.0, "undecided"),
        (12.0, 15.0, "pass"),  # too close to tell a slope
    ],
)
def test_below_the_lowest_place_the_wall_may_climb_on(level_mm, upper_mm, outcome):
    """56.5 + 0.6 + 6 % of 34.5 is 59.17; with 8 mm of (56.5 - 51)/50 more it passes 60."""
    places = [BASE, ROOM]
    more = []
    for clock, low_c in ((3, 56.5), (9, 54.0)):
        for height_mm, peak_c in ((10.0, low_c), (upper_mm, 51.0)):
            one = channel(f"w-{height_mm:.0f}-{clock}", height_mm=height_mm, clock=clock)
            places.append(one)
            more += warming(one.name, peak_c, length_s=14_400.0)
    low = measured(channels=tuple(places), more=tuple(more))
    look = replace(GOOD, wax_level_mm=level_mm)
    verdict = verdict_on([replace(one, evidence=low, look=look) for one in six()])
    assert verdict.outcome == outcome
    told = "below this place was not measured"
    assert (told in verdict.deciding.reason) is (outcome == "undecided")


@pytest.mark.parametrize(
    ("felt", "hotter_k", "outcome"),
    [(0.9, 0.0, "pass"), (0.9, 6.0, "undecided"), (0.98, 6.0, "pass")],
)
def test_a_bead_that_hangs_half_off_falls_out_of_the_wall_s_profile(felt, hotter_k, outcome):
    heights = {
        at: c + hotter_k for at, c in {20.0: 42.0, 40.0: 46.0, 60.0: 50.0, 70.0: 48.0}.items()
    }
    places, more = [BASE, ROOM, LOW], []
    for height_mm, peak_c in heights.items():
        for clock, share in ((3, 1.05), (9, 1.0)):
            one = channel(f"w-{height_mm:.0f}-{clock}", height_mm=height_mm, clock=clock)
            rise = share * (peak_c - 22.0) * (felt if (height_mm, clock) == (60.0, 3) else 1.0)
            places.append(one)
            more += warming(one.name, 22.0 + rise, length_s=14_400.0)
    hung = measured(channels=tuple(places), more=tuple(more))
    verdict = verdict_on([replace(one, evidence=hung) for one in six()])
    assert verdict.outcome == outcome
    told = "Wall, 60 mm, 3 o'clock rose 10 % less than the other heights"
    assert (told in deciding(verdict)) is (outcome == "undecided")
    assert any(told in gap.text for gap in verdict.missing) is (felt == 0.9)


def test_a_pass_is_told_by_the_burn_that_came_nearest_to_the_limit():
    burns = six()
    burns[3] = replace(burns[3], evidence=measured(peak_c=56.0))
    verdict = verdict_on(burns)
    assert verdict.outcome is Outcome.PASS
    assert "reached 56.0 °C" in verdict.deciding.reason


@pytest.mark.parametrize(
    ("length_s", "peak_c", "earlier", "told"),
    [
        (300.0, 33.0, True, ""),  # both by less than 5 K
        (300.0, 33.0, False, "warmed by only"),
        (1000.0, 28.0, True, "warmed by only"),
        (300.0, 70.0, True, ""),  # both by some 7 K
    ],
)
def test_a_last_burn_of_a_few_minutes_need_not_warm_the_wall(length_s, peak_c, earlier, told):
    walls = (WALL_3, WALL_9, BASE, ROOM)
    burns = six(evidence=measured(peak_c=peak_c, length_s=length_s, channels=walls))
    if not earlier:
        burns[-1] = replace(burns[-1], tester="M7", weighed=False)
    found = [gap.text for gap in verdict_on(burns).missing if gap.decides]
    assert any("warmed by only" in text for text in found) is bool(told)


def test_a_room_that_was_read_by_hand_counts():
    by_hand = channel("hand-room", Position.ROOM, instrument=BY_HAND)
    seen = tuple(estimate("hand-room", LIT_S + at_s, c) for at_s, c in ((0, 23.1), (7e3, 24.8)))
    read = measured(channels=(WALL_3, WALL_9, LOW, BASE, by_hand), more=seen)
    verdict = verdict_on([replace(one, evidence=read) for one in six()])
    assert verdict.outcome is Outcome.PASS
    room = next(one for one in verdict.criteria if one.criterion.name == "room")
    assert room.judgement.reason == "the room was at 23.1 to 24.8 °C"


def test_nor_does_it_fail_anything():
    over = measured(peak_c=62.0, u=0.3, channels=(UNSTATED, WALL_9, LOW, BASE, ROOM))
    verdict = verdict_on([replace(one, evidence=over) for one in six()])
    assert outcome_of(verdict, WALL_LIMIT.name) is Outcome.UNDECIDED
    assert verdict_on([OneBurn(evidence=measured(peak_c=62.0))]).outcome is Outcome.FAIL
    surely = measured(peak_c=63.0, u=0.3, channels=(UNSTATED, WALL_9, LOW, BASE, ROOM))
    assert verdict_on([OneBurn(evidence=surely)]).outcome is Outcome.FAIL


def test_a_doubtful_reading_over_the_limit_is_undecided_and_to_be_repeated():
    spike = (estimate("wall-3", LIT_S + 7001.0, 75.0, quality=Quality.DOUBTFUL),)
    verdict = verdict_on(six(evidence=measured(more=spike)))
    assert verdict.outcome is Outcome.UNDECIDED
    assert "doubtfully: repeat this burn" in verdict.deciding.reason


def test_a_maker_s_own_figure_stands_above_the_default_and_says_so():
    own = CriterionValue(criterion="flame-height", most=18.0, own=True, source="our insurer")
    verdict = verdict_on(six(), criteria=(own, *default_criteria()))
    failed = next(one for one in verdict.judgements if one.outcome is Outcome.UNDECIDED)
    assert failed.criterion.name == "flame-height"
    assert (failed.limit, failed.origin) == (18.0, "the maker's own: our insurer")


def test_of_the_maker_s_figures_the_closest_counts():
    any_, power = (
        CriterionValue(criterion="soot", most=most, own=True, regime=regime)
        for most, regime in ((0.0, ""), (2.0, "power"))
    )
    burns = six()
    burns[1] = replace(burns[1], regime="power", look=replace(GOOD, soot=2))
    verdict = verdict_on(burns, criteria=(any_, power, *default_criteria()))
    assert outcome_of(verdict, "soot") == "pass"
    assert verdict.regimes == {"standard": Outcome.PASS, "power": Outcome.PASS}


def test_what_the_maker_leaves_out_is_said():
    out = CriterionValue(criterion="mushrooming", own=True, judged=False)
    blind = [replace(one, look=without(GOOD, "mushrooming")) for one in six()]
    assert verdict_on(blind).outcome is Outcome.UNDECIDED
    verdict = verdict_on(blind, criteria=(out, *default_criteria()))
    assert verdict.outcome is Outcome.PASS
    assert verdict.not_judged == ("the wick carries little carbon: left out by the maker",)


def test_a_shared_pour_is_at_most_worth_making():
    shared = OneBurn(changes={"shared_pour": True})
    verdict = verdict_on([shared])
    assert verdict.outcome is Outcome.WORTH_MAKING
    assert "the hot throw" in verdict.not_judged
    hot = replace(shared, evidence=measured(peak_c=62.0))
    assert verdict_on([hot]).outcome is Outcome.FAIL
    blind = replace(shared, look=None)
    assert verdict_on([blind]).outcome is Outcome.UNDECIDED


def test_a_trial_of_nothing_is_undecided():
    nothing = TrialEvidence(burns=(), weighed={}, outlook=Outlook(text=""))
    assert judge_trial(nothing, Words()).outcome is Outcome.UNDECIDED
