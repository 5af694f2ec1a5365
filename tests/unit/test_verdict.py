"""Pass, fail, undecided: what decides, and what is only missing."""

from dataclasses import replace

import pytest
from burn_from_formula import (
    BASE,
    HAND,
    LIT_S,
    ROOM,
    WALL_3,
    WALL_9,
    AlarmFromFormula,
    FormulaBurn,
    channel,
    estimate,
)
from hypothesis import given
from hypothesis import strategies as st

from logger.alarms.words import Words
from logger.burn.criteria import NO_EMERGENCY, WALL_LIMIT, Outcome, guard_band
from logger.burn.entries import Danger
from logger.burn.verdict import WHOLE_LIFE, judge
from logger.quantities import Position, Quality

ORDER = [Outcome.PASS, Outcome.UNDECIDED, Outcome.FAIL]


def deciding(verdict):
    return [gap.text for gap in verdict.missing if gap.decides]


def texts(verdict):
    return " | ".join(gap.text for gap in verdict.missing)


@pytest.mark.parametrize(
    ("value", "upper", "outcome"),
    [
        pytest.param(59.0, 59.8, Outcome.PASS, id="clear of the limit"),
        pytest.param(59.0, 60.0, Outcome.PASS, id="just reaches it with its uncertainty"),
        pytest.param(59.0, 60.1, Outcome.UNDECIDED, id="within the guard band"),
        pytest.param(60.0, 60.0, Outcome.PASS, id="at the limit, perfectly known"),
        pytest.param(60.0, 60.8, Outcome.UNDECIDED, id="at the limit"),
        pytest.param(60.1, 60.9, Outcome.FAIL, id="over it"),
    ],
)
def test_guard_band(value, upper, outcome):
    assert guard_band(value=value, upper=upper, limit=60.0) is outcome


@given(st.floats(0, 120), st.floats(0, 5), st.floats(0, 20), st.floats(0, 5), st.floats(20, 100))
def test_hotter_or_less_sure_is_never_judged_better(value, u, hotter, less_sure, limit):
    def rank(value, u):
        return ORDER.index(guard_band(value=value, upper=value + 2.0 * u, limit=limit))

    assert rank(value + hotter, u) >= rank(value, u)
    assert rank(value, u + less_sure) >= rank(value, u)


def test_a_cool_whole_burn_passes_and_proves_no_candle():
    verdict = FormulaBurn(peak_c=55.0).verdict()
    assert verdict.outcome is Outcome.PASS
    assert not deciding(verdict)
    assert WHOLE_LIFE in verdict.missing
    wall = next(j for j in verdict.judgements if j.criterion is WALL_LIMIT)
    assert wall.value == pytest.approx(55.0, abs=0.05)
    assert wall.limit == 60.0
    assert "wall, 60 mm, 3 o'clock reached 55.0 °C ± 0.6" in wall.reason


def test_within_the_uncertainty_of_the_limit_is_undecided():
    verdict = FormulaBurn(peak_c=59.8, u=0.3).verdict()
    assert verdict.outcome is Outcome.UNDECIDED
    assert "not by its uncertainty" in verdict.deciding.reason


def test_the_least_sure_place_decides_even_if_another_is_hotter():
    unsure = estimate("wall-9", LIT_S + 7000.0, 54.0, u=3.5)  # 61 with its uncertainty
    verdict = FormulaBurn(peak_c=55.0, more=(unsure,)).verdict()
    assert verdict.outcome is Outcome.UNDECIDED
    assert "9 o'clock" in verdict.deciding.reason


def test_one_good_estimate_over_the_limit_fails():
    over = estimate("wall-3", LIT_S + 7002.0, 60.1, u=1.0)
    verdict = FormulaBurn(peak_c=55.0, more=(over,)).verdict()
    assert verdict.outcome is Outcome.FAIL
    assert "over your limit of 60.0 °C" in verdict.deciding.reason


def test_a_doubtful_estimate_over_the_limit_fails_nothing():
    over = estimate("wall-3", LIT_S + 7002.0, 75.0, quality=Quality.DOUBTFUL)
    assert FormulaBurn(peak_c=55.0, more=(over,)).verdict().outcome is Outcome.PASS


def test_but_if_the_alarm_at_the_limit_rang_on_it_nothing_passes():
    alarm = AlarmFromFormula("wall-limit", "wall-3").on(7002.0).off(7100.0)
    verdict = FormulaBurn(peak_c=55.0, events=alarm.events).verdict()
    assert verdict.outcome is Outcome.UNDECIDED


