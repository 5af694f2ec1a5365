"""Cells of tables kept by hand, as people write them."""

from zoneinfo import ZoneInfo

import pytest

from logger.errors import DataError
from logger.intake.table_cells import figures, length_s, mass, moment_s, out_s
from logger.quantities import Quantity

VIENNA = ZoneInfo("Europe/Vienna")


@pytest.mark.parametrize(
    ("cell", "unit", "values", "found"),
    [
        ("57.5", "degC", (57.5,), "degC"),
        ("57,5", "degC", (57.5,), "degC"),
        ("57,5 C", "degF", (57.5,), "degC"),
        ("135 °F", "degC", (135.0,), "degF"),
        ("135F", "", (135.0,), "degF"),
        ("131/132/131", "F", (131.0, 132.0, 131.0), "degF"),
        ("131 132; 131 F", "", (131.0, 132.0, 131.0), "degF"),
        ("57,5 57,7 degC", "degF", (57.5, 57.7), "degC"),
        ("131 132 131 F", "degC", (131.0, 132.0, 131.0), "degF"),
        (" 57.5 degC / 57.7 ", "degF", (57.5, 57.7), "degC"),
    ],
)
def test_temperatures(cell, unit, values, found):
    assert figures(cell, unit, Quantity.TEMPERATURE) == (values, found)


@pytest.mark.parametrize(
    ("cell", "unit", "why"),
    [
        ("warm", "degC", "is no temperature"),
        ("57.5", "", "has no unit"),
        ("57 C / 135 F", "degC", "mixes units"),
        ("57.5 g", "degC", "not a unit of temperature"),
        ("1,000", "degC", "two ways"),
        ("5..7", "degC", "not a number"),
        ("9" * 200, "degC", "too long"),
    ],
)
def test_what_is_no_temperature_says_what_to_write(cell, unit, why):
    with pytest.raises(DataError, match=why):
        figures(cell, unit, Quantity.TEMPERATURE)


def test_a_mass_keeps_the_unit_it_was_written_in():
    assert mass("532,4", "g") == "532.4 g"
    assert mass("17.1 oz", "g") == "17.1 oz"
    with pytest.raises(DataError, match="holds 2 masses"):
        mass("532 / 533", "g")


@pytest.mark.parametrize(
    ("cell", "unit", "seconds"),
    [
        ("4 h", "", 14_400.0),
        ("2 h 10", "", 7800.0),
        ("2h10min", "", 7800.0),
        ("2:10", "", 7800.0),
        ("2 h 10 min", "", 7800.0),
        ("130", "min", 7800.0),
        ("2,5", "h", 9000.0),
        ("90 min", "h", 5400.0),
    ],
)
def test_how_long_it_burned(cell, unit, seconds):
    assert length_s(cell, unit) == seconds


def test_a_length_without_a_unit_is_not_guessed():
    with pytest.raises(DataError, match="no unit"):
        length_s("4", "")
    with pytest.raises(DataError):
        length_s("long", "h")


def test_moments_in_the_zone_of_the_map():
    # 2031-05-04 in Vienna is UTC+2 (tz database, summer time); 16:30 UTC is 1 935 678 600
    # (`date -u -d 2031-05-04T16:30 +%s` of GNU coreutils)
    forms = ("%d.%m.%Y %H:%M", "%m/%d/%Y %I:%M %p")
    for cell in ("2031-05-04 18:30", "04.05.2031  18:30", "5/4/2031 6:30 pm", "2031-05-04T16:30Z"):
        assert moment_s(cell, forms, VIENNA) == 1_935_678_600.0
    assert moment_s("2031-05-04 00:00", (), VIENNA) == 1_935_678_600.0 - 18.5 * 3600.0


@pytest.mark.parametrize("cell", ["4 May, evening", "2031-05-04", "31.02.2031 18:00", "18:30"])
def test_a_date_in_another_form_says_which_forms_there_are(cell):
    with pytest.raises(DataError, match=r"2031-05-04 18:30 or %d\.%m\.%Y %H:%M"):
        moment_s(cell, ("%d.%m.%Y %H:%M",), VIENNA)


def test_out_may_be_after_midnight():
    lit_s = moment_s("2031-05-04 22:30", (), VIENNA)
    assert out_s("02:30", lit_s, (), VIENNA) == lit_s + 4 * 3600.0
    assert out_s("2031-05-05 01:00", lit_s, (), VIENNA) == lit_s + 2.5 * 3600.0
    with pytest.raises(DataError, match="not a time of day"):
        out_s("25:00", lit_s, (), VIENNA)
