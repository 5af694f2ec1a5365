"""What was not measured: gaps and shares, held against counting seconds."""

from itertools import pairwise

import pytest
from hypothesis import given
from hypothesis import strategies as st

from logger.burn.evidence import Gap, allowed_spacing_s, cover, gaps, merged
from logger.quantities import Quality
from tests.support.burn_from_formula import HAND, LIT_S, ROOM, WALL_3, estimate

SPACING_S = allowed_spacing_s(WALL_3)


def test_three_steps_may_pass_between_two_estimates():
    assert SPACING_S == 15.0


spans = st.lists(
    st.tuples(st.integers(0, 400), st.integers(1, 60)).map(
        lambda span: Gap(from_s=float(span[0]), to_s=float(span[0] + span[1]))
    ),
    max_size=6,
)


@given(st.sets(st.integers(0, 400)), spans)
def test_a_second_is_in_a_gap_just_when_no_good_estimate_is_near_or_the_link_was_silent(
    seconds, silences
):
    good = [estimate("wall-3", float(second), 40.0) for second in sorted(seconds)]
    found = gaps(WALL_3, good, from_s=0.0, to_s=400.0, silences=silences)
    edges = [0.0, *(e.at_s for e in good), 400.0]
    for tenth in range(5, 4000, 10):  # between whole seconds, where no edge lies
        at_s = tenth / 10.0
        before = max(edge for edge in edges if edge <= at_s)
        after = min(edge for edge in edges if edge >= at_s)
        silent = any(gap.from_s < at_s < gap.to_s for gap in silences)
        assert any(gap.from_s < at_s < gap.to_s for gap in found) is (
            silent or after - before > SPACING_S
        )


@given(spans)
def test_merged_gaps_lie_apart_and_in_order(found):
    whole = merged(found)
    assert all(a.to_s < b.from_s for a, b in pairwise(whole))


def test_only_good_estimates_count():
    qualities = [Quality.GOOD, Quality.DOUBTFUL, Quality.LOST, Quality.DOUBTFUL, Quality.GOOD]
    estimates = [
        estimate("wall-3", LIT_S + 5.0 * n, 40.0, quality=quality)
        for n, quality in enumerate(qualities)
    ]
    (gap,) = gaps(WALL_3, estimates, from_s=LIT_S, to_s=LIT_S + 20.0)
    assert (gap.from_s, gap.to_s) == (LIT_S, LIT_S + 20.0)


def test_share_is_what_remains():
    estimates = [estimate("wall-3", LIT_S + 5.0 * n, 40.0) for n in range(201) if not 50 < n < 100]
    seen = cover(WALL_3, estimates, from_s=LIT_S, to_s=LIT_S + 1000.0)
    assert seen.missing_s == seen.longest_gap_s == 250.0
    assert seen.share == pytest.approx(0.75)


def test_never_measured_is_no_share_at_all():
    seen = cover(ROOM, [], from_s=LIT_S, to_s=LIT_S + 10.0)  # shorter than an allowed spacing
    assert not seen.measured
    assert seen.share == 0.0


def test_by_hand_there_is_no_share_to_speak_of():
    seen = cover(HAND, [estimate(HAND.name, LIT_S + 5.0, 40.0)], from_s=LIT_S, to_s=LIT_S + 3600.0)
    assert seen.measured
    assert seen.by_hand
    assert (seen.share, seen.gaps) == (0.0, ())
