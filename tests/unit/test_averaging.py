"""The running estimate: through hits, climbs, jumps, silence, and at any pace of readings."""

import math
import random
from itertools import pairwise

import pytest

from logger.conditioning.averaging import RunningEstimate
from logger.conditioning.motion import MOTIONS
from logger.quantities import Quality, Quantity


def with_hits(values, share, rng, length=4.0):
    """`values` with bursts of flame hits of +2 to +100 K, and which of them are hits."""
    leave, enter = 1.0 / length, share / (1.0 - share) / length
    hit, out = False, []
    for value in values:
        if rng.random() < (leave if hit else enter):
            hit = not hit
        out.append((value + rng.uniform(2.0, 100.0) if hit else value, hit))
    return out


def fed(values, *, interval_s=1.0, **settings):
    estimate = RunningEstimate(**settings)
    for i, value in enumerate(values):
        estimate.add(i * interval_s, value)
    return estimate


def noisy(rng, truth, noise=1.0):
    return [rng.gauss(value, noise) for value in truth]


def test_before_any_reading_there_is_nothing():
    now = RunningEstimate().at(10.0)
    assert (now.value, now.repeatability, now.used, now.quality) == (None, None, 0, Quality.LOST)


@pytest.mark.parametrize("window_s", [5.0, 30.0, 600.0])
def test_the_window_is_how_long_a_value_counts_and_changes_no_value(window_s):
    readings = noisy(random.Random(7), [50.0] * 300)
    estimate, usual = fed(readings, window_s=window_s), fed(readings)
    assert estimate.at(299.0).value == usual.at(299.0).value
    assert estimate.at(299.0 + window_s - 0.5).quality is not Quality.LOST
    assert estimate.at(299.0 + window_s + 0.5).quality is Quality.LOST


def test_one_reading_is_taken_for_what_it_is_and_doubted():
    now = fed([41.0]).at(0.0)
    assert now.value == 41.0
    assert now.repeatability > 1.0
    assert (now.used, now.rejected, now.quality) == (1, 0, Quality.DOUBTFUL)


def test_noise_averages_and_the_window_is_counted():
    estimate = fed(noisy(random.Random(1), [50.0] * 300))
    now = estimate.at(299.0)
    assert now.value == pytest.approx(50.0, abs=0.8)
    assert 0.15 < now.repeatability < 0.4
    assert (now.used, now.rejected, now.quality) == (30, 0, Quality.GOOD)


def test_zero_degrees_is_a_value_like_any_other():
    now = fed([*noisy(random.Random(2), [0.0] * 100, 0.1), 0.0]).at(100.0)
    assert now.value == pytest.approx(0.0, abs=0.2)


@pytest.mark.parametrize("share", [0.15, 0.30, 0.45])
def test_flame_hits_are_set_aside_and_never_followed(share):
    rng = random.Random(round(100 * share))
    readings = with_hits(noisy(rng, [55.0] * 7200), share, rng)
    estimate, worst, misjudged = RunningEstimate(), 0.0, 0
    for i, (value, _) in enumerate(readings):
        estimate.add(float(i), value)
        now = estimate.at(float(i))
        if i >= 120:
            worst = max(worst, abs(now.value - 55.0))
        if i >= 120 and i % 30 == 0:
            hits = sum(hit for _, hit in readings[i - 29 : i + 1])
            assert now.used + now.rejected == 30
            misjudged += abs(now.rejected - hits)
    assert worst < 3.0
    assert misjudged < 0.03 * 7200  # a hit of +2 K looks like noise of 1 K


def test_hits_at_the_start_are_left_behind():
    rng = random.Random(5)
    estimate = fed([95.0, 71.0, 110.0, *noisy(rng, [30.0] * 20)])
    now = estimate.at(22.0)
    assert now.value == pytest.approx(30.0, abs=1.5)
    assert now.quality is Quality.DOUBTFUL  # it had begun elsewhere
    for i in range(23, 70):
        estimate.add(float(i), rng.gauss(30.0, 1.0))
    assert estimate.at(69.0).quality is Quality.GOOD