@pytest.mark.parametrize("danger", list(Danger))
def test_a_reported_danger_fails_however_cool_the_wall(danger):
    verdict = FormulaBurn(peak_c=40.0, danger=danger).verdict()
    assert verdict.outcome is Outcome.FAIL
    assert verdict.deciding.criterion is NO_EMERGENCY
    assert danger.words in verdict.deciding.reason


@pytest.mark.parametrize(
    "worse",
    [
        pytest.param({"danger": Danger.CRACK}, id="danger"),
        pytest.param({"peak_c": 61.0}, id="crossing"),
    ],
)
def test_what_failed_stays_failed_whatever_came_later(worse):
    burns = [FormulaBurn(**worse, number=0).evidence()]
    burns += [FormulaBurn(peak_c=45.0, number=number).evidence() for number in (1, 2, 3)]
    verdict = judge(burns, Words())
    assert verdict.outcome is Outcome.FAIL
    assert verdict.deciding.burn == burns[0].burn.id


def test_a_candle_not_recorded_out_cannot_pass():
    verdict = FormulaBurn(is_out=False).verdict()
    assert verdict.outcome is Outcome.UNDECIDED
    assert "the burn goes on" in texts(verdict)


def test_a_candle_still_lit_has_failed_already_when_it_crossed():
    assert FormulaBurn(peak_c=61.0, is_out=False).verdict().outcome is Outcome.FAIL


def test_a_short_burn_says_nothing_of_a_long_one():
    verdict = FormulaBurn(length_s=2400.0).verdict()
    assert verdict.outcome is Outcome.UNDECIDED
    assert "burned for 40 min, shorter than your 240 min" in texts(verdict)


def test_put_out_when_the_end_was_told_is_long_enough():
    assert FormulaBurn(length_s=14_400.0 - 900.0).verdict().outcome is Outcome.PASS


def test_one_full_burn_is_enough_beside_shorter_ones():
    burns = [FormulaBurn(length_s=2400.0).evidence(), FormulaBurn(number=1).evidence()]
    assert judge(burns, Words()).outcome is Outcome.PASS
    assert judge(burns[:1], Words()).outcome is Outcome.UNDECIDED


def test_no_number_of_short_burns_makes_a_full_one():
    burns = [FormulaBurn(length_s=2400.0, number=number).evidence() for number in range(3)]
    verdict = judge(burns, Words())
    assert {judgement.outcome for judgement in verdict.judgements} == {Outcome.PASS}
    assert verdict.outcome is Outcome.UNDECIDED


@pytest.mark.parametrize(
    ("without", "outcome"),
    [
        pytest.param(((5000.0, 5240.0),), Outcome.PASS, id="four minutes"),
        pytest.param(((5000.0, 5400.0),), Outcome.UNDECIDED, id="too long at once"),
        pytest.param(
            tuple((1000.0 * n, 1000.0 * n + 120.0) for n in range(1, 14)),
            Outcome.UNDECIDED,
            id="too much in sum",
        ),
    ],
)
def test_a_wall_place_may_be_missed_only_so_long(without, outcome):
    verdict = FormulaBurn(without={"wall-9": without}).verdict()
    assert verdict.outcome is outcome
    assert ("9 o'clock was not measured for" in texts(verdict)) is (outcome is not Outcome.PASS)


def test_how_long_a_place_was_missed_is_said():
    verdict = FormulaBurn(without={"wall-9": ((3600.0, 7200.0),)}).verdict()
    assert "not measured for 60 min of 240 min (longest 60 min)" in texts(verdict)


def test_a_configured_place_that_never_spoke_is_missed():
    dead = channel("wall-12", height_mm=60.0, clock=12)
    verdict = FormulaBurn(channels=(WALL_3, WALL_9, dead, ROOM)).verdict()
    assert verdict.outcome is Outcome.UNDECIDED
    assert "Wall, 60 mm, 12 o'clock was never measured" in texts(verdict)


def test_without_any_place_on_the_vessel_nothing_is_decided():
    verdict = FormulaBurn(channels=(ROOM,)).verdict()
    assert verdict.outcome is Outcome.UNDECIDED
    assert "No place on the vessel was measured" in texts(verdict)


def hand(*values):
    return tuple(
        estimate(HAND.name, LIT_S + 3600.0 * hour, value) for hour, value in enumerate(values, 1)
    )


