"""What the running estimate learns: noise, step, and how often and how long hits come."""

import math
import random

import pytest

from logger.conditioning.averaging import RunningEstimate
from logger.conditioning.learning import Draughts, Hits, Noise, fade
from logger.conditioning.motion import MOTIONS
from logger.conditioning.track import Track
from logger.quantities import Quality, Quantity

MOTION = MOTIONS[Quantity.TEMPERATURE]


def weighed(hit, above=50.0):
    """A course whose latest reading was a hit with this probability."""
    track = Track.begun(MOTION, 50.0, MOTION.walk)
    track.hit, track.innovation = float(hit), above if hit else 0.0
    return track


def test_memories_fade_in_ten_minutes_but_never_to_nothing():
    assert fade(0.0) == 1.0
    assert fade(600.0) < 0.002
    assert fade(1e9) > 0.0


def test_a_chain_of_bursts_is_recognised():
    rng, hits, hit = random.Random(1), Hits(MOTION), False
    begins, goes_on = [], []
    for i in range(20_000):
        before = hit
        hit = rng.random() < (0.75 if hit else 0.2)
        hits.learn(float(before), weighed(hit), fade(1.0))
        if i > 500:
            now = hits.flame(1.0)
            begins.append(now.begins)
            goes_on.append(now.goes_on)
    assert sum(begins) / len(begins) == pytest.approx(0.2, abs=0.04)
    assert sum(goes_on) / len(goes_on) == pytest.approx(0.75, abs=0.04)


def test_without_hits_they_become_rare_but_never_impossible():
    hits = Hits(MOTION)
    for _ in range(2000):
        hits.learn(0.0, weighed(False), fade(1.0))
    flame = hits.flame(1.0)
    assert 0.0 < flame.begins < 0.01
    assert flame.goes_on == pytest.approx(0.75)  # the first belief, about four readings


def test_how_high_hits_read_is_learned_and_small_ones_bias_less():
    errors = []
    for seed in range(5):
        rng, estimate = random.Random(seed), RunningEstimate()
        for i in range(1800):
            hit = rng.expovariate(1.0 / 3.0) if i % 10 < 3 else 0.0
            estimate.add(float(i), rng.gauss(55.0, 1.0) + hit)
            if i > 300:
                errors.append(estimate.at(float(i)).value - 55.0)
    # Three readings in ten, 3 K high: a mean is 0.9 K off, hits spread evenly to 100 K leave 0.5.
    assert sum(errors) / len(errors) < 0.35


@pytest.mark.parametrize("draught_k", [0.25, 2.0])
def test_draughts_are_learned_and_the_interval_holds(draught_k):
    held = judged = 0
    for seed in range(5):
        rng, estimate, level = random.Random(seed), RunningEstimate(), 0.0
        keep = math.exp(-1.0 / 150.0)
        for i in range(2400):
            level = keep * level + rng.gauss(0.0, draught_k * math.sqrt(1.0 - keep**2))
            estimate.add(float(i), rng.gauss(50.0 + level, 1.0))
            if i > 300:
                now = estimate.at(float(i))
                held += abs(now.value - 50.0 - level) <= 2.0 * now.repeatability
                judged += 1
    assert 0.88 < held / judged < 0.99


def test_noise_of_a_few_seconds_is_no_draught():
    # Neighbours 1 s apart correlate by 0.7: what is alike for less than 6 s is of the sensor.
    draughts, rng, value = Draughts(MOTION), random.Random(6), 0.0
    estimate = RunningEstimate()
    for i in range(1800):
        value = 0.7 * value + rng.gauss(0.0, math.sqrt(1.0 - 0.49))
        estimate.add(float(i), 50.0 + value)
    assert estimate.walk < 6.0 * draughts.walk()


def test_the_step_is_the_smallest_change_of_late():
    noise = Noise(MOTION, None)
    assert noise.step == 1.0  # unknown: as coarse as displays are
    noise.learn_step(-0.5, False, fade(1.0))
    noise.learn_step(2.0, False, fade(1.0))
    assert noise.step == 0.5
    noise.learn_step(0.1, False, fade(1.0))
    assert noise.step == pytest.approx(0.1)
    for _ in range(600):
        noise.learn_step(0.0, True, fade(1.0))
    assert noise.step == 1.0  # what it once was is forgotten
    assert noise.var() >= 0.25


def test_a_stated_step_is_not_learned_over():
    noise = Noise(MOTION, 0.25)
    noise.learn_step(0.01, False, fade(1.0))
    noise.learn_step(0.0, True, fade(100.0))
    assert noise.step == 0.25


def test_noise_far_above_the_first_guess_is_found():
    # At first each deep reading looks like a jump; what lies between them widens the noise.
    rng, estimate = random.Random(2), RunningEstimate()
    for i in range(300):
        estimate.add(float(i), rng.gauss(55.0, 12.0))
    now = estimate.at(299.0)
    assert 8.0 < estimate.noise < 16.0
    assert abs(now.value - 55.0) < 3.0 * now.repeatability
    assert estimate.jumped_s is None or estimate.jumped_s < 200.0


def test_a_silence_of_weeks_leaves_no_memory_to_divide_by():
    rng, estimate = random.Random(3), RunningEstimate()
    for i in range(300):
        estimate.add(float(i), rng.gauss(55.0, 1.0))
    for i, value in enumerate([150.0, 150.0, 22.0, 22.5, 21.6]):
        estimate.add(3e6 + i, value)
    now = estimate.at(3e6 + 4.0)
    assert math.isfinite(now.value)
    assert now.repeatability > 0.0


def test_lit_while_it_looks_on_the_first_intervals_hold():
    # A wall that climbs from the first reading on: the slope is not known to be small.
    held = judged = 0
    for seed in range(40):
        rng, estimate = random.Random(seed), RunningEstimate()
        for i in range(60):
            truth = 22.0 + 0.08 * i
            estimate.add(float(i), rng.gauss(truth, 1.0))
            now = estimate.at(float(i))
            held += abs(now.value - truth) <= 2.0 * now.repeatability
            judged += 1
    assert held / judged > 0.92


def test_a_course_of_a_few_readings_is_doubtful_however_well_they_agree():
    estimate = RunningEstimate()
    for i in range(5):
        estimate.add(float(i), 80.0)
    assert estimate.at(4.0).quality is Quality.DOUBTFUL
    for i in range(5, 10):
        estimate.add(float(i), 80.0)
    assert estimate.at(9.0).quality is Quality.GOOD


def test_steady_bursts_of_small_hits_make_no_course():
    # Ten-second bursts of +4 K, one a minute: a line through one would be steeper than a wall.
    worst = 0.0
    for seed in range(10):
        rng, estimate = random.Random(seed), RunningEstimate()
        for i in range(1200):
            burst = i > 120 and i % 60 < 10
            estimate.add(float(i), rng.gauss(55.0, 1.0) + (4.0 if burst else 0.0))
            if i > 120:
                worst = max(worst, estimate.at(float(i)).value - 55.0)
    assert worst < 2.5