@pytest.mark.parametrize("noise", [0.1, 1.0, 3.0])
@pytest.mark.parametrize("share", [0.0, 0.15, 0.30])
def test_a_real_climb_of_6_k_a_minute_is_seen_within_45_s_of_crossing(noise, share):
    delays = []
    for seed in range(5):
        rng = random.Random(f"{noise} {share} {seed}")
        truth = [50.0 + 0.1 * max(0, i - 600) for i in range(800)]  # crosses 60 at 700 s
        readings = with_hits(noisy(rng, truth, noise), share, rng)
        estimate, seen_s = RunningEstimate(), None
        for i, (value, _) in enumerate(readings):
            estimate.add(float(i), value)
            now = estimate.at(float(i))
            if i >= 640 and seen_s is None and now.value + 2.0 * now.repeatability > 60.0:
                seen_s = i
        assert seen_s is not None
        delays.append(seen_s - 700)
    assert max(delays) <= 45
    assert min(delays) >= -30  # 3 K early: no false start either


def test_a_sudden_climb_of_a_quiet_sensor_amid_hits_is_no_flame():
    # Noise of 0.05 K: without a course that climbs, every reading after the first burst would lie
    # many standard deviations above what was expected and be set aside for good.
    for seed in range(10):
        rng = random.Random(seed)
        truth = [55.0 + 0.1 * max(0, i - 300) for i in range(400)]
        readings = with_hits(noisy(rng, truth, 0.05), 0.45, rng)
        estimate = fed([value for value, _ in readings])
        assert estimate.at(399.0).value == pytest.approx(truth[-1], abs=1.0)


@pytest.mark.parametrize("interval_s", [2.0, 5.0])
def test_a_climb_is_found_at_a_slow_pace_too(interval_s):
    # A climbing course begun at an earlier hit must not stand in the way of one that fits.
    for seed in range(40):
        rng = random.Random(seed)
        moments = [interval_s * i for i in range(int(900.0 / interval_s))]
        truth = [50.0 + 0.1 * max(0.0, at_s - 690.0) for at_s in moments]
        readings = with_hits(noisy(rng, truth, 0.05), 0.3, rng, length=2.0)
        estimate, seen_s = RunningEstimate(), math.inf
        for at_s, (value, _) in zip(moments, readings, strict=True):
            estimate.add(at_s, value)
            now = estimate.at(at_s)
            if at_s > 750.0 and now.value + 2.0 * now.repeatability > 60.0:
                seen_s = min(seen_s, at_s)
        assert seen_s <= 790.0 + 45.0


@pytest.mark.parametrize(("height_k", "length"), [(5.0, 12), (20.0, 12)])
def test_a_long_steady_burst_of_hits_is_no_climb(height_k, length):
    for seed in range(10):
        rng = random.Random(seed)
        values = noisy(rng, [55.0] * 300 + [55.0 + height_k] * length)
        now = fed(values).at(299.0 + length)
        assert now.value == pytest.approx(55.0, abs=1.5)


@pytest.mark.parametrize("step_k", [10.0, -10.0, -25.0])
@pytest.mark.parametrize("share", [0.0, 0.10])
def test_a_step_that_stays_is_followed_within_30_s_and_doubted_at_first(step_k, share):
    for seed in range(5):
        rng = random.Random(seed)
        estimate = fed([*noisy(rng, [55.0] * 300)])
        for i in range(300, 330):
            lost = rng.random() < share
            estimate.add(float(i), 0.0 if lost else rng.gauss(55.0 + step_k, 1.0))
        now = estimate.at(329.0)
        assert now.value == pytest.approx(55.0 + step_k, abs=2.0)
        if estimate.jumped_s is not None:  # or it was followed as a climb
            assert 310.0 < estimate.jumped_s < 325.0
            assert now.quality is Quality.DOUBTFUL or step_k > 0.0  # upwards it waited
        for i in range(330, 370):
            estimate.add(float(i), rng.gauss(55.0 + step_k, 1.0))
        assert estimate.at(369.0).quality is Quality.GOOD


