"""Faults of a sensor, from its last minutes and from what stands around it."""

import random

import pytest

from logger.conditioning import faults
from logger.conditioning.fault_context import Scene, Seen
from logger.conditioning.faults import FaultKind
from logger.conditioning.history import MEMORY_S, SAMPLE_S, History
from logger.quantities import Estimate, Position, Quality
from logger.words import Words
from tests.support.pipeline_bench import channel

END_S = 1000.0


def history(value_at, *, end_s=END_S, memory_s=MEMORY_S, ill=lambda _s: (30, 0), jumps=()):
    """The last minutes of a channel that was at `value_at(seconds before the end)`."""
    told = History()
    steps = int(memory_s / SAMPLE_S)
    for step in range(steps, -1, -1):
        at_s = end_s - step * SAMPLE_S
        used, rejected = ill(end_s - at_s)
        estimate = Estimate(
            channel="any",
            at_s=at_s,
            value=value_at(end_s - at_s),
            standard_uncertainty=0.2,
            repeatability=0.1,
            used=used,
            rejected=rejected,
            quality=Quality.GOOD,
        )
        jumped = [one for one in jumps if one <= at_s]
        told.sample(estimate, interval_s=1.0, jumped_s=jumped[-1] if jumped else None)
    return told


def seen(value_at, where=None, uncertainty=0.2, **more):
    past = history(value_at, **more)
    return Seen(
        channel=where or channel("jar-a-wall-3"),
        history=past,
        value=past.samples[-1].value,
        uncertainty=uncertainty,
    )


def lit(*others, room_c=22.0, lit_s=7200.0, **more):
    return Scene(now_s=END_S, lit_s=lit_s, room_c=room_c, others=others, **more)


def cold(*others, room_c=22.0):
    return Scene(now_s=END_S, cold=True, room_c=room_c, others=others)


def cooling(*others):
    return Scene(now_s=END_S, room_c=22.0, others=others)


def steady(value_c):
    return lambda _ago_s: value_c


def fallen(before_c, after_c, ago_s=20.0):
    return lambda now: after_c if now < ago_s else before_c


def other(value_at, height_mm=45.0, clock=9, **more):
    return seen(value_at, channel("other", height_mm=height_mm, clock=clock), **more)


def twin(value_at, clock=9, **more):
    return other(value_at, height_mm=60.0, clock=clock, **more)


def found(one, scene):
    fault = faults.find(one, scene, Words())
    return None if fault is None else fault.kind


# knocked aside


def test_one_that_falls_as_glass_cannot_while_the_others_stay_was_knocked_aside():
    fault = faults.find(seen(fallen(48.0, 37.0)), lit(other(steady(45.0))), Words())
    assert fault.kind is FaultKind.KNOCKED
    assert fault.reason == "it fell from 48.0 °C to 37.0 °C within 30 s, as glass cannot"
    assert "put it back" in fault.remedy
    assert (fault.value, fault.expected) == (37.0, 48.0)


def test_a_small_fall_is_told_by_the_others_that_stay():
    assert found(seen(fallen(48.0, 44.0)), lit(other(steady(45.0)))) is FaultKind.KNOCKED
    assert found(seen(fallen(48.0, 44.0)), lit()) is None
    assert found(seen(fallen(48.0, 45.5)), lit(other(steady(45.0)))) is None


def test_what_all_places_do_is_no_fault_of_one():
    falling = lit(other(fallen(45.0, 40.5)))
    assert found(seen(fallen(48.0, 43.4)), falling) is None


def test_bare_glass_may_fall_by_5_k_per_min_while_its_wax_keeps_the_rest_warm():
    one = seen(lambda ago_s: 55.0 - 5.0 * max(0.0, 120.0 - ago_s) / 60.0)
    assert found(one, lit(other(steady(45.0)))) is None


def test_two_that_are_knocked_aside_together_do_not_excuse_each_other():
    assert found(seen(fallen(48.0, 37.0)), lit(other(fallen(47.0, 36.0)))) is FaultKind.KNOCKED


def test_the_only_one_of_its_vessel_is_judged_by_its_own_course():
    assert found(seen(fallen(48.0, 37.0)), lit(room_c=None)) is FaultKind.KNOCKED


