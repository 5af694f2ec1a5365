"""What the simulated sensors make of a truth that is known."""

import itertools
import math
import statistics

import pytest

from simulators.sensors import Ailment, Bursts, ContactProbe, InfraredSensor, apparent_c


def quiet_probe(**changes) -> ContactProbe:
    settings = {"lag_s": 8.0, "noise_k": 0.0, "resolution_k": 0.0}
    return ContactProbe(**{**settings, **changes})


def quiet_spot(**changes) -> InfraredSensor:
    return InfraredSensor(**{"noise_k": 0.0, "resolution_k": 0.0, **changes})


def test_a_probe_follows_a_step_with_its_lag():
    # First-order lag: 63.21 / 86.47 / 95.02 % after 1, 2, 3 time constants (closed form).
    probe = quiet_probe()
    probe.sample(20.0, 1.0)
    shares = [probe.sample(120.0, 1.0) - 20.0 for _ in range(24)]
    assert [shares[second] for second in (7, 15, 23)] == pytest.approx(
        [63.21, 86.47, 95.02], abs=0.01
    )


def test_the_lag_does_not_depend_on_how_often_one_reads():
    often, rarely = quiet_probe(), quiet_probe()
    for probe in (often, rarely):
        probe.sample(20.0, 1.0)
    for dt_s in (0.5, 1.5, 4.0):
        followed = often.sample(60.0, dt_s)
    assert rarely.sample(60.0, 6.0) == pytest.approx(followed)


def test_a_probe_without_lag_shows_the_truth():
    probe = quiet_probe(lag_s=0.0)
    assert [probe.sample(c, 1.0) for c in (20.0, 50.0)] == [20.0, 50.0]


def test_noise_and_offset_are_as_set():
    probe = quiet_probe(noise_k=0.5, offset_k=-1.2, seed=5)
    errors = [probe.sample(50.0, 1.0) - 50.0 for _ in range(4000)]
    assert statistics.fmean(errors) == pytest.approx(-1.2, abs=4 * 0.5 / math.sqrt(4000))
    assert statistics.stdev(errors) == pytest.approx(0.5, rel=0.05)
    assert probe.last.error_k == errors[-1]


@pytest.mark.parametrize("sensor", [ContactProbe, InfraredSensor])
def test_readings_are_steps_of_the_resolution(sensor):
    made = sensor(resolution_k=0.25, seed=2)
    values = [made.sample(40.0, 25.0) for _ in range(200)]
    assert len(set(values)) > 3
    assert all((4.0 * value).is_integer() for value in values)


@pytest.mark.parametrize("sensor", [ContactProbe, InfraredSensor])
def test_a_dropout_gives_none_and_keeps_the_truth(sensor):
    made = sensor(dropout_share=0.2, seed=9)
    lost = 0
    for second in range(5000):
        value = made.sample(40.0 + second, 25.0)
        assert made.last.true_c == 40.0 + second
        assert made.last.value_c == value
        assert (made.last.error_k is None) == (value is None)
        lost += value is None
    assert lost / 5000 == pytest.approx(0.2, abs=4 * math.sqrt(0.2 * 0.8 / 5000))


@pytest.mark.parametrize(
    ("true_c", "emissivity", "reflected_c", "shown_c"),
    [
        # Broadband T^4, computed from the radiometric equation (ISO 18434-1 terms).
        pytest.param(60.0, 0.92, 25.0, 57.585, id="glass at the limit"),
        pytest.param(60.0, 0.92, 20.0, 57.299, id="cool room"),
        pytest.param(57.0, 0.95, 22.0, 55.499, id="patch"),
        pytest.param(100.0, 0.90, 25.0, 94.346, id="hot"),
    ],
)
def test_an_uncorrected_infrared_sensor_reads_low(true_c, emissivity, reflected_c, shown_c):
    assert apparent_c(true_c, reflected_c, emissivity) == pytest.approx(shown_c, abs=0.001)
    spot = quiet_spot(emissivity=emissivity)
    assert spot.sample(true_c, reflected_c) == pytest.approx(shown_c, abs=0.001)


