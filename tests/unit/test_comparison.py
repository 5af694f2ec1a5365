"""Trials side by side, against figures reckoned by hand."""

import math

import pytest

from logger.decision.comparison import compare
from logger.decision.ranking import in_a_sentence, ranking
from logger.decision.reproducibility import Reproducibility
from logger.decision.same_room import ComparedFigure, mean_of
from logger.shelf.recipes import FormulaRecord
from logger.shelf.vessels import VesselRecord
from logger.shelf.wicks import WickRecord
from logger.words import Words
from tests.support.trials import burned, trial

WORDS = Words()
HOUR = 3600.0


def compared(*trials, **more):
    found = compare(trials, WORDS, **more)
    return found, ranking(found, WORDS)


def places(ranked):
    return [(one.trial.facts.name, one.rank) for one in ranked]


def test_the_mean_of_candles_is_as_sure_as_they_scatter():
    # 50, 52 and 54: mean 52, s = 2, s / sqrt 3 = 1.1547; t of 2 degrees of freedom is 4.3027
    # (any table), so its half counts at k = 2: 2.4842. With 0.5 of the instrument: 2.534.
    found = mean_of([ComparedFigure(value=v, standard_uncertainty=0.5) for v in (50.0, 52.0, 54.0)])
    assert found.value == 52.0
    assert found.standard_uncertainty == pytest.approx(2.534, abs=1e-3)
    assert found.candles == 3


def test_peaks_are_referred_to_the_same_room():
    """Rooms of 20 and 24 degC: both in 22; a wall follows by 0.93 of 2 K, so 1.86 K."""
    found, _ = compared(
        trial("a", burned(0, 50.0, room_c=20.0)), trial("b", burned(0, 55.0, room_c=24.0))
    )
    a, b = found.trials
    assert found.room_c == 22.0
    assert a.figures["peak"].value == pytest.approx(51.86)
    assert b.figures["peak"].value == pytest.approx(53.14)
    # 0.5 of the place, 0.1 of the room, 0.08 of 2 K taken as uniform: 0.0924
    assert a.figures["peak"].standard_uncertainty == pytest.approx(0.5182, abs=1e-4)
    assert a.figures["margin"].value == pytest.approx(8.14)
    # at most in 27 degC, by the rule of the verdict: 50 + 7 + 2 hypot(0.5, 0.1)
    assert a.warmest_c == pytest.approx(58.02, abs=0.01)
    difference = found.difference("peak", "b", "a")
    assert difference.found.value == pytest.approx(1.28)
    assert difference.found.expanded == pytest.approx(1.466, abs=1e-3)
    assert not difference.clear  # 1.3 within 1.5: the two are equal


def test_other_stations_make_a_difference_less_sure_or_are_named():
    """Stations that differ by 0.6 K and burns by 0.4: sqrt 2 times hypot(0.6, 0.4) is 1.0198."""
    trials = trial("a", burned(0, 50.0)), trial("b", burned(0, 52.4, station="jar-b"))
    bench = Reproducibility(between_k=0.6, within_k=0.4, stations=("jar-a", "jar-b"), burns=9)
    unknown, _ = compared(*trials)
    assert "how far these differ is not known" in unknown.difference("peak", "b", "a").stations
    assert unknown.difference("peak", "b", "a").clear
    known, _ = compared(*trials, bench=bench)
    difference = known.difference("peak", "b", "a")
    before_u = unknown.difference("peak", "b", "a").found.standard_uncertainty
    assert difference.found.standard_uncertainty == pytest.approx(
        math.hypot(before_u, 1.0198), abs=1e-4
    )
    assert not difference.clear
    assert "± 2.0 °C counted for that" in difference.stations
    same, _ = compared(trials[0], trial("b", burned(0, 52.4)), bench=bench)
    assert same.difference("peak", "b", "a").stations == ""


def test_a_room_that_nobody_measured_is_as_wide_as_the_maker_allows():
    found, _ = compared(trial("a", burned(0, 50.0, room_c=None)), trial("b", burned(0, 55.0)))
    a = found.trials[0].figures["peak"]
    # between 20 and 27: 23.5 +- 3.5, u = 2.0207; brought to 22 degC
    assert a.value == pytest.approx(50.0 - 1.5 * 0.93)
    assert a.standard_uncertainty == pytest.approx(2.083, abs=1e-3)


def test_as_many_burns_are_compared_as_all_have():
    long = trial("long", *(burned(day, 48.0 + 3.0 * day) for day in range(4)))
    found, _ = compared(long, trial("short", burned(0, 49.0)))
    assert found.first == 1
    assert found.trials[0].figures["peak"].value == pytest.approx(48.0)  # not its last, of 57
    assert found.trials[0].warmest_c > 62.0
    assert [day.peak.value for day in found.trials[0].days] == pytest.approx([48, 51, 54, 57])


