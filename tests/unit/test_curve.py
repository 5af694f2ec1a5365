"""The curve as drawn: read back from the SVG and held against what was put in."""

import re
import xml.etree.ElementTree as ET
from dataclasses import replace
from itertools import pairwise

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from logger.alarms.lifecycle import Priority
from logger.quantities import Quality, Quantity, Rule
from logger.reports.burn_blocks import curve as curve_of
from logger.reports.burn_history import AlarmStory
from logger.reports.curve import draw, pens
from logger.reports.curve_happened import MOST_ALARMS, curve_marks
from logger.reports.svg import tag, text
from logger.units import unit_of
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

SVG = "{http://www.w3.org/2000/svg}"
LEFT, RIGHT, TOP, BOTTOM = 52.0, 764.0, 34.0, 437.2  # of the plot in a drawing 960 wide


def drawn(burn, width=960.0):
    return ET.fromstring(draw(curve_of(burn.record()), width=width))


def of_class(svg, *names):
    return [e for e in svg.iter() if set(names) <= set(e.get("class", "").split())]


def points(path):
    """The points of a path of one M and relative l."""
    numbers = [float(n) for n in re.findall(r"-?[\d.]+", path.get("d"))]
    found = [(numbers[0], numbers[1])]
    if "h0" in path.get("d"):
        return found
    for dx, dy in zip(numbers[2::2], numbers[3::2], strict=True):
        found.append((found[-1][0] + dx, found[-1][1] + dy))
    return found


def words(svg):
    return [" ".join("".join(e.itertext()).split()) for e in svg.iter(f"{SVG}text")]


def x_of(svg, since_s, length_s):
    return LEFT + (RIGHT - LEFT) * since_s / length_s


def y_of(svg):
    """Height of a temperature in degC, by the lowest and highest figure at the axis."""
    figures = [e for e in svg.iter(f"{SVG}text") if re.fullmatch(r"\d+", e.text or "")]
    low, high = ((float(e.text), float(e.get("y")) - 4.0) for e in (figures[0], figures[-1]))
    return lambda value_c: low[1] + (value_c - low[0]) * (high[1] - low[1]) / (high[0] - low[0])


def pen_class(burn, name):
    curve = curve_of(burn.record())
    pairs = zip(pens(curve), curve.lines, strict=True)
    return next(pen.css for pen, place_line in pairs if place_line.channel.name == name)


def test_a_line_follows_its_place():
    burn = FormulaBurn(peak_c=55.0)
    svg = drawn(burn)
    (line,) = [e for e in of_class(svg, "curve-line", pen_class(burn, "wall-3")) if e.get("d")]
    ends = points(line)
    assert ends[0][0] == pytest.approx(LEFT, abs=3.0)
    assert ends[-1][0] == pytest.approx(RIGHT, abs=3.0)
    assert ends[-1][1] == pytest.approx(y_of(svg)(55.0), abs=0.3)


@pytest.mark.parametrize("gap_s", [60.0, 600.0, 3600.0])
def test_no_line_crosses_a_time_without_estimates(gap_s):
    burn = FormulaBurn(without={"wall-9": ((5000.0, 5000.0 + gap_s),)})
    svg = drawn(burn)
    lines = [e for e in of_class(svg, "curve-line", pen_class(burn, "wall-9")) if e.get("d")]
    assert len(lines) == 2
    start, end = x_of(svg, 4995.0, 14_400.0), x_of(svg, 5000.0 + gap_s, 14_400.0)
    assert points(lines[0])[-1][0] <= start + 0.1
    assert points(lines[1])[0][0] >= end - 0.1
    (hatch,) = of_class(svg, "curve-gap")
    middle = float(hatch.get("x")) + float(hatch.get("width")) / 2.0
    assert middle == pytest.approx((start + end) / 2.0, abs=0.1)
    assert float(hatch.get("width")) == pytest.approx(max(end - start, 3.0), abs=0.1)
    assert "no B" in words(svg)


def test_the_other_lines_go_on():
    burn = FormulaBurn(without={"wall-9": ((5000.0, 8600.0),)})
    lines = [e for e in of_class(drawn(burn), "curve-line", pen_class(burn, "base")) if e.get("d")]
    assert len(lines) == 1