def test_a_fall_out_of_a_few_seconds_of_flame_hits_is_none():
    one = seen(lambda ago_s: 53.0 if 20.0 < ago_s < 60.0 else 48.0)
    assert found(one, lit(other(steady(45.0)))) is None


def test_one_that_was_far_above_all_others_and_comes_back_among_them_was_not_knocked():
    assert found(seen(fallen(90.0, 47.0)), lit(other(steady(46.0)))) is None
    assert found(seen(fallen(90.0, 30.0)), lit(other(steady(46.0)))) is FaultKind.KNOCKED


def test_while_it_cools_the_same_fall_is_an_impossible_step_and_cold_it_is_nothing():
    assert found(seen(fallen(48.0, 37.0)), cooling(other(steady(45.0)))) is FaultKind.STEP
    assert found(seen(fallen(30.0, 22.5)), cold(other(steady(22.0)))) is None


def test_one_that_warms_half_as_much_as_its_twin_does_not_touch_the_wall():
    one = seen(steady(32.0))
    assert found(one, lit(twin(steady(44.0)))) is FaultKind.KNOCKED
    assert found(one, lit(twin(steady(41.0)))) is None  # 0.53 of it
    assert found(one, lit(other(steady(44.0)))) is None  # another height
    assert found(one, lit(twin(fallen(32.0, 44.0)))) is None  # no twin for a minute yet
    assert found(one, lit(twin(lambda ago_s: 44.0 + ago_s / 10.0))) is None  # from the flame
    assert found(one, lit(twin(steady(60.0)))) is FaultKind.KNOCKED
    assert found(one, lit(twin(steady(60.0)), other(steady(36.0)))) is None  # one against two


def test_one_that_comes_off_within_minutes_is_told_by_its_twin():
    def sinks(ago_s):
        return 46.0 - 7.0 * (300.0 - ago_s) / 300.0

    assert found(seen(sinks), lit(twin(steady(46.0)))) is FaultKind.KNOCKED
    assert found(seen(sinks), lit(twin(sinks))) is None
    comes_back = seen(fallen(107.0, 47.0, ago_s=140.0))  # it had followed the flame
    assert found(comes_back, lit(twin(steady(46.0)))) is None


# fell off


def test_one_at_the_rooms_temperature_beside_a_warm_wall_fell_off():
    one = seen(fallen(45.0, 23.0, ago_s=120.0))
    fault = faults.find(one, lit(other(steady(45.0))), Words())
    assert fault.kind is FaultKind.FELL_OFF
    assert "it follows the room: 23.0 °C in a room of 22.0 °C" in fault.reason
    assert "45.0 °C" in fault.reason


def test_a_place_that_is_slow_to_warm_did_not_fall_off():
    slow = seen(steady(23.5))
    assert found(slow, lit(other(steady(33.0)), lit_s=900.0)) is None
    assert found(slow, lit(other(steady(33.0)), lit_s=2000.0)) is FaultKind.FELL_OFF
    assert found(slow, lit(other(steady(28.0)), lit_s=2000.0)) is None


# impossible readings


def test_a_window_of_impossible_readings_is_told_after_a_while_and_not_for_a_burst():
    def since(seconds, used=4):
        return lambda ago_s: (used, 26) if ago_s <= seconds else (30, 0)

    assert found(seen(steady(45.0), ill=since(20.0)), lit()) is None
    assert found(seen(steady(45.0), ill=since(25.0)), lit()) is FaultKind.IMPOSSIBLE
    # As long as one in six is of the place, the estimate rests on it.
    assert found(seen(steady(45.0), ill=since(300.0, used=6)), lit()) is None


def test_of_a_place_that_sees_long_bursts_it_is_told_later():
    def told(lasted_s):
        one = seen(steady(45.0), ill=lambda ago_s: (4, 26) if ago_s <= lasted_s else (30, 0))
        one.history._burst_s = 80.0  # as if bursts of 40 s had been seen
        return found(one, lit())

    assert told(75.0) is None
    assert told(85.0) is FaultKind.IMPOSSIBLE


def test_a_place_taken_for_the_flame_may_really_be_so_hot():
    one = seen(steady(45.0), ill=lambda ago_s: (4, 26) if ago_s <= 30.0 else (30, 0))
    one.history.read(END_S, 64.0)
    reason = faults.find(one, lit(), Words()).reason
    assert "the latest is 64.0 °C, or the wall really is this hot: go to the candle" in reason


