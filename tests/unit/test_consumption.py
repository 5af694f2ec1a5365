"""Weighing a candle: which mass is before and which after, what cannot be, what it says of wax."""

from dataclasses import replace

import pytest

from logger.burn.consumption import consumption, weigh, with_balance
from logger.burn.entries import WeighIn
from logger.burn.wax_words import weighed as weighed_words
from logger.errors import Refused
from logger.quantities import Estimate, Quality, Unit
from logger.words import Words
from tests.support.pipeline_bench import LIMITS, START_S
from tests.support.weighed_burns import BURN, HOUR, evening


def weighed(burn, mass_g, hours, wax_g=None):
    at_s = START_S + hours * HOUR
    entry = WeighIn(
        at_s=at_s, entered_s=at_s, id="w", station=burn.station, mass_g=mass_g, wax_g=wax_g
    )
    return weigh(burn, entry, LIMITS, Words())


def masses(burn):
    return burn.mass_before_g, burn.mass_after_g, burn.wax_g


def test_the_time_tells_before_from_after():
    burn, said = weighed(BURN, 532.4, -1.0, 220.0)
    assert masses(burn) == (532.4, None, 220.0)
    assert said == "jar-a, cedar-6: weighed 532.4 g, 220.0 g of wax poured, before lighting"
    burn, said = weighed(burn, 511.2, 9.0)
    assert masses(burn) == (532.4, 511.2, 220.0)
    assert said == "jar-a, cedar-6: weighed 511.2 g, after the burn"


def test_the_one_entered_last_holds():
    burn, _ = weighed(BURN, 553.4, 0.0)
    burn, _ = weighed(burn, 532.4, -0.5)
    assert burn.mass_before_g == 532.4


def test_a_warm_candle_is_weighed_but_asked_for_again():
    burn, said = weighed(BURN, 511.2, 5.0)
    assert burn.mass_after_g == 511.2
    assert said.endswith("weigh it again cold")


@pytest.mark.parametrize(
    ("burn", "hours"),
    [(BURN, 2.0), (replace(BURN, out_s=None), 1.0)],
    ids=["in the middle", "it still burns"],
)
def test_none_is_weighed_while_it_burns(burn, hours):
    with pytest.raises(Refused, match="was burning at that time"):
        weighed(burn, 520.0, hours)


@pytest.mark.parametrize(
    ("before_g", "wax_g", "after_g", "says"),
    [
        (532.4, None, 535.0, "535.0 g after the burn is more than before, 532.4 g"),
        (532.4, 220.0, 300.0, "232.4 g of wax would be gone, more than the 220.0 g"),
    ],
    ids=["heavier", "more than its wax"],
)
def test_masses_that_cannot_be_are_refused(before_g, wax_g, after_g, says):
    with pytest.raises(Refused, match=says):
        weighed(weighed(BURN, before_g, -1.0, wax_g)[0], after_g, 9.0)


def test_a_candle_may_weigh_less_than_the_wax_it_was_poured_with():
    tealight, _ = weighed(BURN, 13.4, -1.0, 12.0)
    assert weighed(tealight, 10.0, 9.0)[0].mass_after_g == 10.0


def test_a_wrong_wax_is_put_right_by_the_next_mass():
    burn, _ = weighed(BURN, 532.4, -1.0, 22.0)
    with pytest.raises(Refused, match="enter the wax again"):
        weighed(burn, 508.0, 9.0)
    assert masses(weighed(burn, 508.0, 9.0, 220.0)[0]) == (532.4, 508.0, 220.0)


def test_an_earlier_burns_candle_is_not_taken_for_the_latest():
    burn = replace(BURN, rested_s=20.0 * HOUR)
    assert weighed(burn, 532.4, -19.0)[0].mass_before_g == 532.4
    for hours in (-21.0, -30.0):
        with pytest.raises(Refused, match="an earlier burn was on jar-a"):
            weighed(burn, 532.4, hours)


def test_a_balance_may_be_off_by_a_step():
    assert weighed(weighed(BURN, 532.0, -1.0)[0], 533.0, 9.0)[0].mass_after_g == 533.0


def test_masses_are_told_as_the_bench_shows_them():
    ounces = Words(mass_in=Unit(name="oz", factor=28.349523125))
    assert ounces.mass(532.4) == "18.78 oz"
    assert Words().mass(532.44) == "532.4 g"


def test_wax_used_its_rate_and_its_share():
    first, second = consumption(
        [evening(0, 532.0, 510.0, wax_g=220.0), evening(1, 510.0, 488.0, hours=5.0)]
    ).values()
    assert first.used_g == pytest.approx(22.0)
    assert first.rate_g_per_h == pytest.approx(5.5)
    assert first.used_share == pytest.approx(11.0 / 220.0)
    assert second.rate_g_per_h == pytest.approx(4.4)
    assert second.used_share == pytest.approx(33.0 / 220.0)


def test_a_neighbouring_weigh_in_stands_in():
    burns = [evening(0, 532.0, wax_g=220.0), evening(1, 510.0, 490.0), evening(2, None, 465.0)]
    found = consumption(burns)
    assert [one.used_g for one in found.values()] == pytest.approx([22.0, 20.0, 25.0])