def test_four_seconds_of_silence_are_a_gap_though_the_estimate_was_carried_on():
    silent = AlarmFromFormula("silent", "wall-3", limit=2.0).on(5004.0).off(5006.0)
    burn = FormulaBurn(events=silent.events)
    svg = drawn(burn)
    lines = [e for e in of_class(svg, "curve-line", pen_class(burn, "wall-3")) if e.get("d")]
    assert len(lines) == 2
    (hatch,) = of_class(svg, "curve-gap")
    assert float(hatch.get("width")) >= 3.0  # true to scale it would be a fifth of a pixel


def test_all_places_lost_says_so():
    lost = ((5000.0, 9000.0),)
    burn = FormulaBurn(without={"wall-3": lost, "wall-9": lost, "base": lost})
    svg = drawn(burn)
    assert "no reading" in words(svg)
    assert len(of_class(svg, "curve-gap")) == 1


@settings(max_examples=15, deadline=None)
@given(st.integers(1, 14_398), st.floats(50.0, 90.0))
def test_a_peak_of_one_estimate_is_never_thinned_away(second, peak_c):
    burn = FormulaBurn(peak_c=45.0, more=(estimate("base", LIT_S + second + 0.5, peak_c),))
    svg = drawn(burn, width=360.0)
    spans = of_class(svg, "curve-span", pen_class(burn, "base"))
    highest = min(y for span in spans for _, y in points(span))
    assert highest == pytest.approx(y_of(svg)(peak_c), abs=0.1)


def test_thousands_of_estimates_become_a_drawing_of_some_kilobytes():
    size = len(draw(curve_of(FormulaBurn().record()), width=960.0))
    assert size < 60_000  # 11 524 estimates of four places


def test_the_band_is_the_expanded_uncertainty_of_the_hottest_place():
    burn = FormulaBurn(peak_c=55.0, u=0.5)
    svg = drawn(burn)
    (band,) = of_class(svg, "curve-band")
    assert pen_class(burn, "wall-3") in band.get("class").split()
    assert min(y for _, y in points(band)) == pytest.approx(y_of(svg)(56.0), abs=0.2)


def test_the_ring_is_at_the_highest():
    svg = drawn(FormulaBurn(peak_c=45.0, more=(estimate("base", LIT_S + 7200.0, 58.0),)))
    (ring,) = of_class(svg, "curve-hottest")
    assert float(ring.get("cx")) == pytest.approx((LEFT + RIGHT) / 2.0, abs=0.1)
    assert float(ring.get("cy")) == pytest.approx(y_of(svg)(58.0), abs=0.1)


def test_alarms_are_numbered_signs_by_priority_and_close_ones_share_the_gravest():
    alarms = [
        AlarmFromFormula("wall-alert", "wall-3", priority=Priority.CAUTION).on(3000.0),
        AlarmFromFormula("wall-limit", "wall-3", priority=Priority.WARNING).on(3030.0),
        AlarmFromFormula("burn-ending", priority=Priority.NOTICE).on(13_500.0),
        AlarmFromFormula("emergency", priority=Priority.DANGER).on(8000.0),
    ]
    svg = drawn(FormulaBurn(events=tuple(e for alarm in alarms for e in alarm.events)))
    marks = of_class(svg, "curve-mark")
    assert [" ".join("".join(e.itertext()) for e in m.iter(f"{SVG}text")) for m in marks] == [
        "1-2",
        "4",
        "3",
    ]
    shapes = [m[0].tag.removeprefix(SVG) for m in marks]
    corners = [len(m[0].get("points", "").split()) for m in marks]
    assert list(zip(shapes, corners, strict=True)) == [
        ("polygon", 3),
        ("polygon", 4),
        ("circle", 0),
    ]