def test_silence_is_no_time_of_impossible_readings():
    one = seen(steady(45.0), ill=lambda ago_s: (4, 26) if ago_s <= 20.0 else (30, 0))
    assert one.history.ill()
    one.history.fall_silent(END_S + 60.0)
    assert not one.history.ill()
    assert not one.history.impossible(END_S + 60.0)


def test_one_that_starts_afresh_again_and_again_has_a_loose_contact():
    jumps = (END_S - 90.0, END_S - 50.0, END_S - 10.0)
    fault = faults.find(seen(steady(45.0), jumps=jumps), lit(), Words())
    assert fault.kind is FaultKind.IMPOSSIBLE
    assert "loose contact" in fault.remedy
    assert found(seen(steady(45.0), jumps=(END_S - 200.0, *jumps[1:])), lit()) is None


def test_what_no_place_can_have_is_out_of_range():
    fault = faults.find(seen(steady(-127.0)), lit(), Words())
    assert fault.kind is FaultKind.OUT_OF_RANGE
    assert "-127.0 °C" in fault.reason
    refused = seen(steady(45.0), ill=lambda ago_s: (0, 30) if ago_s < 60.0 else (30, 0))
    refused.history.read(END_S, 1372.0)
    assert found(refused, lit()) is FaultKind.OUT_OF_RANGE


def test_85_exactly_is_the_power_on_value_only_where_it_fits_nothing():
    burst = seen(steady(45.0), ill=lambda ago_s: (4, 26) if ago_s < 10.0 else (30, 0))
    for second in range(3):
        burst.history.read(END_S - 3.0 + second, 85.0)
    assert found(burst, lit()) is FaultKind.POWER_ON
    honest = seen(steady(85.0))
    for second in range(3):
        honest.history.read(END_S - 3.0 + second, 85.0)
    assert found(honest, lit()) is None


# stuck


def still(numbers, for_s, every_s=1.0):
    """A channel that read `numbers`, then the last of them for `for_s`."""
    one = seen(steady(45.0))
    start_s = END_S - for_s - every_s * len(numbers)
    for index, number in enumerate(numbers):
        one.history.read(start_s + every_s * index, number)
    for index in range(int(for_s / every_s)):
        one.history.read(END_S - for_s + every_s * index, numbers[-1])
    return one


def display(noise_k, step_k, count=300, seed=1, at_c=45.0):
    rng = random.Random(seed)
    return [step_k * round(rng.gauss(at_c, noise_k) / step_k) for _ in range(count)]


def test_a_number_that_flickered_and_stands_still_is_stuck():
    frozen = display(0.15, 0.1)
    assert found(still(frozen, 80.0), lit()) is None
    fault = faults.find(still(frozen, 95.0), lit(), Words())
    assert fault.kind is FaultKind.STUCK
    assert "though it flickered before" in fault.reason
    assert found(still(frozen, 95.0, every_s=5.0), lit()) is None  # 19 repeats
    assert found(still(frozen, 160.0, every_s=5.0), lit()) is FaultKind.STUCK


@pytest.mark.parametrize("at_c", [45.0, 45.5])
def test_an_honest_coarse_display_on_a_steady_wall_is_not_stuck(at_c):
    for seed in range(20):
        coarse = display(0.15, 1.0, seed=seed, at_c=at_c)
        assert found(still(coarse, 600.0), lit(other(steady(45.0)))) is None


def test_a_number_that_stands_still_while_the_wall_around_it_moves_is_stuck():
    one = still([45.0], 400.0)
    one.history.others_c = 36.0
    assert found(one, lit(other(steady(40.0)))) is None
    fault = faults.find(one, lit(other(steady(45.0))), Words())
    assert fault.kind is FaultKind.STUCK
    assert "the wall around it moved by 9.0" in fault.reason


def test_a_fine_display_that_stands_still_for_five_minutes_is_stuck_while_lit():
    rng = random.Random(2)
    quiet = [round(45.0 + 0.1 * (rng.random() < 0.1), 1) for _ in range(200)]  # seldom flickers
    assert found(still(quiet, 290.0), lit()) is None
    assert found(still(quiet, 305.0), lit()) is FaultKind.STUCK
    assert found(still(quiet, 305.0), cold()) is None