def test_by_hand_only_cannot_pass():
    verdict = FormulaBurn(channels=(HAND, ROOM), more=hand(40.0, 45.0, 46.0)).verdict()
    assert verdict.outcome is Outcome.UNDECIDED
    assert "by hand only" in texts(verdict)


def test_by_hand_can_fail():
    verdict = FormulaBurn(channels=(HAND, ROOM), more=hand(40.0, 61.0)).verdict()
    assert verdict.outcome is Outcome.FAIL


@pytest.mark.parametrize(
    ("burn", "words"),
    [
        pytest.param({"channels": (WALL_3, BASE)}, "The room was not measured", id="room"),
        pytest.param({"channels": (WALL_3, ROOM)}, "Only one place was measured", id="one place"),
        pytest.param(
            {"channels": (WALL_3, channel("wall-9", clock=9, accuracy=None), ROOM)},
            "accuracy is not stated for wall, 9 o'clock",
            id="accuracy",
        ),
    ],
)
def test_what_is_missing_but_decides_nothing(burn, words):
    verdict = FormulaBurn(**burn).verdict()
    assert verdict.outcome is Outcome.PASS
    assert words in texts(verdict)


def test_a_vessel_of_unknown_material_is_judged_by_the_lowest_limit():
    assert FormulaBurn(material=None).evidence().limits.of(None).limit_c == 60.0
    assert FormulaBurn(peak_c=60.5, material=None).verdict().outcome is Outcome.FAIL


def test_every_judgement_names_its_source_and_no_standard_as_the_limit():
    for judgement in FormulaBurn().verdict().judgements:
        assert judgement.source == judgement.criterion.source != ""
    assert "maker's own" in WALL_LIMIT.source
    assert "no candle standard's figure" in WALL_LIMIT.source


def wall_judgement(**burn):
    return next(j for j in FormulaBurn(**burn).verdict().judgements if j.criterion is WALL_LIMIT)


def test_beside_the_figure_stands_what_it_means_for_the_warmest_room():
    # Peak 55 +- 0.6; the room was at 25.99 an hour before the end (26 - 4 exp(-3 h / 30 min)),
    # known to 0.5 K: 55 + 1.01 + 2 sqrt(0.3^2 + 0.5^2)
    judgement = wall_judgement(peak_c=55.0)
    assert judgement.warmest.bound_c == pytest.approx(57.176, abs=0.02)
    assert "stays under your limit in rooms up to 27.0 °C (57.2 °C at most)" in judgement.reason


def test_what_passed_may_be_over_the_limit_in_a_warmer_room():
    judgement = wall_judgement(peak_c=58.5)
    assert judgement.outcome is Outcome.PASS  # of the burn as it was
    assert "in a room of 27.0 °C it may reach 60.7 °C, over your limit" in judgement.reason


def test_the_room_counts_as_it_was_in_the_hour_before():
    """The wall is late: a heater switched on ten minutes before has not warmed it yet."""
    room = tuple(
        estimate("other", LIT_S + 5.0 * n, 20.0 if 5.0 * n < 13_800.0 else 29.0)
        for n in range(2881)
    )
    judgement = wall_judgement(channels=(WALL_3, channel("other", Position.ROOM)), more=room)
    assert judgement.warmest.added_k == pytest.approx(7.0)


def test_no_figure_is_lowered_for_a_room_that_was_warm():
    hot = tuple(estimate("other", LIT_S + 5.0 * n, 33.0) for n in range(2881))
    channels = (WALL_3, channel("other", Position.ROOM))
    judgement = wall_judgement(channels=channels, more=hot)
    assert judgement.warmest.added_k == 0.0
    assert judgement.warmest.bound_c >= judgement.value + 0.6 - 1e-9


def test_without_a_room_nothing_is_said_of_another():
    judgement = wall_judgement(channels=(WALL_3, WALL_9))
    assert judgement.warmest is None
    assert "in rooms" not in judgement.reason


def test_a_calibrated_place_needs_no_stated_accuracy():
    bare = channel("wall-9", height_mm=60.0, clock=9, accuracy=None)
    evidence = FormulaBurn(channels=(WALL_3, bare, ROOM)).evidence()
    assert "accuracy is not stated" in texts(judge([evidence], Words()))
    known = replace(evidence, calibrated=frozenset({"wall-9"}))
    assert "accuracy is not stated" not in texts(judge([known], Words()))