def test_what_was_never_weighed_is_not_known():
    nothing = consumption([evening(0)])["burn-0"]
    assert (nothing.used_g, nothing.used_share) == (None, None)
    only_after = consumption([evening(0, None, 510.0, wax_g=220.0), evening(1, None, 490.0)])
    assert only_after["burn-1"].used_g == pytest.approx(20.0)
    assert only_after["burn-1"].used_share is None  # what it weighed when full was not told
    burning = consumption([evening(0, 532.0, out_s=None)])["burn-0"]
    assert (burning.before_g, burning.used_g) == (532.0, None)


def test_codes_on_the_vessel_part_the_candles_of_a_trial():
    burns = [
        evening(0, 532.0, 510.0, wax_g=220.0, tester="M6"),
        evening(1, 545.0, 525.0, tester="M7", station="jar-b"),
        evening(2, 510.0, 490.0, tester=" m6", station="jar-b"),
    ]
    found = consumption(burns)
    assert found["burn-1"].used_share is None  # its wax was never told
    assert found["burn-2"].used_share == pytest.approx(32.0 / 220.0)


@pytest.mark.parametrize("before_g", [530.0, 470.0], ids=["heavier", "lighter"])
def test_a_candle_that_is_not_as_it_was_left_is_another_one(before_g):
    burns = [evening(0, 532.0, 510.0, wax_g=220.0), evening(1, before_g, before_g - 25.0)]
    found = consumption(burns)
    assert found["burn-0"].used_g == pytest.approx(22.0)
    assert found["burn-1"].used_g == pytest.approx(25.0)
    assert found["burn-1"].used_share is None  # until its own wax is told
    told = [burns[0], replace(burns[1], wax_g=200.0)]
    assert consumption(told)["burn-1"].used_share == pytest.approx(12.5 / 200.0)


def test_a_step_of_the_balance_is_no_wax_gained():
    found = consumption([evening(0, 532.0, 533.5, wax_g=220.0)])["burn-0"]
    assert (found.used_g, found.rate_g_per_h, found.used_share) == (0.0, 0.0, 0.0)
    assert consumption([evening(0, 532.0, 531.5, hours=0.01)])["burn-0"].rate_g_per_h is None


def test_a_neighbour_that_cannot_be_the_same_candle_says_nothing():
    burns = [evening(0, 532.0, wax_g=220.0), evening(1, 300.0, 280.0)]
    assert consumption(burns)["burn-0"].used_g is None


def test_another_candle_shows_by_its_mass_after_the_burn_too():
    burns = [evening(0, 532.0, 510.0, wax_g=220.0), evening(1, None, 525.0)]
    second = consumption(burns)["burn-1"]
    assert (second.before_g, second.used_g) == (None, None)


def test_more_wax_gone_than_there_was_says_nothing():
    burns = [evening(0, 532.0, 500.0, wax_g=40.0), evening(1, 500.0, 465.0)]
    assert consumption(burns)["burn-1"].used_share is None


def balance(rate_g_per_h, *, hours=4.0, every_s=60.0, jump_g=0.0):
    """A candle on a balance that reads to 0.1 g; `jump_g` is put on it half-way."""
    count = int(hours * HOUR / every_s)
    for number in range(count + 1):
        since_h = number * every_s / HOUR
        mass_g = 532.0 - rate_g_per_h * since_h + (jump_g if since_h > 0.5 * hours else 0.0)
        yield Estimate(
            channel="mass", at_s=START_S + since_h * HOUR, value=round(mass_g, 1),
            standard_uncertainty=0.5, repeatability=0.1, used=5, rejected=0, quality=Quality.GOOD,
        )  # fmt: skip


def test_a_live_balance_stands_in_for_weighing():
    unweighed = consumption([evening(0)])["burn-0"]
    found = with_balance(unweighed, evening(0), balance(5.4))
    assert found.by_balance
    assert found.rate_g_per_h == pytest.approx(5.4, abs=0.02)
    assert found.used_g == pytest.approx(21.6, abs=0.1)
    assert 0.15 < found.rate_u_g_per_h < 0.25  # the balance's own limit of error over four hours
    assert "5.4 g ± 0.4 an hour, by the balance it stood on" in weighed_words(found, Words())


@pytest.mark.parametrize(
    "estimates",
    [
        pytest.param(list(balance(5.4, jump_g=40.0)), id="touched"),
        pytest.param(list(balance(5.4, hours=2.0)), id="half of the burn"),
        pytest.param(list(balance(-5.4)), id="heavier"),
        pytest.param([], id="none"),
    ],
)
def test_a_balance_that_cannot_be_believed_says_nothing(estimates):
    unweighed = consumption([evening(0)])["burn-0"]
    assert with_balance(unweighed, evening(0), estimates) == unweighed


def test_a_candle_weighed_cold_is_not_judged_by_its_balance():
    cold = consumption([evening(0, 532.0, 510.0)])["burn-0"]
    assert with_balance(cold, evening(0), balance(9.0)) == cold
