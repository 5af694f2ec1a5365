"""Pass, fail, undecided: what decides, and what is only missing."""

import math
from dataclasses import replace

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from logger.burn.entries import Danger
from logger.burn.evidence import crossing
from logger.conditioning.calibration import Calibration, Correction
from logger.decision.criteria import Outcome, guard_band
from logger.decision.heat_criteria import NO_EMERGENCY, WALL_LIMIT
from logger.decision.missing import CANNOT_BE_SEEN, WHOLE_LIFE
from logger.decision.verdict import judge
from logger.quantities import Kind, Position, Quality
from logger.words import Words
from tests.support.burn_from_formula import (
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

COMPARED = Calibration(
    at_s=LIT_S - 9e5,
    who="Ines",
    reference="an ice bath",
    correction=Correction(offset=0.2, offset_uncertainty=0.1),
)
ORDER = [Outcome.PASS, Outcome.UNDECIDED, Outcome.FAIL]


RIM = channel("rim", Position.RIM)


def deciding(verdict):
    return [gap.text for gap in verdict.missing if gap.decides]


def texts(verdict):
    return " | ".join(gap.text for gap in verdict.missing)


@pytest.mark.parametrize(
    ("lower", "upper", "outcome"),
    [
        pytest.param(58.2, 59.8, Outcome.PASS, id="clear of the limit"),
        pytest.param(58.0, 60.0, Outcome.PASS, id="just reaches it with its uncertainty"),
        pytest.param(57.9, 60.1, Outcome.UNDECIDED, id="within the guard band"),
        pytest.param(60.0, 60.0, Outcome.PASS, id="at the limit, perfectly known"),
        pytest.param(60.0, 61.6, Outcome.UNDECIDED, id="over it, but not beyond doubt"),
        pytest.param(60.1, 61.7, Outcome.FAIL, id="over it with its uncertainty"),
    ],
)
def test_guard_band(lower, upper, outcome):
    assert guard_band(lower=lower, upper=upper, limit=60.0) is outcome


@given(st.floats(0, 120), st.floats(0, 5), st.floats(0, 20), st.floats(20, 100))
def test_hotter_is_never_judged_better(value, u, hotter, limit):
    def rank(value):
        return ORDER.index(guard_band(lower=value - 2 * u, upper=value + 2 * u, limit=limit))

    assert rank(value + hotter) >= rank(value)


def test_a_cool_whole_burn_passes_and_proves_no_candle():
    verdict = FormulaBurn(peak_c=55.0).verdict()
    assert verdict.outcome is Outcome.PASS
    assert not deciding(verdict)
    assert WHOLE_LIFE in verdict.missing
    assert CANNOT_BE_SEEN in verdict.missing
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


def over(*, from_s, to_s, value=61.0, u=0.4, name="wall-3", quality=Quality.GOOD):
    """Estimates beyond the limit of 60, in between those of the formula."""
    return tuple(
        estimate(name, LIT_S + second, value, u, quality)
        for second in range(int(from_s), int(to_s) + 1)
        if second % 5
    )


def without(from_s, to_s):
    return {"wall-3": ((from_s, to_s + 1.0),)}


@pytest.mark.parametrize(
    ("seconds", "u", "outcome"),
    [
        pytest.param(62.0, 0.4, Outcome.FAIL, id="for a minute"),
        pytest.param(50.0, 0.4, Outcome.UNDECIDED, id="too short to be more than chance"),
        pytest.param(62.0, 0.6, Outcome.UNDECIDED, id="within its uncertainty"),
    ],
)
def test_over_the_limit_beyond_doubt_for_a_minute_fails(seconds, u, outcome):
    start_s, end_s = 7001.0, 7002.0 + seconds
    verdict = FormulaBurn(
        peak_c=55.0, without=without(start_s, end_s), more=over(from_s=start_s, to_s=end_s, u=u)
    ).verdict()
    assert verdict.outcome is outcome
    assert "over the maker's limit of 60.0 °C" in verdict.deciding.reason


def test_two_short_crossings_do_not_add_up():
    crossings = over(from_s=7001.0, to_s=7042.0) + over(from_s=7101.0, to_s=7142.0)
    gone = {"wall-3": ((7001.0, 7043.0), (7101.0, 7143.0))}
    verdict = FormulaBurn(peak_c=55.0, without=gone, more=crossings).verdict()
    assert verdict.outcome is Outcome.UNDECIDED


def test_a_doubtful_estimate_over_the_limit_fails_nothing():
    more = over(from_s=7001.0, to_s=7100.0, value=75.0, quality=Quality.DOUBTFUL)
    assert FormulaBurn(peak_c=55.0, more=more).verdict().outcome is Outcome.PASS


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
    assert "not yet recorded out" in texts(verdict)


def test_a_candle_still_lit_has_failed_already_when_it_crossed():
    assert FormulaBurn(peak_c=61.0, is_out=False).verdict().outcome is Outcome.FAIL


def test_a_short_burn_says_nothing_of_a_long_one():
    verdict = FormulaBurn(length_s=2400.0).verdict()
    assert verdict.outcome is Outcome.UNDECIDED
    assert "burned for 40 min, shorter than the maker's longest burn of 4 h" in texts(verdict)


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
    assert "not measured for 1 h of 4 h (longest 1 h)" in texts(verdict)


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
        pytest.param({"channels": (WALL_3, WALL_9, BASE)}, "The room was not measured", id="room"),
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
    assert FormulaBurn(peak_c=60.9, material=None).verdict().outcome is Outcome.FAIL


def test_every_judgement_names_its_source_and_no_standard_as_the_limit():
    for judgement in FormulaBurn().verdict().judgements:
        assert judgement.source == judgement.criterion.source != ""
    assert "maker's own" in WALL_LIMIT.source
    assert "no candle standard's figure" in WALL_LIMIT.source


def wall_judgement(**burn):
    return next(j for j in FormulaBurn(**burn).verdict().judgements if j.criterion is WALL_LIMIT)


def test_beside_the_figure_stands_what_it_means_for_the_warmest_room():
    # Peak 55 +- 0.6; the room was at 25.99 an hour before the end (26 - 4 exp(-3 h / 30 min)),
    # known to 0.3 K: 55 + 1.01 + 2 sqrt(0.3^2 + 0.3^2)
    judgement = wall_judgement(peak_c=55.0)
    assert judgement.warmest.bound_c == pytest.approx(56.859, abs=0.02)
    assert (
        "stays under the maker's limit in rooms up to 27.0 °C (56.8 °C at most)" in judgement.reason
    )


def test_what_passed_may_be_over_the_limit_in_a_warmer_room():
    judgement = wall_judgement(peak_c=58.5)
    assert judgement.outcome is Outcome.PASS  # of the burn as it was
    assert "in a room of 27.0 °C it may reach 60.3 °C, over the maker's limit" in judgement.reason


def test_the_room_counts_as_it_was_in_the_hour_before():
    """The wall is late: a heater switched on ten minutes before has not warmed it yet."""
    room = tuple(
        estimate("other", LIT_S + 5.0 * n, 20.0 if 5.0 * n < 13_800.0 else 29.0)
        for n in range(2881)
    )
    judgement = wall_judgement(channels=(WALL_3, channel("other", Position.ROOM)), more=room)
    assert judgement.warmest.room_c == pytest.approx(20.0)


def test_no_figure_is_lowered_for_a_room_that_was_warm():
    hot = tuple(estimate("other", LIT_S + 5.0 * n, 33.0) for n in range(2881))
    channels = (WALL_3, channel("other", Position.ROOM))
    judgement = wall_judgement(channels=channels, more=hot)
    assert judgement.warmest.bound_c >= judgement.value + 0.6 - 1e-9


def test_without_a_room_nothing_is_said_of_another():
    judgement = wall_judgement(channels=(WALL_3, WALL_9))
    assert judgement.warmest is None
    assert "in rooms" not in judgement.reason


def test_a_calibrated_place_needs_no_stated_accuracy():
    bare = channel("wall-9", height_mm=60.0, clock=9, accuracy=None)
    evidence = FormulaBurn(channels=(WALL_3, bare, ROOM)).evidence()
    assert "accuracy is not stated" in texts(judge([evidence], Words()))
    known = replace(evidence, calibrations={"wall-9": COMPARED})
    assert "accuracy is not stated" not in texts(judge([known], Words()))


TURNED = channel("wall-9", height_mm=60.0, clock=9, kind=Kind.INFRARED)


@pytest.mark.parametrize(
    ("burn", "words"),
    [
        pytest.param({"channels": (BASE, RIM, ROOM)}, "No wall place was measured", id="no wall"),
        pytest.param({"channels": (WALL_3, BASE, ROOM)}, "not measured on two sides", id="one"),
        pytest.param(
            {"channels": (WALL_3, channel("wall-9", height_mm=60.0, clock=4), ROOM)},
            "not measured on two sides",
            id="one side",
        ),
        pytest.param(
            {"channels": (WALL_3, channel("wall-9", height_mm=60.0), ROOM)},
            'give each side its "clock"',
            id="unknown side",
        ),
        pytest.param(
            {"channels": (WALL_3, replace(TURNED, emissivity=0.92), ROOM)},
            "its emissivity is from a table",
            id="a finish from a table",
        ),
        pytest.param(
            {"channels": (WALL_3, channel("wall-9", clock=9, kind=Kind.UNSTATED), ROOM)},
            "It is not stated whether wall, 9 o'clock",
            id="kind",
        ),
        pytest.param(
            {"channels": (WALL_3, replace(WALL_9, calibration_offset=-4.0), ROOM)},
            "corrected by -4.0 °C, far more than its limit of error (0.5 °C)",
            id="absurd correction",
        ),
    ],
)
def test_what_is_needed_for_a_pass(burn, words):
    verdict = FormulaBurn(**burn).verdict()
    assert verdict.outcome is Outcome.UNDECIDED
    assert words in " | ".join(deciding(verdict))


def test_infrared_with_an_emissivity_found_on_this_vessel_is_a_side():
    measured = replace(TURNED, emissivity=0.92, emissivity_measured=True)
    assert FormulaBurn(channels=(WALL_3, measured, ROOM)).verdict().outcome is Outcome.PASS


def test_a_place_that_never_warmed_is_not_on_this_candle():
    still = tuple(estimate("cold", LIT_S + 5.0 * n, 22.0 + n / 2881.0) for n in range(2881))
    cold = channel("cold", height_mm=60.0, clock=6)
    verdict = FormulaBurn(channels=(WALL_3, WALL_9, cold, ROOM), more=still).verdict()
    assert verdict.outcome is Outcome.UNDECIDED
    assert "6 o'clock warmed by only 1.0 °C" in texts(verdict)


def test_a_place_that_begins_colder_than_its_room_reads_too_low():
    low = tuple(estimate("low", LIT_S + 5.0 * n, 19.0 + 30.0 * n / 2881.0) for n in range(2881))
    off = channel("low", height_mm=60.0, clock=6)
    verdict = FormulaBurn(channels=(WALL_3, WALL_9, off, ROOM), more=low).verdict()
    assert verdict.outcome is Outcome.UNDECIDED
    assert "began at 19.0 °C, colder than its room (22.0 °C)" in texts(verdict)


def test_a_place_that_cools_alone_drifts_or_comes_off():
    falling = tuple(estimate("off", LIT_S + 5.0 * n, 55.0 - 12.0 * n / 2881.0) for n in range(2881))
    off = channel("off", height_mm=60.0, clock=6)
    start = estimate("off", LIT_S, 22.0)
    burn = FormulaBurn(channels=(WALL_3, WALL_9, off, ROOM), more=(start, *falling[1:]))
    verdict = burn.verdict()
    assert verdict.outcome is Outcome.UNDECIDED
    assert "6 o'clock cooled by 12.0 °C more than another side while lit" in texts(verdict)


def test_a_sensor_at_fault_measured_nothing_from_where_it_began():
    fault = AlarmFromFormula("sensor-fault", "wall-9").on(3000.0)
    verdict = FormulaBurn(events=fault.events).verdict()
    assert verdict.outcome is Outcome.UNDECIDED
    assert "could not be believed from 50 min after lighting on" in texts(verdict)
    assert "(sensor at fault for 3 h 10 min of 4 h)" in texts(verdict)


def test_a_fault_that_was_over_soon_is_a_gap_like_others():
    soon = AlarmFromFormula("sensor-fault", "wall-9").on(3000.0).seen(3010.0).off(3200.0)
    assert FormulaBurn(events=soon.events).verdict().outcome is Outcome.PASS
    late = AlarmFromFormula("sensor-fault", "wall-9").on(14_300.0)  # and not over
    assert FormulaBurn(events=late.events).verdict().outcome is Outcome.UNDECIDED


def test_what_a_faulty_sensor_says_fails_nothing():
    fault = AlarmFromFormula("sensor-fault", "wall-3").on(7000.0).seen(7001.0).off(7090.0)
    more = over(from_s=7001.0, to_s=7080.0)
    verdict = FormulaBurn(events=fault.events, more=more, without=without(7001, 7080)).verdict()
    assert verdict.outcome is Outcome.UNDECIDED


def test_a_flame_that_may_have_been_out_must_be_answered():
    out = AlarmFromFormula("flame-out").on(7000.0)
    verdict = FormulaBurn(events=out.events).verdict()
    assert verdict.outcome is Outcome.UNDECIDED
    assert "cooled while it was recorded lit, and nobody answered" in texts(verdict)
    answered = AlarmFromFormula("flame-out").on(7000.0).seen(7060.0).off(7600.0)
    assert FormulaBurn(events=answered.events).verdict().outcome is Outcome.PASS
    at_the_end = AlarmFromFormula("flame-out").on(14_340.0)  # recording it out is the answer
    assert FormulaBurn(events=at_the_end.events).verdict().outcome is Outcome.PASS


def test_the_warmest_room_is_a_bound_over_all_times_not_of_the_peak_alone():
    """A window open for an hour: 56.4 in a room of 17 says more than 58 in one of 26."""

    def room_c(since_s):
        return 17.0 if 3300.0 <= since_s < 6900.0 else 26.0

    def wall_c(since_s):
        return 58.0 if since_s > 10_800.0 else 56.4 if since_s > 3000.0 else 22.0

    made = (("draughty", wall_c), ("other", room_c))
    more = tuple(
        estimate(name, LIT_S + 5.0 * n, formula(5.0 * n))
        for name, formula in made
        for n in range(2881)
    )
    channels = (channel("draughty", clock=6), channel("other", Position.ROOM))
    judgement = wall_judgement(channels=channels, more=more)
    assert judgement.warmest.bound_c == pytest.approx(56.4 + 10.0 + 2.0 * math.hypot(0.3, 0.3))


@pytest.mark.parametrize(
    ("true_c", "wrong", "at_most"), [(59.5, "fail", 0.05), (60.5, "pass", 0.025)]
)
def test_half_a_kelvin_off_the_limit_is_hardly_ever_judged_wrongly(true_c, wrong, at_most, long):
    """Burns of 2,880 estimates whose noise lasts half a minute, and an instrument off for good."""
    rng = np.random.default_rng(1_060)
    keep = math.exp(-5.0 / 30.0)
    outcomes = []
    for _ in range(200 if long else 80):
        noise, off_k, estimates = rng.normal(0.0, 0.3), rng.normal(0.0, 0.3), []
        for n, step in enumerate(rng.normal(0.0, 0.3 * math.sqrt(1.0 - keep**2), 2880)):
            noise = keep * noise + step
            u = math.hypot(0.3, 0.3)
            estimates.append(estimate("wall-3", LIT_S + 5.0 * n, true_c + off_k + noise, u))
        found = crossing(WALL_3, estimates, 60.0)
        upper = max(one.upper for one in estimates)
        lower = -math.inf if found is None else found.lower_c
        outcomes.append(guard_band(lower=lower, upper=upper, limit=60.0).value)
    assert outcomes.count(wrong) <= at_most * len(outcomes)