def test_an_instrument_set_to_the_surface_reads_true_and_one_set_lower_reads_high():
    assert apparent_c(60.0, 25.0, 0.92, 0.92) == pytest.approx(60.0, abs=1e-9)
    assert apparent_c(60.0, 25.0, 0.92, 0.85) > 60.5
    assert apparent_c(25.0, 25.0, 0.3, 0.95) == pytest.approx(25.0, abs=1e-9)


@pytest.mark.parametrize("share", [0.15, 0.30, 0.45])
def test_flame_hits_come_in_bursts_of_about_four(share):
    spot = quiet_spot(emissivity=1.0, hit_share=share, seed=17)
    hits, errors = [], []
    for _ in range(40_000):
        spot.sample(50.0, 22.0)
        hits.append(spot.last.hit)
        errors.append(spot.last.error_k)
    lengths = [len(list(run)) for inside, run in itertools.groupby(hits) if inside]
    # Some thousand bursts of geometric length: their mean is known to about 2 %.
    assert statistics.fmean(hits) == pytest.approx(share, rel=0.08)
    assert statistics.fmean(lengths) == pytest.approx(4.0, rel=0.08)
    of_hits = [error for error, hit in zip(errors, hits, strict=True) if hit]
    assert min(of_hits) >= 2.0
    assert max(of_hits) <= 100.0
    assert statistics.fmean(of_hits) == pytest.approx(51.0, abs=2.0)
    assert all(abs(e) < 1e-6 for e, hit in zip(errors, hits, strict=True) if not hit)


def test_without_a_flame_nothing_is_caught():
    spot = quiet_spot(emissivity=1.0, hit_share=0.4, seed=1)
    values = [spot.sample(50.0, 22.0, lit=False) for _ in range(500)]
    assert values == pytest.approx([50.0] * 500)
    assert not spot.last.hit


def test_the_seed_decides():
    def values(seed: int) -> list[float | None]:
        spot = InfraredSensor(hit_share=0.3, dropout_share=0.1, seed=seed)
        return [spot.sample(50.0, 22.0) for _ in range(50)]

    assert values(3) == values(3) != values(4)


@pytest.mark.parametrize(("share", "length"), [(-0.1, 4.0), (1.0, 4.0), (0.5, 0.5), (0.9, 4.0)])
def test_bursts_that_cannot_be_are_refused(share, length):
    import numpy as np

    with pytest.raises(ValueError, match=r"share|burst"):
        Bursts(share, length, np.random.default_rng(0))


def ill(**ailment):
    return quiet_probe(lag_s=0.0, ailment=Ailment(**ailment))


def test_a_probe_drifts_freezes_steps_and_comes_off():
    drifts = ill(drift_k_per_h=6.0)
    assert [drifts.sample(50.0, 1800.0) for _ in range(2)] == pytest.approx([53.0, 56.0])
    frozen = ill(frozen_from_s=2.5)
    assert [frozen.sample(c, 1.0) for c in (20.0, 21.0, 22.0, 23.0)] == [20.0, 21.0, 21.0, 21.0]
    knocked = ill(stepped_from_s=2.0, step_k=-10.0)
    assert [knocked.sample(50.0, 1.0) for _ in range(2)] == [50.0, 40.0]
    loose = ill(off_from_s=0.0, off_tau_s=60.0)
    assert loose.sample(52.0, 60.0, 22.0) == pytest.approx(22.0 + 30.0 / math.e)


def test_a_lost_reading_may_be_a_number():
    probe = quiet_probe(dropout_share=0.2, seed=9, ailment=Ailment(dropout_c=-127.0))
    values = [probe.sample(50.0, 1.0) for _ in range(2000)]
    assert values.count(-127.0) == pytest.approx(400, abs=75)


def test_noise_may_last():
    probe = quiet_probe(noise_k=0.5, seed=3, ailment=Ailment(noise_lasts_s=3.0))
    errors = [probe.sample(50.0, 1.0) - 50.0 for _ in range(20_000)]
    assert statistics.stdev(errors) == pytest.approx(0.5, rel=0.05)
    neighbours = statistics.correlation(errors[:-1], errors[1:])
    assert neighbours == pytest.approx(math.exp(-1.0 / 3.0), abs=0.03)