def test_ranks_follow_the_verdict_then_a_margin_that_is_clear():
    cool = trial("cool", burned(0, 45.0), outcome="pass")
    like = trial("like", burned(0, 45.9), outcome="pass")
    warm = trial("warm", burned(0, 52.0), outcome="pass")
    open_ = trial("open", burned(0, 40.0))
    failed = trial("failed", burned(0, 30.0), outcome="fail")
    also = trial("also", burned(0, 75.0), outcome="fail")
    waiting = trial("waiting")
    _, ranked = compared(also, waiting, warm, failed, open_, like, cool)
    assert places(ranked) == [
        ("cool", 1), ("like", 1), ("warm", 3), ("open", 4), ("failed", 5), ("also", 5),
        ("waiting", None),
    ]  # fmt: skip
    by_name = {one.trial.facts.name: one.reason for one in ranked}
    assert "equal to cool within the uncertainty (0.9 °C ± 1.4)" in by_name["like"]
    assert "hotter than cool by 7.0 °C ± 1.4" in by_name["warm"]
    assert by_name["open"].startswith("undecided: ")
    assert by_name["waiting"] == "not burned yet"


def test_an_early_full_pool_earns_no_place():
    quick = trial("quick", burned(0, 50.0, full_s=(0.9 * HOUR, 1.1 * HOUR)), outcome="pass")
    slow = trial("slow", burned(0, 50.0, full_s=(2.9 * HOUR, 3.1 * HOUR)), outcome="pass")
    found, ranked = compared(quick, slow)
    assert {one.rank for one in ranked} == {1}
    assert found.difference("full-pool", "slow", "quick").clear
    (reason,) = (one.reason for one in ranked if one.trial.facts.name == "quick")
    assert "full 2 h earlier than that of slow, which is a sign of heat and no merit" in reason


def shared(name, day, peak_c, level_mm, **more):
    pour = {"tester": "S1", "shared_pour": True, "level_mm": level_mm}
    return trial(name, burned(day, peak_c, **pour), **more)


def test_wicks_of_a_shared_pour_are_compared_at_like_levels_alone():
    first, far = shared("first", 0, 50.0, 72.0), shared("far", 3, 58.0, 66.9)
    found, ranked = compared(first, shared("near", 1, 53.0, 67.0), far)
    assert found.difference("margin", "first", "near").clear  # 5 mm apart
    assert [one.rank for one in ranked] == [1, 2, 3]
    found, ranked = compared(first, far)
    apart = found.difference("margin", "first", "far")
    assert not apart.clear
    assert apart.unlike.startswith("lit at wax levels 5.1 mm apart, more than 5 mm")
    assert "not comparable with first" in ranked[-1].reason
    assert [one.rank for one in ranked] == [1, 1]
    unknown, _ = compared(shared("first", 0, 50.0, 72.0), shared("far", 3, 58.0, None))
    assert "was not entered" in unknown.difference("peak", "first", "far").unlike


def test_a_candle_of_its_own_corrects_for_the_level():
    """It went 0.5 K up for each mm that its wax sank: 12 mm lower is 6 K."""
    made = {"vessel": VesselRecord(name="amber"), "formula": FormulaRecord(name="slate 8")}
    own = [burned(n, 50.0 + 2.5 * n, tester="A1", level_mm=72.0 - 5.0 * n) for n in range(4)]
    first, far = shared("first", 0, 50.0, 72.0, **made), shared("far", 3, 58.0, 60.0, **made)
    assert compared(first, far, trial("own", *own))[0].slope is None  # in what vessel?
    found, _ = compared(first, far, trial("own", *own, **made))
    far = found.trials[1].figures["peak"]
    assert found.slope.k_per_mm == pytest.approx(-0.5)
    assert far.value == pytest.approx(52.0)
    # the slope of another wick is right to half of itself: 3 K, uniform, beside 0.5 and 0.1
    assert far.standard_uncertainty == pytest.approx((3.0 + 0.26) ** 0.5, abs=1e-3)
    assert found.difference("peak", "first", "far").unlike == ""


def test_who_burned_shorter_or_otherwise_is_not_comparable():
    found, _ = compared(trial("a", burned(0, 50.0)), trial("b", burned(0, 40.0, hours=1.0)))
    assert found.difference("peak", "a", "b").unlike == "one burned for 4 h, the other for 1 h"


def test_a_plain_sentence_for_a_client():
    cool = trial("t-1", burned(0, 45.0), outcome="pass", wick=WickRecord(name="cotton 4"))
    warm = trial("t-2", burned(0, 52.0), outcome="pass", wick=WickRecord(name="cotton 6"))
    hot = trial("t-3", burned(0, 64.0), outcome="fail", wick=WickRecord(name="cotton 8"))
    found, ranked = compared(hot, warm, cool, by_wick=True)
    assert in_a_sentence(found, ranked, WORDS) == (
        "cotton 4 did best: in a room of 22.0 °C its glass stays 15.0 °C ± 1.0 below the limit. "
        "cotton 8 failed."
    )
    found, ranked = compared(hot)
    assert in_a_sentence(found, ranked, WORDS) == "t-3 failed."
    found, ranked = compared(hot, trial("t-4", burned(1, 66.0), outcome="fail"))
    assert in_a_sentence(found, ranked, WORDS) == "None can be recommended: t-3 and t-4 failed."
    found, ranked = compared(trial("a", burned(0, 45.0)), trial("b", burned(0, 45.5)))
    assert in_a_sentence(found, ranked, WORDS) == (
        "None can be recommended yet. So far a and b are equal as far as can be measured."
    )
    found, ranked = compared(trial("a"))
    assert in_a_sentence(found, ranked, WORDS) == "Nothing has been burned yet."
