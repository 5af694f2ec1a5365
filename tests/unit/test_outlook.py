"""What the burns so far say of the last quarter of the wax."""

from dataclasses import replace

import pytest
from burn_from_formula import FormulaBurn

from logger.alarms.words import Words
from logger.burn.outlook import outlook


def burns(*peaks_c, **more):
    found = []
    for number, peak_c in enumerate(peaks_c):
        one = FormulaBurn(peak_c=peak_c, length_s=3600.0, number=number, **more)
        burn = one.burn(one.series())
        found.append(replace(burn, hottest=replace(burn.hottest, value_c=peak_c)))
    return found


def shares(some, *used):
    return {burn.id: share for burn, share in zip(some, used, strict=True)}


def test_fewer_than_three_burns_say_nothing():
    some = burns(50.0, 52.0)
    found = outlook(some, Words(), limit_c=60.0, used=shares(some, 0.1, 0.3))
    assert found.last_quarter is None
    assert found.text.startswith("Fewer than three burns")


def test_a_burn_that_goes_on_is_not_counted():
    some = [*burns(50.0, 52.0), replace(burns(54.0)[0], out_s=None)]
    assert outlook(some, Words(), limit_c=60.0).text.startswith("Fewer than three burns")


@pytest.mark.parametrize("used", [None, (0.2, 0.2, 0.2)], ids=["never weighed", "all the same"])
def test_without_the_wax_nothing_is_expected(used):
    some = burns(50.0, 52.0, 54.0)
    found = outlook(some, Words(), limit_c=60.0, used=used and shares(some, *used))
    assert found.last_quarter is None
    assert "How much of the wax was gone" in found.text


@pytest.mark.parametrize(
    ("limit_c", "words"),
    [(59.1, "): under your limit"), (58.9, "): not surely under your limit")],
)
def test_a_line_through_three_burns_is_taken_to_the_end_of_the_wax(limit_c, words):
    some = burns(50.0, 52.0, 54.0)
    found = outlook(some, Words(), limit_c=limit_c, used=shares(some, 0.1, 0.3, 0.5))
    # 10 K for the whole wax: 59 degC at its end, and no scatter
    assert found.last_quarter.peak_c == pytest.approx(59.0)
    assert "peak at 59.0 °C (59.0 °C to 59.0 °C with 90 %, by a line through 3 burns)" in found.text
    assert found.text.endswith(words)
