"""Which probe moves: raw readings, their noise, and a finger on one of them."""

import random

import pytest

from logger.quantities import DEGF, Channel, Place, Position, Quantity, Reading, Transducer, Unit
from logger.web.probe_views import probe_view
from logger.words import Words

RATE_S = 0.5
PROBE = Channel(
    name="jar-a-wall-3",
    instrument="probes",
    quantity=Quantity.TEMPERATURE,
    place=Place(position=Position.WALL, height_mm=60.0, clock=3),
)


def heard(values):
    return [
        Reading(channel=PROBE.name, value=value, at_s=100.0 + RATE_S * number)
        for number, value in enumerate(values)
    ]


def seen(values, channel=PROBE, words=Words(), later_s=0.0):
    readings = heard(values)
    return probe_view(channel, readings, words, readings[-1].at_s + later_s)


def noisy(count, level=22.0, noise=0.2, seed=4):
    draw = random.Random(seed)
    return [level + draw.gauss(0.0, noise) for _ in range(count)]


def test_a_touched_probe_moves_and_a_noisy_one_does_not():
    lying = seen(noisy(100))
    assert (lying.moved, lying.move) == (False, "")
    assert float(lying.noise.removesuffix(" °C")) == pytest.approx(0.2, rel=0.25)  # as drawn
    # a finger of 33 degC on a bead that follows with some 5 s: 2.7 K in the first 3 s
    warming = [33.0 - 11.0 * 0.9**number for number in range(6)]
    touched = seen(noisy(100) + warming)
    assert touched.moved
    assert touched.move.startswith("+")


def test_a_slow_drift_is_neither_noise_nor_a_touch():
    drifting = seen([20.0 + 0.01 * number for number in range(100)])  # 1.2 K a minute
    assert not drifting.moved
    assert float(drifting.noise.removesuffix(" °C")) < 0.011


def test_what_cannot_be_said_is_said():
    assert probe_view(PROBE, [], Words(), 100.0).move == "nothing has come from it yet"
    assert seen([22.0, 22.0]).move == "listening: leave it alone for some seconds"
    assert seen([22.0] * 40).noise == "below one step of what it sends"
    silent = seen([22.0] * 30 + [30.0] * 6, later_s=40.0)
    assert (silent.age, silent.moved) == ("40 s ago", False)


def test_figures_stand_in_the_units_of_who_looks_or_as_they_are_sent():
    shown = seen([22.0] * 30 + [25.0] * 6, words=Words(temperature_in=DEGF))
    assert (shown.value, shown.move) == ("77.0 °F", "+5.4 °F")
    milli = Channel(
        name="raw",
        instrument="probes",
        quantity=Quantity.TEMPERATURE,
        place=Place(position=Position.BASE),
        unit=Unit(name="mV"),
        transducer=Transducer.THERMOCOUPLE_K,
    )
    assert seen([0.9] * 30 + [1.02] * 6, milli).value == "1.02 mV"
