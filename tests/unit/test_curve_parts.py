"""Scales, columns and SVG elements by themselves."""

import xml.etree.ElementTree as ET

import pytest
from hypothesis import given
from hypothesis import strategies as st

from logger.burn.evidence import Gap
from logger.quantities import Quality
from logger.reports.place_line import PlaceLine
from logger.reports.scale import Scale, round_step, ticks, time_step_s
from logger.reports.svg import coordinate, path, tag, text
from logger.reports.thinning import stretches
from tests.support.burn_from_formula import WALL_3, estimate


@pytest.mark.parametrize(
    ("span", "about", "step"), [(45.0, 6, 10.0), (81.0, 6, 20.0), (12.0, 6, 2.0), (0.7, 7, 0.1)]
)
def test_round_steps(span, about, step):
    assert round_step(span, about) == pytest.approx(step)


@given(st.floats(1e-3, 1e5), st.integers(2, 12))
def test_a_round_step_is_1_2_or_5_and_parts_into_no_more(span, about):
    step = round_step(span, about)
    assert span / step <= about * 1.002
    assert f"{step:.0e}"[0] in "125"


@pytest.mark.parametrize(
    ("span_s", "step_s"), [(300.0, 60.0), (2400.0, 300.0), (14_400.0, 1800.0), (16_200.0, 1800.0)]
)
def test_time_steps_are_those_of_a_clock(span_s, step_s):
    assert time_step_s(span_s, 9) == step_s


def test_ticks_hold_both_ends():
    assert ticks(20.0, 60.0, 20.0) == (20.0, 40.0, 60.0)
    assert ticks(21.0, 59.0, 20.0) == (40.0,)


def test_a_scale_may_fall():
    scale = Scale(low=20.0, high=60.0, start=400.0, end=0.0)
    assert (scale(20.0), scale(60.0), scale(30.0)) == (400.0, 0.0, 300.0)


def traced(found, *gaps):
    return PlaceLine.of_estimates("A", WALL_3, found, gaps)


values = st.lists(st.floats(-50.0, 500.0), min_size=1, max_size=200)


@given(values, st.floats(1.0, 200.0))
def test_columns_keep_the_lowest_and_the_highest_and_all_time(found, column_s):
    place_line = traced([estimate("a", 5.0 * n, value, u=0.5) for n, value in enumerate(found)])
    (thin,) = stretches(place_line, from_s=0.0, to_s=1e4, column_s=column_s)
    assert max(column.highest for column in thin) == max(found)
    assert min(column.lowest for column in thin) == min(found)
    assert max(column.upper for column in thin) == max(found) + 1.0
    assert [c.at_s for c in thin] == sorted(c.at_s for c in thin)
    assert all(c.lowest <= c.mean + 1e-9 and c.mean <= c.highest + 1e-9 for c in thin)


@given(st.sets(st.integers(0, 100), max_size=30), st.integers(0, 100), st.integers(1, 40))
def test_stretches_lose_nothing_outside_of_a_gap_and_bridge_none(seconds, start, length):
    gap = Gap(from_s=float(start), to_s=float(start + length))
    good = [estimate("a", float(second), 40.0) for second in sorted(seconds)]
    found = list(stretches(traced(good, gap), from_s=0.0, to_s=100.0, column_s=0.5))
    kept = [column.at_s for stretch in found for column in stretch]
    assert kept == [s for s in sorted(map(float, seconds)) if not gap.from_s < s < gap.to_s]
    for stretch in found:
        assert not (stretch[0].at_s <= gap.from_s and stretch[-1].at_s >= gap.to_s)


def test_only_good_estimates_are_a_line():
    found = [estimate("a", 5.0 * n, 40.0, quality=q) for n, q in enumerate(Quality)]
    ((one,),) = stretches(traced(found), from_s=0.0, to_s=100.0, column_s=1.0)
    assert [e.at_s for e in found if e.quality is Quality.GOOD] == [one.at_s]


@given(st.lists(st.tuples(st.floats(-2e3, 2e3), st.floats(-2e3, 2e3)), min_size=1, max_size=60))
def test_the_steps_of_a_path_do_not_drift(found):
    written = path(found)
    numbers = written.replace("M", "").replace("l", " ").replace("h0", "").split()
    x, y = float(numbers[0]), float(numbers[1])
    for (to_x, to_y), dx, dy in zip(found[1:], numbers[2::2], numbers[3::2], strict=True):
        x, y = x + float(dx), y + float(dy)
        assert (x, y) == (pytest.approx(to_x, abs=0.051), pytest.approx(to_y, abs=0.051))


@pytest.mark.parametrize(
    ("at", "written"), [(1.0, "1"), (-0.04, "0"), (-1.25, "-1.2"), (0.5, "0.5")]
)
def test_coordinates_are_short(at, written):
    assert coordinate(at) == written


@given(st.text(st.characters().filter(str.isprintable)))  # the rest is left out
def test_text_and_attributes_are_escaped(words):
    element = ET.fromstring(tag("g", text(0.0, 0.0, words), tag("title", words), id=words or "x"))
    assert (element[0].text or "") == words
    assert (element[1].text or "") == words
    assert element.get("id") == (words or "x")
