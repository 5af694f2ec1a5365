"""Figures of a burn's heat: warm-up, time over a line, the warmest room, the last quarter."""

import math
from dataclasses import replace

import pytest

from logger.burn.heat import BurnPeak, Rooms, TimeOver, WarmUp, in_warmest_room, last_quarter
from tests.support.burn_from_formula import estimate


def warm_up(**changed):
    known = {
        "channel": "wall",
        "fast_s": 300.0,
        "slow_s": 2400.0,
        "start_k": 0.0,
        "fast_k": 10.0,
        "slow_k": 20.0,
        "rise_k": 30.0,
        "rise_sd_k": 0.5,
        "above_room": True,
        "base_c": 22.0,
        "noise_k": 0.5,
        "seen_s": 2400.0,
        "values": 80,
    }
    return WarmUp(**(known | changed))


def test_a_plateau_stands_on_the_room_and_is_settled_in_time():
    assert warm_up().plateau_c == 52.0
    assert warm_up().reached == pytest.approx(1.0 - math.exp(-1.0))
    assert not warm_up().settled
    assert warm_up(seen_s=2.4 * 2400.0).settled


def test_time_over_a_line_is_straight_between_values():
    over = TimeOver((50.0, 55.0, 70.0))
    for at_s, value_c in ((0.0, 40.0), (10.0, 60.0), (20.0, 60.0), (30.0, 50.0)):
        over.add(at_s, value_c)
    # up: half, then a quarter of 10 s; on top 10 s each; down: all, then half of 10 s
    assert over.over_s == pytest.approx({50.0: 25.0, 55.0: 17.5, 70.0: 0.0})


def test_time_that_was_not_measured_is_not_counted():
    over = TimeOver((50.0,))
    over.add(0.0, 60.0)
    over.add(61.0, 60.0)
    assert over.over_s[50.0] == 0.0
    over.add(121.0, 60.0)
    assert over.over_s[50.0] == 60.0


def test_a_value_on_the_line_is_not_over_it():
    over = TimeOver((50.0,))
    over.add(0.0, 50.0)
    over.add(10.0, 50.0)
    assert over.over_s[50.0] == 0.0


def test_the_warmest_room_adds_its_difference_and_every_uncertainty():
    warmest = in_warmest_room(52.0, 0.4, 21.0, room_uncertainty_k=0.3)
    assert warmest.bound_c == pytest.approx(58.0 + 2.0 * 0.5)
    assert warmest.stays_under(59.0)
    assert not warmest.stays_under(58.9)


def test_another_room_never_lowers_a_measured_figure():
    for room_c in (15.0, 27.0, 27.5, 35.0):
        assert in_warmest_room(52.0, 0.4, room_c, 0.3).bound_c >= 52.8
    assert in_warmest_room(52.0, 0.4, 35.0, 0.3).bound_c == pytest.approx(52.8)


def test_without_a_room_there_is_no_bound():
    assert Rooms([]).warmest([estimate("wall-3", 0.0, 52.0)]) is None


def test_the_bound_holds_on_the_simulated_candle():
    from simulators.candle import Candle
    from simulators.jar import WICKS
    from simulators.room import Room

    peaks = {}
    for room_c in (20.0, 27.0):
        candle = Candle(
            WICKS["wick-6"], Room(start_c=room_c, warming_k_per_h=0.0), draught_share=0.0
        )
        candle.light()
        candle.step(14_400.0)
        peaks[room_c] = candle.hottest_wall_c
    bound = in_warmest_room(peaks[20.0], 0.0, 20.0, room_uncertainty_k=0.0)
    assert peaks[27.0] <= bound.bound_c
    assert bound.bound_c - peaks[27.0] < 2.0  # and it is not idle


def peaks(*points, u=0.0):
    return [BurnPeak(used=used, peak_c=c, standard_uncertainty_c=u) for used, c in points]


def test_the_last_quarter_follows_the_line_to_its_worst_end():
    rising = last_quarter(peaks((0.1, 51.0), (0.3, 53.0), (0.5, 55.0)))
    assert rising.peak_c == pytest.approx(60.0 + 6.0)
    assert (rising.high_c + rising.low_c) / 2.0 == pytest.approx(66.0)
    assert rising.burns == 3


def test_a_line_that_falls_is_not_believed():
    falling = last_quarter(peaks((0.1, 50.6), (0.3, 50.5), (0.5, 50.4)))
    assert falling.peak_c == pytest.approx(50.5 + 6.0)


@pytest.mark.parametrize(
    "points",
    [
        ((0.05, 54.0), (0.06, 53.0), (0.055, 52.0)),  # three testers, each at its first burn
        ((0.05, 52.0), (0.051, 53.0), (0.06, 54.0)),
        ((0.1, 50.0), (0.3, 56.0), (0.5, 51.0)),  # they differ too much
    ],
)
def test_too_early_rather_than_a_guess(points):
    assert last_quarter(peaks(*points)) is None


def test_the_interval_of_the_last_quarter_is_the_textbook_one_and_the_late_rise():
    # by hand: x 0.2 0.4 0.6, y 50 51.3 52: slope 5, residuals -0.1 0.2 -0.1, s^2 = 0.06
    expected = last_quarter(peaks((0.2, 50.0), (0.4, 51.3), (0.6, 52.0)))
    assert expected.peak_c == pytest.approx(51.1 + 5.0 * 0.6 + 6.0)
    sd = math.sqrt(0.06 * (1.0 + 1.0 / 3.0 + 0.36 / 0.08))
    reach = math.hypot(6.3138 * sd, 1.6449 * 4.0)  # t(0.95; 1) and z(0.95)
    assert expected.high_c - expected.peak_c == pytest.approx(reach, rel=1e-4)


def test_a_late_rise_that_the_burns_have_shown_is_not_added_again():
    seen = [(used, 50.0 + 15.0 * max(used - 0.6, 0.0)) for used in (0.65, 0.75, 0.85, 0.95)]
    expected = last_quarter(peaks(*seen))
    assert expected.peak_c == pytest.approx(56.0)
    assert expected.high_c - expected.low_c < 0.1


@pytest.mark.parametrize("uses", [(), (0.1, 0.4), (0.3, 0.3, 0.3)])
def test_too_few_burns_say_nothing_of_the_last_quarter(uses):
    assert last_quarter(peaks(*((used, 50.0) for used in uses))) is None


@pytest.mark.parametrize("wick", ["wick-5", "wick-6", "wick-8"])
def test_the_last_burn_of_the_simulated_candle_is_as_expected(wick):
    from simulators.candle import Candle
    from simulators.jar import WICKS, Vessel
    from simulators.room import Room

    vessel = full = Vessel()
    burned_g, seen = 4.0 * WICKS[wick].burn_g_per_h, []
    while vessel.wax_g > burned_g:
        candle = Candle(
            WICKS[wick],
            Room(start_c=21.0, warming_k_per_h=0.0),
            draught_share=0.0,
            vessel=vessel,
        )
        candle.light()
        candle.step(14_400.0)
        seen.append((1.0 - (vessel.wax_g - burned_g / 2.0) / full.wax_g, candle.hottest_wall_c))
        sunk_m = burned_g / full.wax_g * (full.wax_level_m - full.base_m)
        vessel = replace(vessel, wax_level_m=vessel.wax_level_m - sunk_m)
    for burns in (5, len(seen) * 2 // 3):
        expected = last_quarter(peaks(*seen[:burns], u=0.5))
        assert expected.low_c < seen[-1][1] < expected.high_c
        assert abs(expected.peak_c - seen[-1][1]) < 5.0
