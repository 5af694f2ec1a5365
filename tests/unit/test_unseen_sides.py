"""Sides of a wall that nobody measured, a bead that hangs off: what they may hide is counted."""

from dataclasses import replace

import pytest

from logger.decision.criteria import Outcome
from logger.decision.unseen_sides import ASIDE, side_gaps
from logger.words import Words
from tests.support.burn_from_formula import BASE, ROOM, ROOM_C, WALL_3, WALL_9, channel, warming
from tests.support.whole_trial import HOURS, LOW, deciding, measured, six, verdict_on

LENGTH_S = HOURS * 3600.0
WALL_12 = channel("wall-12", height_mm=60.0, clock=12)
WALL_6 = channel("wall-6", height_mm=60.0, clock=6)
LOW_9 = channel("low-9", height_mm=10.0, clock=9)
SIDES = (WALL_3, WALL_9, LOW, BASE, ROOM)
ROUND = (*SIDES, WALL_12, WALL_6)


def peaks(**of_places):
    return tuple(
        one
        for name, peak_c in of_places.items()
        for one in warming(name.replace("_", "-"), peak_c, length_s=LENGTH_S)
    )


def gaps(evidence, level_mm=60.0):
    burn = replace(evidence.burn, wax_level_mm=level_mm)
    return [gap.text for gap in side_gaps(replace(evidence, burn=burn), Words())]


@pytest.mark.parametrize(("under_k", "open_"), [(0.1, True), (-0.1, False)])
def test_two_sides_pass_only_with_room_for_a_hotter_one_between(under_k, open_):
    """A wick 5 mm off the axis warmed the nearer side of simulated jars by 5 to 7 % more."""
    # upper = peak + 0.6 (k = 2); a side between may have risen by ASIDE more
    peak_c = (60.0 - 0.6 + ASIDE * ROOM_C) / (1.0 + ASIDE) + under_k
    found = gaps(measured(peak_c=peak_c, u=0.3, channels=SIDES))
    assert bool(found) is open_
    assert not found or found[0].startswith("The wall was not measured all round")


def test_measured_all_round_the_measured_figure_counts():
    beside = peaks(wall_12=58.8, wall_6=58.8)
    assert gaps(measured(peak_c=59.0, u=0.3, channels=ROUND, more=beside)) == []
    elsewhere = measured(peak_c=59.0, u=0.3, channels=ROUND, more=beside)
    assert gaps(elsewhere, level_mm=30.0) != []  # all round, but not at the top of the wax


def test_a_bead_that_hangs_half_off_is_told_apart_from_a_cool_side():
    (text,) = gaps(measured(peak_c=55.0, channels=(*SIDES, WALL_12), more=peaks(wall_12=38.0)))
    assert "12 o'clock by only" in text
    assert "may hang off the wall" in text


def test_what_sides_differ_by_at_one_height_counts_at_the_other():
    """At 60 mm the 3 o'clock side rose by a sixth more, at 10 mm it seems no hotter."""
    channels = (WALL_3, WALL_9, LOW, LOW_9, BASE, ROOM)
    alike = measured(peak_c=56.0, channels=channels, more=peaks(low_9=46.0))  # 56 to 51, 50 to 46
    assert gaps(alike) == []
    hidden = measured(peak_c=56.0, channels=channels, more=peaks(low_9=54.0))
    (text,) = gaps(hidden)
    assert text.startswith("Where sides of the wall differ, one may hide")


def test_what_is_over_the_limit_anyway_is_left_to_the_wall():
    assert gaps(measured(peak_c=63.0, u=0.3, channels=SIDES)) == []


def test_the_trial_is_undecided_and_says_what_to_do():
    close = measured(peak_c=58.5, u=0.3)
    verdict = verdict_on([replace(one, evidence=close) for one in six()])
    assert verdict.outcome is Outcome.UNDECIDED
    assert "not measured all round" in deciding(verdict)
    assert "scan the wall by hand" in str(verdict.smallest_next_burn)