@pytest.mark.parametrize("value", [0.0, -20.0, 85.0])
def test_readings_of_a_loose_lead_are_set_aside_below_as_above(value):
    off = judged = 0
    for seed in range(5):
        rng = random.Random(seed)
        estimate = RunningEstimate()
        for i in range(1800):
            estimate.add(float(i), value if rng.random() < 0.10 else rng.gauss(55.0, 1.0))
            off += abs(estimate.at(float(i)).value - 55.0) > 1.0 and i > 60
            judged += 1
        assert estimate.at(1799.0).quality is Quality.GOOD
    assert off <= 0.01 * judged


def test_begun_on_a_loose_lead_the_place_is_found():
    rng = random.Random(3)
    values = [0.0 if i == 0 or rng.random() < 0.10 else rng.gauss(55.0, 1.0) for i in range(60)]
    assert fed(values).at(59.0).value == pytest.approx(55.0, abs=1.5)


def test_one_low_glitch_moves_nothing_and_is_counted():
    rng = random.Random(10)
    estimate = fed([*noisy(rng, [55.0] * 300, 0.2), 0.0])
    now = estimate.at(300.0)
    assert now.value == pytest.approx(55.0, abs=0.3)
    assert (now.used, now.rejected, now.quality) == (29, 1, Quality.GOOD)


def test_most_of_the_window_may_be_of_the_flame_and_the_rest_still_be_good():
    rng = random.Random(4)
    readings = with_hits(noisy(rng, [55.0] * 3600), 0.60, rng)
    estimate, good = RunningEstimate(), 0
    for i, (value, _) in enumerate(readings):
        estimate.add(float(i), value)
        good += estimate.at(float(i)).quality is Quality.GOOD
    assert good > 0.95 * 3600


@pytest.mark.parametrize("rate", [0.3, 0.5])
@pytest.mark.parametrize("share", [0.0, 0.30])
def test_a_wall_that_a_leaning_flame_heats_is_seen_within_45_s_of_crossing(rate, share):
    delays = []
    for seed in range(8):
        rng = random.Random(f"{rate} {share} {seed}")
        truth = [50.0 + min(25.0, rate * max(0, i - 600)) for i in range(800)]
        readings = with_hits(noisy(rng, truth), share, rng)
        estimate, seen_s = RunningEstimate(), math.inf
        for i, (value, _) in enumerate(readings):
            estimate.add(float(i), value)
            now = estimate.at(float(i))
            if i >= 600 and now.quality is Quality.GOOD:
                seen_s = min(seen_s, i if now.value + 2.0 * now.repeatability > 60.0 else math.inf)
        delays.append(seen_s - 600.0 - 10.0 / rate)
    assert max(delays) <= 45.0


def test_the_end_of_a_climb_is_followed_and_not_taken_for_noise():
    for seed in range(5):
        rng = random.Random(seed)
        truth = [50.0 + min(15.0, 0.5 * max(0, i - 300)) for i in range(400)]
        estimate = fed(noisy(rng, truth))
        now = estimate.at(399.0)
        assert now.value == pytest.approx(65.0, abs=1.5)
        assert estimate.noise < 2.0


def test_a_sensor_that_sees_nothing_but_flame_is_lost_and_keeps_its_last_value():
    rng = random.Random(12)
    estimate = fed([*noisy(rng, [55.0] * 300), *(rng.uniform(65.0, 150.0) for _ in range(120))])
    now = estimate.at(419.0)
    assert (now.used, now.rejected, now.quality) == (0, 30, Quality.LOST)
    assert now.value == pytest.approx(55.0, abs=3.0)


def test_silence_widens_and_never_looks_fresh():
    estimate = fed(noisy(random.Random(13), [30.0 + 0.05 * i for i in range(600)]))
    moments = [estimate.at(599.0 + silence) for silence in (0, 5, 15, 29, 31, 60, 300, 600, 3600)]
    for earlier, later in pairwise(moments):
        assert later.repeatability > earlier.repeatability
    assert moments[0].quality is Quality.GOOD
    assert moments[3].quality is Quality.DOUBTFUL
    assert all(now.quality is Quality.LOST and now.used == 0 for now in moments[4:])
    assert moments[6].value == moments[8].value  # no course is made up
    # The wall may have gone on for ten minutes as it did: that is within two of the uncertainty.
    assert abs(30.0 + 0.05 * 1199 - moments[7].value) < 2.0 * moments[7].repeatability