def test_a_coarse_display_is_stuck_once_the_wall_around_it_moved_by_what_it_would_show():
    one = still([44.0, 45.0], 400.0)
    one.history.others_c = 40.0
    assert found(one, lit(other(steady(43.9)))) is None
    assert found(one, lit(other(steady(44.1)))) is FaultKind.STUCK


# twins


def test_two_sides_that_differ_while_lit_are_no_fault_and_cold_they_are():
    one, far = seen(steady(26.0)), twin(steady(22.1))
    assert found(one, lit(far)) is None
    assert found(one, cold(far)) is FaultKind.DRIFT
    assert found(twin(steady(22.1)), cold(seen(steady(26.0)))) is None  # the room says which
    assert found(twin(steady(22.1)), cold(seen(steady(26.0)), room_c=None)) is FaultKind.DRIFT


def test_of_two_that_differ_cold_the_one_further_from_the_room_is_off():
    below, above = 21.5, 24.8
    assert found(seen(steady(below)), cold(twin(steady(above)))) is None
    assert found(seen(steady(above)), cold(twin(steady(below)))) is FaultKind.DRIFT


def test_cold_is_only_what_is_at_rest_at_the_rooms_temperature():
    unrecorded = twin(steady(46.0))
    assert found(seen(steady(50.0)), cold(unrecorded)) is None
    assert found(seen(steady(50.0)), cold(unrecorded, room_c=None)) is None
    warming = seen(lambda ago_s: 27.0 - ago_s / 100.0)
    assert found(warming, cold(twin(steady(22.0)))) is None


def test_what_uncertainty_explains_is_no_drift():
    vague = twin(steady(22.0), uncertainty=2.5)
    assert found(seen(steady(26.0)), cold(vague)) is None


def test_two_instruments_at_one_place_must_agree_while_lit_too():
    low, high = seen(steady(40.0)), twin(steady(45.0), clock=3)
    assert found(low, lit(high)) is FaultKind.DRIFT
    assert found(high, lit(low)) is None


# room


def test_a_room_that_jumps_is_a_fault_while_lit():
    room = channel("room", Position.ROOM, station=None)
    assert found(seen(fallen(22.0, 30.0), room), lit()) is FaultKind.STEP
    assert found(seen(fallen(22.0, 30.0), room), cold()) is None
    aired = seen(lambda ago_s: 22.0 - 4.0 * (300.0 - ago_s) / 300.0, room)
    assert found(aired, lit()) is None


# over


def test_one_that_was_knocked_is_well_when_it_steps_back_or_agrees_with_its_twin():
    told = (37.0, 48.0)

    def over(one, scene):
        return faults.fault_ended(FaultKind.KNOCKED, one, scene, told)

    assert not over(seen(steady(37.5)), lit(twin(steady(48.0))))
    assert over(seen(fallen(37.0, 47.0)), lit())
    assert over(seen(steady(47.0)), lit(twin(steady(48.0))))
    assert not over(seen(steady(23.0)), cooling(twin(steady(23.0))))  # cold, nothing tells
    warms = seen(lambda ago_s: 30.0 - ago_s / 60.0)
    assert over(warms, lit(new_burn=True))
    assert not over(warms, lit())


def test_what_was_impossible_is_well_after_a_good_minute():
    def over(ill):
        return faults.fault_ended(
            FaultKind.IMPOSSIBLE, seen(steady(45.0), ill=ill), lit(), (None, None)
        )

    assert over(lambda ago_s: (4, 26) if ago_s > 65.0 else (30, 0))
    assert not over(lambda ago_s: (4, 26) if ago_s > 40.0 else (30, 0))


def test_a_steady_view_of_the_flame_is_not_well():
    for at_c, over in ((85.0, False), (60.0, True)):
        one = seen(steady(at_c))
        scene = lit(other(steady(48.0)), other(steady(47.0)))
        assert faults.fault_ended(FaultKind.POWER_ON, one, scene, (85.0, None)) is over


def test_what_was_stuck_is_well_when_it_moves():
    one = still(display(0.15, 0.1), 95.0)
    assert not faults.fault_ended(FaultKind.STUCK, one, lit(), (None, None))
    one.history.read(END_S, 12.3)
    assert faults.fault_ended(FaultKind.STUCK, one, lit(), (None, None))
