"""What the burns so far say of the last quarter of the wax."""

from dataclasses import replace

import pytest

from logger.decision.outlook import outlook
from logger.words import Words
from tests.support.burn_from_formula import FormulaBurn


def burns(*peaks_c, used=None, u=0.0):
    """A day apart; `used` is the share of the wax that was gone half-way through each."""
    found = []
    for number, peak_c in enumerate(peaks_c):
        one = FormulaBurn(peak_c=peak_c, length_s=3600.0, number=number)
        burn = one.burn(one.series())
        hottest = replace(burn.hottest, value_c=peak_c, standard_uncertainty_c=u)
        shift_s = number * 86_400.0
        burn = replace(
            burn, hottest=hottest, lit_s=burn.lit_s + shift_s, out_s=burn.out_s + shift_s
        )
        if used is not None:
            half_way_g = 532.0 - 220.0 * used[number]
            start_g = found[-1].mass_after_g if found else 532.0
            burn = replace(
                burn, mass_before_g=start_g, mass_after_g=2.0 * half_way_g - start_g, wax_g=220.0
            )
        found.append(burn)
    return found


def test_fewer_than_three_burns_say_nothing():
    found = outlook(burns(50.0, 52.0, used=(0.1, 0.3)), Words(), limit_c=60.0)
    assert found.last_quarter is None
    assert found.text.startswith("Fewer than three burns")


def test_a_burn_that_goes_on_is_not_counted():
    some = burns(50.0, 52.0, 54.0, used=(0.1, 0.3, 0.5))
    some[-1] = replace(some[-1], out_s=None)
    assert outlook(some, Words(), limit_c=60.0).text.startswith("Fewer than three burns")


def test_without_the_wax_nothing_is_expected_and_what_to_do_is_told():
    found = outlook(burns(50.0, 52.0, 54.0), Words(), limit_c=60.0)
    assert found.last_quarter is None
    assert "Weigh the cold candle before its first burn and after each" in found.text


@pytest.mark.parametrize(
    ("limit_c", "words"),
    [
        (72.0, "): under the maker's limit"),
        (71.0, "): not certain to stay under the maker's limit"),
    ],
)
def test_a_line_through_three_burns_is_taken_to_the_end_of_the_wax(limit_c, words):
    some = burns(50.0, 52.0, 54.0, used=(0.1, 0.3, 0.5))
    found = outlook(some, Words(), limit_c=limit_c)
    # 10 K for the whole wax and 6 late: 65 degC; no scatter, the late rise to 4 K (90 %: 6.6)
    assert found.last_quarter.peak_c == pytest.approx(65.0)
    assert (
        "peak at 65.0 °C (58.4 °C to 71.6 °C with 90 % probability, by a line through 3"
        in found.text
    )
    assert found.text.endswith(words)


def test_an_unsure_peak_widens_it():
    some = burns(50.0, 52.0, 54.0, used=(0.1, 0.3, 0.5), u=3.0)
    found = outlook(some, Words(), limit_c=70.0).last_quarter
    assert found.high_c - found.peak_c == pytest.approx(1.6449 * 5.0, abs=1e-3)  # 3 and 4 K


def test_burns_of_the_same_part_of_the_wax_are_too_early():
    found = outlook(burns(54.0, 53.0, 52.0, used=(0.05, 0.06, 0.055)), Words(), limit_c=60.0)
    assert found.last_quarter is None
    assert found.text.startswith("Too early to say")
    assert "under the maker's limit" not in found.text