def test_after_silence_the_place_is_found_again():
    rng = random.Random(14)
    estimate = fed(noisy(rng, [30.0] * 300))
    for i in range(20):
        estimate.add(900.0 + i, rng.gauss(48.0, 1.0))
    assert estimate.at(919.0).value == pytest.approx(48.0, abs=1.5)


def test_five_minutes_of_silence_end_what_was_believed():
    # The first reading afterwards is a hit: it is doubted, and left behind.
    for seed in range(20):
        rng = random.Random(seed)
        estimate = fed(noisy(rng, [55.0] * 300))
        for i in range(12):
            estimate.add(620.0 + i, rng.gauss(48.0, 1.0) + (rng.uniform(5, 80) if i < 3 else 0.0))
            now = estimate.at(620.0 + i)
            assert i < 8 or now.value == pytest.approx(48.0, abs=2.0)
            assert now.quality is Quality.DOUBTFUL or now.value < 52.0


def test_asking_changes_nothing():
    rng = random.Random(15)
    readings = with_hits(noisy(rng, [55.0] * 400), 0.3, rng)
    asked, unasked = RunningEstimate(), RunningEstimate()
    for i, (value, _) in enumerate(readings):
        asked.add(float(i), value)
        unasked.add(float(i), value)
        for later_s in (0.0, 0.5, 40.0, 5000.0):
            assert asked.at(i + later_s) == asked.at(i + later_s)
    assert asked.at(400.0) == unasked.at(400.0)


@pytest.mark.parametrize("share", [0.0, 0.30])
def test_ten_minutes_of_readings_restore_the_estimate(share):
    for seed in range(5):
        rng = random.Random(100 + seed)
        truth = [55.0 - 30.0 * math.exp(-i / 1500.0) for i in range(5400)]
        readings = [value for value, _ in with_hits(noisy(rng, truth), share, rng)]
        whole, folded = RunningEstimate(), RunningEstimate()
        for i, value in enumerate(readings):
            whole.add(float(i), value)
            if i >= 4800:
                folded.add(float(i), value)
        a, b = whole.at(5400.0), folded.at(5400.0)
        assert b.value == pytest.approx(a.value, abs=0.05)  # draughts are remembered longer
        assert b.repeatability == pytest.approx(a.repeatability, rel=0.1)
        assert (a.used, a.rejected, a.quality) == (b.used, b.rejected, b.quality)


def test_a_steady_climb_is_not_read_late():
    estimate, errors = RunningEstimate(), []
    rng = random.Random(16)
    for i in range(1200):
        estimate.add(float(i), rng.gauss(30.0 + 0.04 * i, 1.0))
        if i >= 200:
            errors.append(estimate.at(float(i)).value - (30.0 + 0.04 * i))
    # A 30 s mean would be 0.6 K low.
    assert abs(sum(errors) / len(errors)) < 0.1


@pytest.mark.parametrize("noise", [0.1, 1.0, 3.0])
@pytest.mark.parametrize("interval_s", [0.2, 1.0, 5.0, 10.0])
def test_noise_is_found_and_intervals_hold_at_any_pace(noise, interval_s):
    rng = random.Random(f"{noise} {interval_s}")
    held = judged = 0
    for _ in range(3):
        estimate, draught = RunningEstimate(), 0.0
        keep = math.exp(-interval_s / 150.0)
        for i in range(1500):
            draught = keep * draught + rng.gauss(0.0, 0.5 * math.sqrt(1.0 - keep**2))
            # every tenth reading is missing, and no two intervals are the same
            at_s = interval_s * (i + rng.uniform(-0.3, 0.3))
            if rng.random() < 0.1:
                continue
            estimate.add(at_s, rng.gauss(55.0 + draught, noise))
            if i > 100:
                now = estimate.at(at_s)
                held += abs(now.value - 55.0 - draught) <= 2.0 * now.repeatability
                judged += 1
        assert 0.7 * noise < estimate.noise < 2.0 * noise
    assert held / judged > 0.92