@pytest.mark.parametrize("width", [360.0, 960.0])
def test_signs_and_letters_at_the_very_end_are_whole_and_apart(width):
    by_hand = estimate(HAND.name, LIT_S + 14_390.0, 59.0, u=0.4)
    alarms = [
        event
        for number in range(14)
        for event in AlarmFromFormula("wall-alert", "wall-3", limit=55.0)
        .on(14_300.0 + number)
        .off(14_300.5 + number)
        .events
    ]
    burn = FormulaBurn(channels=(WALL_3, HAND, ROOM), events=tuple(alarms), more=(by_hand,))
    svg = drawn(burn, width)
    written = [e for e in svg.iter(f"{SVG}text") if "1-14" in (e.text or "")]
    (numbers,) = written
    x, wide = float(numbers.get("x")), 6.5 * len("1-14")
    assert (x if numbers.get("text-anchor") == "end" else x + wide) <= width
    letters = [e for e in svg.iter(f"{SVG}text") if "".join(e.itertext()).strip()[:1] == "B"]
    boxes = sorted(box(one, len("B")) for one in letters)
    assert len(boxes) >= 2
    for (_, first_right, first_y), (second_left, _, second_y) in pairwise(boxes):
        assert first_right <= second_left or abs(first_y - second_y) >= 11.0


def box(text, letters):
    """Left and right end and height of the first letters of a text, about."""
    x, wide = float(text.get("x")), 8.0 * letters
    left = x - wide if text.get("text-anchor") == "end" else x
    return left, left + wide, float(text.get("y"))


def test_doubtful_estimates_are_dots_and_lost_ones_nothing():
    burn = FormulaBurn(
        without={"wall-3": ((5000.0, 5600.0),)},
        more=tuple(
            estimate("wall-3", LIT_S + since_s, 48.0, quality=quality)
            for since_s, quality in (
                (5100.0, Quality.DOUBTFUL),
                (5200.0, Quality.LOST),
                (5300.0, Quality.DOUBTFUL),
            )
        ),
    )
    svg = drawn(burn)
    dots = [e for e in of_class(svg, "curve-line", pen_class(burn, "wall-3")) if e.get("cx")]
    assert [round(float(e.get("cx")), 1) for e in dots] == [
        pytest.approx(x_of(svg, since_s, 14_400.0), abs=0.1) for since_s in (5100.0, 5300.0)
    ]


def test_what_was_read_by_hand_is_points_and_no_line():
    burn = FormulaBurn(
        channels=(WALL_3, HAND, ROOM),
        more=tuple(estimate(HAND.name, LIT_S + 3600.0 * n, 50.0, u=1.0) for n in (1, 2, 3)),
    )
    svg = drawn(burn)
    marks = of_class(svg, "curve-line", pen_class(burn, HAND.name))
    assert not [e for e in marks if e.get("d")]
    assert len([e for e in marks if e.get("cx")]) == 3
    assert "B rim, by hand" in words(svg)


@pytest.mark.parametrize("width", [960.0, 360.0])
def test_every_place_is_named_beside_its_letter(width):
    svg = drawn(FormulaBurn(), width=width)
    assert {
        "A wall, 60 mm, 3 o'clock",
        "B wall, 60 mm, 9 o'clock",
        "C base",
        "D room",
    } <= set(words(svg))


@pytest.mark.parametrize("last_c", [62.0, 50.0, 27.0])
def test_names_at_the_lines_ends_lie_on_no_other_and_within_the_plot(last_c):
    walls = tuple(channel(f"wall-{n}", height_mm=60.0, clock=n) for n in range(1, 13))
    more = tuple(estimate(one.name, LIT_S + 14_400.0, last_c) for one in walls)
    svg = drawn(FormulaBurn(channels=walls, more=more, without={"wall-9": ((0.0, 2e4),)}))
    heights = sorted(
        float(e.get("y")) for e in svg.iter(f"{SVG}text") if "o'clock" in "".join(e.itertext())
    )
    assert len(heights) == 12
    assert heights[0] - 4.0 >= TOP
    assert heights[-1] - 4.0 <= BOTTOM
    assert all(b - a >= 12.9 for a, b in pairwise(heights))


def test_no_two_of_twenty_places_have_the_same_colour_and_dash():
    walls = tuple(channel(f"wall-{n}", height_mm=float(n)) for n in range(20))
    drawing = pens(curve_of(FormulaBurn(channels=walls).record()))
    assert len({(pen.colour, pen.dash) for pen in drawing}) == 20


