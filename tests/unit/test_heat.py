"""Figures of a burn's heat: warm-up, time over a line, the warmest room, the last quarter."""

import math

import pytest

from logger.burn.heat import BurnPeak, TimeOver, WarmUp, in_warmest_room, last_quarter


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
    assert warmest.added_k == 6.0
    assert warmest.bound_c == pytest.approx(58.0 + 2.0 * 0.5)
    assert warmest.stays_under(59.0)
    assert not warmest.stays_under(58.9)


def test_another_room_never_lowers_a_measured_figure():
    for room_c in (15.0, 27.0, 27.5, 35.0):
        assert in_warmest_room(52.0, 0.4, room_c).bound_c >= 52.8
    assert in_warmest_room(52.0, 0.4, 35.0).bound_c == pytest.approx(52.8)
    assert in_warmest_room(52.0, 0.4, 35.0).added_k == 0.0


def test_without_a_room_there_is_no_bound():
    assert in_warmest_room(52.0, 0.4, None) is None


def test_the_bound_holds_on_the_simulated_candle():
    from simulators.candle import WICKS, Candle
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


def test_the_last_quarter_follows_the_line_to_its_worst_end():
    rising = [BurnPeak(used=used, peak_c=50.0 + 10.0 * used) for used in (0.1, 0.3, 0.5)]
    expected = last_quarter(rising)
    assert (expected.peak_c, expected.low_c, expected.high_c) == pytest.approx((60.0,) * 3)
    assert expected.burns == 3
    falling = [BurnPeak(used=used, peak_c=50.0 - 10.0 * used) for used in (0.1, 0.3, 0.5)]
    assert last_quarter(falling).peak_c == pytest.approx(42.5)


def test_the_interval_of_the_last_quarter_is_the_textbook_one():
    # by hand: x 0.2 0.4 0.6, y 50 53 52: slope 5, residuals -2/3 4/3 -2/3, s^2 = 24/9
    peaks = [BurnPeak(used=x, peak_c=y) for x, y in ((0.2, 50.0), (0.4, 53.0), (0.6, 52.0))]
    expected = last_quarter(peaks)
    assert expected.peak_c == pytest.approx(155.0 / 3.0 + 5.0 * 0.6)
    sd = math.sqrt(24.0 / 9.0 * (1.0 + 1.0 / 3.0 + 0.36 / 0.08))
    assert expected.high_c - expected.peak_c == pytest.approx(6.3138 * sd, rel=1e-4)  # t(0.95; 1)


@pytest.mark.parametrize("uses", [(), (0.1, 0.4), (0.3, 0.3, 0.3)])
def test_too_few_burns_say_nothing_of_the_last_quarter(uses):
    assert last_quarter([BurnPeak(used=used, peak_c=50.0) for used in uses]) is None
