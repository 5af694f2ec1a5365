"""What a candle's weighings tell together: rate, wax left, burns left, and when it is too early."""

import random
from dataclasses import replace
from itertools import pairwise

import pytest

from logger.burn.candle_life import FEWEST_WEIGHINGS, candle_life
from logger.burn.consumption import consumption
from logger.burn.stated import Ending
from logger.burn.wax_words import wax_lines
from logger.quantities import Unit
from logger.words import Words
from tests.support.weighed_burns import evening


def series(*losses_g, full_g=532.0, wax_g=220.0):
    """Burns of four hours that lose so much; weighed before the first and after each."""
    burns, mass_g = [], full_g
    for number, loss_g in enumerate(losses_g):
        mass_g -= loss_g
        before_g = full_g if number == 0 else None
        burns.append(evening(number, before_g, mass_g, wax_g=wax_g))
    return burns


def test_a_life_is_told_by_all_weighings_up_to_the_end_of_the_burn():
    found = consumption(series(22.0, 20.0, 24.0, 22.0))
    assert [one.life.weighings for one in found.values()] == [2, 3, 4, 5]
    last = found["burn-3"].life
    assert last.hours == 16.0
    assert last.rate_g_per_h == pytest.approx(5.5, abs=0.05)  # 88 g in 16 h
    assert last.used_share == pytest.approx(88.0 / 220.0)
    assert last.left_g == pytest.approx(132.0)
    low, high = last.burns_left
    assert low < 6.0 < high  # 132 g at 22 g a burn
    assert high - low < 3.0


def test_two_weighings_are_too_early_for_burns_left():
    first = consumption(series(22.0))["burn-0"]
    assert first.life.burns_left is None
    lines = list(wax_lines(first, Words()))
    assert lines[-1] == (
        "10 % of the wax is used, 198.0 g are left; too early to say for how many burns"
    )
    assert lines[1].startswith("about 67 W of flame, if the wax burns as paraffin does")


def test_burns_that_differ_wildly_are_too_early_too():
    found = consumption(series(10.0, 40.0, 5.0))["burn-2"].life
    assert found.rate_reach_g_per_h > 0.25 * found.rate_g_per_h
    assert found.burns_left is None


def test_a_candle_that_went_out_by_itself_has_no_burn_left():
    # The wax below the neck of the tab stays (common practice): it is no burn to come.
    *before, last = series(60.0, 70.0, 68.0)
    out = Ending(ended="self-extinguished")
    found = consumption([*before, replace(last, ending=out)])["burn-2"]
    assert found.life.left_g == pytest.approx(22.0)
    assert found.life.burns_left == (0.0, 0.0)
    assert [*wax_lines(found, Words())][-1] == (
        "90 % of the wax is used, 22.0 g are left; it went out by itself, so no more burns are "
        "counted"
    )
    again = consumption([replace(before[0], ending=out), *before[1:], last])["burn-2"]
    assert again.life.burns_left[1] > 0.0  # it was lit again after all


def test_the_whole_is_told_in_the_units_of_the_bench():
    ounces = Words(mass_in=Unit(name="oz", factor=28.349523125))
    lines = list(wax_lines(consumption(series(22.0, 20.0, 24.0))["burn-2"], ounces))
    assert "over its life 0.192 oz ± 0.020 an hour" in lines[2]
    assert "from 4 weighings over 12 h of burning" in lines[2]
    assert "30 % of the wax is used, 5.43 oz are left, enough for" in lines[3]


def test_a_burn_that_nobody_weighed_still_counts_its_hours():
    burns = [evening(0, 532.0), evening(1, None, 488.0)]
    assert candle_life(burns, full_g=532.0, wax_g=None).rate_g_per_h == pytest.approx(5.5)
    assert candle_life(burns[:1], full_g=532.0, wax_g=None) is None
    gained = [evening(0, 532.0, 533.0)]
    assert candle_life(gained, full_g=532.0, wax_g=None) is None


def test_nineteen_of_twenty_intervals_hold_the_true_rate():
    """Masses that scatter as a balance right to 1 g makes them; GUM's 95 % is a promise."""
    rolled = random.Random(5)
    held, tried = 0, 400
    for _ in range(tried):
        masses = [532.0 - 22.0 * number + rolled.uniform(-1.0, 1.0) for number in range(6)]
        burns = [
            evening(number, before_g, after_g)
            for number, (before_g, after_g) in enumerate(pairwise(masses))
        ]
        life = candle_life(burns, full_g=masses[0], wax_g=None)
        assert life.weighings >= FEWEST_WEIGHINGS
        held += abs(life.rate_g_per_h - 5.5) <= life.rate_reach_g_per_h
    assert held >= 0.95 * tried
