"""The wall unrolled: which parts were measured, which never, and what is not known at all."""

import xml.etree.ElementTree as ET
from dataclasses import replace

import pytest

from logger.burn.coverage import PartState, at_the_wax, never_measured, unknown, wall_coverage
from logger.quantities import BY_HAND, MILLIMETRE, Place, Position, Unit
from logger.reports.document_html import record_html
from logger.reports.unrolled import unrolled
from logger.words import Words
from tests.support.burn_from_formula import (
    BASE,
    HAND,
    LIT_S,
    ROOM,
    WALL_3,
    WALL_9,
    FormulaBurn,
    channel,
    estimate,
)

WORDS = Words()
INCH = Unit(name="in", factor=25.4)
RIM = replace(
    HAND, name="rim", instrument="probes-a", place=Place(position=Position.RIM, height_mm=90.0)
)


def covered(*, unit=MILLIMETRE, **burn):
    return wall_coverage(FormulaBurn(**burn).evidence().coverage, unit)


def wall(name, height_mm, clock):
    place = Place(position=Position.WALL, height_mm=height_mm, clock=clock)
    return replace(WALL_3, name=name, place=place)


def seen(found):
    return {(part.low_mm, part.side): part.seen for part in found.parts}


def test_a_place_counts_for_its_band_and_its_quarter_alone():
    found = covered()
    assert found.top_mm == 60.0
    assert len(found.parts) == 3 * 4
    assert {at for at, how in seen(found).items() if how is PartState.MEASURED} == {
        (40.0, 3),
        (40.0, 9),
    }
    assert len(found.never) == 10


@pytest.mark.parametrize(
    ("clock", "side"),
    [(12, 12), (1, 12), (11, 12), (2, 3), (4, 3), (5, 6), (7, 6), (8, 9), (10, 9)],
)
def test_every_hour_belongs_to_a_quarter(clock, side):
    wall = channel("wall-3", height_mm=10.0, clock=clock)
    found = covered(channels=(wall, ROOM))
    assert [part.side for part in found.parts if part.seen is not PartState.NEVER] == [side]


def test_what_was_never_measured_is_told_as_where_to_scan():
    assert never_measured(covered(), Words()) == (
        "never measured in this burn: the lower 40 mm at 3 and 9 o'clock; the height up to 60 mm "
        "at 12 and 6 o'clock"
    )


def test_with_a_rim_the_whole_height_is_known():
    found = covered(channels=(WALL_3, WALL_9, RIM, ROOM), more=(estimate("rim", LIT_S + 60, 30.0),))
    assert found.rim_known
    assert found.top_mm == 90.0
    assert max(part.high_mm for part in found.parts) == 90.0  # the last band ends at the rim
    told = never_measured(found, Words())
    assert "the lower 60 mm at 3 and 9 o'clock; 80 to 90 mm" not in told  # 60 mm is in the fourth
    assert "the lower 60 mm at 3 and 9 o'clock" in told
    assert "80 to 90 mm at 3 and 9 o'clock" in told
    assert "the whole height at 12 and 6 o'clock" in told
    assert unknown(found, Words()) == "The level of the wax was not recorded"


def test_what_cannot_be_known_is_said():
    nowhere = channel("wall-9", clock=9)
    found = covered(channels=(WALL_3, nowhere, ROOM))
    assert unknown(found, Words()) == (
        "The level of the wax was not recorded; the vessel's height was not recorded either: above "
        "60 mm nothing is said; 1 place without a height or a clock position counts for no part"
    )
    assert covered(channels=(nowhere, BASE, ROOM)) is None


def test_gaps_and_readings_by_hand_are_less_than_measured():
    hand = replace(
        WALL_9, name="hand", instrument=BY_HAND,
        place=Place(position=Position.WALL, height_mm=10.0, clock=6),
    )  # fmt: skip
    found = covered(
        channels=(WALL_3, WALL_9, hand, ROOM),
        more=(estimate("hand", LIT_S + 3600.0, 44.0),),
        without={"wall-3": ((3600.0, 7200.0),)},
    )
    assert seen(found)[(40.0, 3)] is PartState.IN_PART
    assert seen(found)[(40.0, 9)] is PartState.MEASURED
    assert seen(found)[(0.0, 6)] is PartState.BY_HAND
    share = next(part.share for part in found.parts if part.seen is PartState.IN_PART)
    assert share == pytest.approx(0.75, abs=0.01)


def test_bands_and_words_are_in_the_makers_unit():
    found = covered(unit=INCH)
    assert sorted({part.low_mm for part in found.parts}) == pytest.approx([0.0, 25.4, 50.8])
    told = never_measured(found, Words(length_in=INCH))
    assert "the lower 2.0 in at 3 and 9 o'clock" in told
    assert "mm" not in told


def test_a_wall_without_a_bare_spot_says_nothing():
    walls = tuple(channel(f"wall-x{clock}", height_mm=15.0, clock=clock) for clock in (12, 3, 6, 9))
    more = tuple(estimate(one.name, LIT_S + 60.0, 40.0) for one in walls)
    assert never_measured(covered(channels=(*walls, ROOM), more=more), Words()) == ""


def test_the_drawing_has_every_part_and_tells_them_apart_without_colour():
    found = covered(without={"wall-3": ((3600.0, 7200.0),)})
    drawing = ET.fromstring(unrolled(found, MILLIMETRE))
    rects = drawing.findall("{http://www.w3.org/2000/svg}rect")
    assert len(rects) == 1 + 12 + len(PartState)  # paper, parts, legend
    fills = {rect.get("fill") for rect in rects[1:]}
    assert fills == {"url(#never)", "url(#by-hand)", "#d9d9d9", "#9a9a9a"}  # hatches and greys
    words = [text.text for text in drawing.findall("{http://www.w3.org/2000/svg}text")]
    assert {"75 %", "never measured", "12 o'clock", "9 o'clock", "60 mm", "40"} <= set(words)


def test_the_record_draws_it_and_says_where_nobody_measured():
    page = record_html(FormulaBurn().record())
    assert 'class="unrolled"' in page
    assert "Never measured in this burn: the lower 40 mm at 3 and 9 o&#39;clock" in page
    assert "The level of the wax was not recorded" in page
    assert (
        "unrolled"
        not in record_html(FormulaBurn(channels=(BASE, ROOM)).record()).partition("</style>")[2]
    )


def test_the_guide_goes_by_the_level_of_the_wax():
    at_62 = wall("probe", height_mm=62.0, clock=3)
    by_hand = replace(wall("hand", height_mm=45.0, clock=9), instrument=BY_HAND)
    assert at_the_wax(42.0, [at_62], WORDS) == (
        "wax is now at 42 mm: scan there at 12, 3, 6 and 9 o'clock, from the side; once the vessel "
        "is cold, move the probe down 20 mm"
    )
    assert at_the_wax(42.0, [at_62, by_hand], WORDS).startswith(
        "wax is now at 42 mm: scan there at 12, 3 and 6 o'clock"
    )
    round_it = [wall(f"p-{clock}", height_mm=40.0, clock=clock) for clock in (12, 3, 6, 9)]
    assert at_the_wax(42.0, round_it, WORDS) == "wax is now at 42 mm"