def test_correlated_noise_makes_it_less_sure():
    rng, value, readings = random.Random(17), 0.0, []
    for _ in range(600):
        value = 0.8 * value + rng.gauss(0.0, 0.6)  # standard deviation 1, neighbours correlate 0.8
        readings.append(50.0 + value)
    white = fed(noisy(random.Random(18), [50.0] * 600))
    assert fed(readings).at(599.0).repeatability > 1.25 * white.at(599.0).repeatability


def test_a_display_that_repeats_itself_does_not_make_the_next_value_a_hit():
    estimate = fed([25.0] * 300 + [26.0] * 30)
    now = estimate.at(329.0)
    assert (now.used, now.rejected, now.quality) == (30, 0, Quality.GOOD)
    assert now.value == pytest.approx(26.0, abs=0.3)
    assert now.repeatability > 0.1  # what lies between two steps is not known


def test_a_stated_step_is_kept_in_mind_from_the_start():
    coarse, fine = fed([25.0] * 300, resolution=1.0), fed([25.0] * 300, resolution=0.01)
    assert coarse.noise == pytest.approx(0.5)  # half a step
    assert coarse.at(299.0).repeatability > 3.0 * fine.at(299.0).repeatability
    assert fine.noise < 0.1


def test_a_step_is_judged_by_what_was_displayed():
    # The value moves with a correction, the display stands still: its step is not that small.
    estimate = RunningEstimate()
    for i in range(300):
        estimate.add(float(i), 25.0 + 0.0001 * i, shown=25.0)
    assert estimate.noise == pytest.approx(0.5)


def test_slow_instruments_are_not_lost_between_two_readings():
    estimate = fed(noisy(random.Random(19), [50.0] * 20, 0.2), interval_s=20.0)
    assert estimate.interval_s == 20.0
    assert estimate.at(380.0 + 19.0).quality is Quality.GOOD
    assert estimate.at(380.0 + 101.0).quality is Quality.LOST  # five intervals


def test_the_usual_interval_survives_dropouts_and_pairs():
    estimate = RunningEstimate()
    for at_s in (0.0, 2.0, 4.0, 4.0, 6.0, 66.0, 68.0, 70.0, 70.0, 72.0):
        estimate.add(at_s, 50.0)
    assert estimate.interval_s == 2.0
    assert estimate.last_s == 72.0


def test_readings_of_one_moment_and_out_of_order_do_no_harm():
    estimate = RunningEstimate()
    for at_s in (0.0, 0.0, 5.0, 4.0, 5.0, 6.0):
        estimate.add(at_s, 50.0)
    assert estimate.last_s == 6.0
    assert estimate.at(6.0).value == pytest.approx(50.0)


@pytest.mark.parametrize("value", [1e308, -1e308, -300.0, 2500.0])
def test_what_can_be_no_temperature_is_counted_and_moves_nothing(value):
    estimate = fed([50.0] * 60)
    before = estimate.at(59.0).value
    estimate.add(60.0, value)
    now = estimate.at(60.0)
    assert (now.used, now.rejected) == (29, 1)
    assert now.value == pytest.approx(before, abs=1e-6)
    assert estimate.last_s == 60.0  # it is not silent


def test_refused_readings_alone_leave_nothing_to_believe():
    estimate = RunningEstimate()
    estimate.refuse(1.0)
    now = estimate.at(1.0)
    assert (now.value, now.rejected, now.quality) == (None, 1, Quality.LOST)


def test_a_candle_on_a_balance_has_no_flame_hits():
    rng = random.Random(20)
    truth = [420.0 - 0.0017 * i for i in range(1200)]  # 6 g/h
    estimate = fed(noisy(rng, truth, 0.05), motion=MOTIONS[Quantity.MASS])
    now = estimate.at(1199.0)
    assert now.value == pytest.approx(truth[-1], abs=0.1)
    assert now.slope == pytest.approx(-0.0017, abs=0.002)
    for i in range(1200, 1220):  # something was laid on it
        estimate.add(float(i), rng.gauss(430.0, 0.05))
    assert estimate.at(1219.0).value == pytest.approx(430.0, abs=0.5)