@pytest.mark.parametrize(
    ("unit", "limit", "sign"),
    [("degC", "60.0 °C", "°C"), ("degF", "140.0 °F", "°F"), ("K", "333.1 K", "K")],
)
def test_axes_are_in_the_unit_of_the_bench(unit, limit, sign):
    said = words(drawn(FormulaBurn(unit=unit_of(unit, Quantity.TEMPERATURE))))
    assert f"the maker's limit {limit}" in said
    assert sign in said


def test_hours_since_lighting_stand_above_the_time_of_day():
    said = words(drawn(FormulaBurn()))
    assert said.index("1:00") + 1 == said.index("12:05")  # lit at 09:05 UTC, shown in UTC+02:00


@pytest.mark.parametrize(
    "burn",
    [
        pytest.param({"channels": ()}, id="no channel"),
        pytest.param({"length_s": 0.0, "is_out": False}, id="just lit"),
        pytest.param({"length_s": 5.0, "is_out": False}, id="two estimates"),
        pytest.param({"channels": (ROOM,)}, id="room alone"),
        pytest.param({"without": {"wall-3": ((0.0, 2e4),)}}, id="a place that never spoke"),
    ],
)
@pytest.mark.parametrize("width", [960.0, 360.0])
def test_little_is_drawn_too(burn, width):
    assert drawn(FormulaBurn(**burn), width=width).get("width") == f"{width:g}"


@settings(max_examples=40, deadline=None)
@given(
    st.lists(
        st.tuples(
            st.floats(-100.0, 4000.0),
            st.none() | st.floats(-50.0, 500.0),
            st.none() | st.floats(0.0, 50.0),
            st.sampled_from(Quality),
        ),
        max_size=30,
    ),
    st.sampled_from([WALL_3, BASE, ROOM, HAND]),
)
def test_whatever_the_estimates_the_drawing_is_well_formed_and_finite(found, place):
    more = tuple(
        estimate(place.name, LIT_S + since_s, value, u=u, quality=quality)
        for since_s, value, u, quality in found
    )
    burn = FormulaBurn(channels=(WALL_9, place), length_s=3600.0, more=more)
    text = draw(curve_of(burn.record()), width=360.0)
    ET.fromstring(text)
    assert not re.search(r"\b(nan|inf)\b", text)


def test_a_name_neither_turns_a_drawing_around_nor_breaks_it():
    name = "cedar \u202e6\x00 <b>&\n7"
    drawing = tag("g", text(0.0, 0.0, name), tag("title", name), aria_label=name)
    group = ET.fromstring(drawing)  # XML 1.0, 2.2, has no U+0000
    assert {group.get("aria-label"), *(one.text for one in group)} == {"cedar  6  <b>& 7"}


def test_alarms_that_cannot_be_told_apart_are_one_with_their_number():
    many = tuple(
        AlarmStory(
            number=n + 1, rule=Rule.SILENT, channel="wall-3", text=f"alarm {n + 1}",
            priority=Priority.WARNING if n == 5000 else Priority.NOTICE,
            raised_s=LIT_S + 0.7 * n, ended_s=None if n == 9000 else LIT_S + 0.7 * n + 0.3,
        )
        for n in range(20_000)
    )  # fmt: skip
    marks = curve_marks(many, (), (), (), lit_s=LIT_S)
    assert len(marks) <= MOST_ALARMS + 1
    several = [int(one.text.split()[0]) for one in marks if "alarms too close" in one.text]
    assert sum(several) + len(marks) - len(several) == len(many)
    (grave,) = [one for one in marks if one.priority == "warning"]
    assert grave.text.endswith("the gravest: alarm 5001")
    assert [one.sign for one in marks if one.to_s is None] == ["9001-9200"]
    few = curve_marks(many[:MOST_ALARMS], (), (), (), lit_s=LIT_S)
    assert [one.text for one in few] == [one.text for one in many[:MOST_ALARMS]]
    svg = draw(replace(curve_of(FormulaBurn().record()), alarms=many))
    assert svg.count("<line") < 1000  # 712 px wide is the plot
