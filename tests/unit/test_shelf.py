"""What follows from records of vessels, formulas and pours, and how their fields are told apart."""

import pytest

from logger.burn.limits import Material
from logger.errors import DataError
from logger.sheet_fields import FieldForm, fields_of
from logger.shelf import candles
from logger.shelf.recipes import FormulaRecord, PourRecord
from logger.shelf.vessels import VesselRecord, clearance
from logger.shelf.wicks import WickingRecord, WickRecord
from logger.words import Words

KINDS = (
    VesselRecord,
    FormulaRecord,
    PourRecord,
    WickRecord,
    WickingRecord,
    candles.TesterRecord,
    candles.TrialRecord,
)
DAY_S = 86_400.0
MAY_S = 1_935_619_200.0  # 2031-05-04T00:00:00Z
CHECKS = {
    "leak_24_h": "passed",
    "tip_10_degrees": "passed",
    "scratches_and_stones": "passed",
    "statement_on_file": "passed",
    "nothing_flammable": "passed",
}


@pytest.mark.parametrize("kind", KINDS)
def test_nothing_but_a_name_is_demanded(kind):
    assert kind(name="amber").name == "amber"
    with pytest.raises(TypeError):
        kind()


@pytest.mark.parametrize("kind", KINDS)
def test_every_field_says_what_it_is_and_how_it_is_written(kind):
    fields = fields_of(kind)
    assert len({one.key for one in fields}) == len(fields)
    assert fields[-1].key == "remark"
    for one in fields:
        assert one.words
        assert one.example or one.form is FieldForm.REFERENCE or one.key == "remark"
        if one.form in (FieldForm.LENGTH, FieldForm.MASS, FieldForm.TEMPERATURE):
            assert one.attribute != one.key, "its unit stands in the name"


def test_a_vessel_s_materials_are_those_that_have_limits():
    (material,) = (one for one in fields_of(VesselRecord) if one.key == "material")
    assert set(material.choices) == {one.value for one in Material}


def test_a_vessel_is_cleared_when_every_check_was_passed():
    assert clearance(VesselRecord(name="amber-75", **CHECKS)).cleared


@pytest.mark.parametrize("check", CHECKS)
@pytest.mark.parametrize("how", ["", "failed"])
def test_one_check_that_was_not_passed_stands_in_the_way(check, how):
    found = clearance(VesselRecord(name="amber-75", **{**CHECKS, check: how}))
    assert not found.cleared
    label = check.replace("_", " ")
    assert (found.failed if how else found.missing) == (label,)
    assert label in found.text


def test_a_vessel_that_nobody_checked_says_what_is_to_be_checked():
    assert clearance(VesselRecord(name="amber-75")).text == (
        "not cleared; not yet checked: leak 24 h, tip 10 degrees, scratches and stones, "
        "statement on file, nothing flammable"
    )


def test_the_shares_of_a_formula_sum_to_the_whole():
    whole = FormulaRecord(
        name="f1", wax="soy", wax_share_percent=91.9, fragrance="slate",
        fragrance_share_percent=8.0, dye="moss", dye_share_percent=0.1,
    )  # fmt: skip
    assert whole.total_percent == pytest.approx(100.0)
    assert [*whole.notes(Words(), MAY_S)] == []


@pytest.mark.parametrize(
    ("shares", "total"),
    [
        ({"wax_share_percent": 92.0, "fragrance_share_percent": 7.0}, "99 %"),
        ({"wax_share_percent": 92.0, "fragrance_share_percent": 8.2}, "100.2 %"),
        ({"wax_share_percent": 95.0, "fragrance_share_percent": 8.0, "dye": "moss"}, "103 %"),
    ],
)
def test_shares_that_do_not_are_refused_with_their_sum(shares, total):
    with pytest.raises(DataError, match=f"sum to {total}, not 100 %"):
        FormulaRecord(name="f1", **shares)


def test_a_share_that_is_not_known_yet_is_asked_for_and_nothing_more():
    found = FormulaRecord(name="f1", wax="soy", wax_share_percent=92.0, fragrance="slate")
    assert [*found.notes(Words(), MAY_S)] == ["share not known of: fragrance"]


@pytest.mark.parametrize(
    ("after_s", "days"), [(0.0, 0), (DAY_S - 1, 0), (DAY_S, 1), (14.5 * DAY_S, 14), (-1.0, None)]
)
def test_days_of_cure_are_counted_at_each_burn(after_s, days):
    pour = PourRecord(name="p1", poured_on_s=MAY_S)
    assert pour.cured_days(MAY_S + after_s) == days
    assert PourRecord(name="p2").cured_days(MAY_S) is None


def test_a_pour_says_how_long_it_has_cured():
    pour = PourRecord(name="p1", poured_on_s=MAY_S)
    assert [*pour.notes(Words(), MAY_S + 1.5 * DAY_S)] == ["cured for 1 day so far"]
    assert "lies ahead" in next(pour.notes(Words(), MAY_S - DAY_S))


def test_head_space_is_less_than_the_vessel():
    with pytest.raises(DataError, match="head_space"):
        VesselRecord(name="amber-75", height_mm=90.0, head_space_mm=90.0)
