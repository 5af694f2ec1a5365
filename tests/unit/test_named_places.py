"""The places of a reading round as their maker writes them."""

import pytest

from logger.errors import DataError
from logger.intake.named_places import named_places
from logger.shelf.rounds import RoundRecord, ThermometerRecord
from logger.words import Words


def record(places: str, **more) -> RoundRecord:
    return RoundRecord(name="jar-a", places=named_places(places), **more)


@pytest.mark.parametrize(
    ("text", "where"),
    [
        ("left, right, back", ["wall, 60 mm, 9 o'clock", "wall, 60 mm, 3 o'clock",
                               "wall, 60 mm, 12 o'clock"]),
        ("60 mm 9, 80 mm 12", ["wall, 60 mm, 9 o'clock", "wall, 80 mm, 12 o'clock"]),
        ("seam 40 mm 7; rim,base, Melt pool", ["wall, 40 mm, 7 o'clock", "rim", "base",
                                               "melt pool"]),
        ("2,5 in 9, front 1 in", ["wall, 64 mm, 9 o'clock", "wall, 25 mm, 6 o'clock"]),
        ("right 4 o'clock", ["wall, 60 mm, 4 o'clock"]),
    ],
    ids=["sides", "heights and clocks", "names", "decimal comma", "a side told otherwise"],
)  # fmt: skip
def test_places_are_named_once(text, where):
    assert [str(one.place) for one in record(text, height_mm=60.0).in_turn] == where


@pytest.mark.parametrize("text", ["60 9", "left 13", "a 9 b", "left 0 mm", "left 2 m", "a, " * 25])
def test_what_is_no_place_is_refused(text):
    with pytest.raises(DataError):
        named_places(text)


def test_a_wall_needs_its_height_and_no_place_stands_twice():
    assert record("rim, base").in_turn
    with pytest.raises(DataError, match="needs its height"):
        record("left, rim")
    with pytest.raises(DataError, match="two of them are one place"):
        record("left, 60 mm 9", height_mm=60.0)


def test_a_finish_says_what_an_infrared_thermometer_sees():
    assert record("rim", finish="bare-glass").emissivity == 0.92
    assert record("rim", finish="mirrored").emissivity is None
    assert "it reflects the room" in list(record("rim", finish="mirrored").notes(Words(), 0.0))[-1]
    with pytest.raises(DataError, match=r"1\.2 is not an emissivity"):
        ThermometerRecord(name="ir-1", emissivity_set=1.2)
