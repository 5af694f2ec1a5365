"""A balance under the candle and the room's humidity: beside the temperatures, never among them."""

import random
from pathlib import Path

import pytest

from logger import messages
from logger.alarms.lifecycle import AlarmEvent
from logger.burn.entries import Lit
from logger.pipeline import Pipeline, begun
from logger.quantities import Estimate, Quality, Quantity, Reading
from logger.service.core import bench_of
from logger.settings import parse
from logger.web.place_views import place_view
from tests.support.pipeline_bench import START_S

BENCH = """
[bench]
name = "shed"
data = "data"
show = {{ mass = "oz" }}
[[station]]
name = "jar-a"
material = "glass"
[[instrument]]
name = "everything"
driver = "serial-lines"
port = "/dev/null"
[[instrument.channel]]
name = "wall"
station = "jar-a"
quantity = "temperature"
place = "wall"
height = "60 mm"
field = 0
unit = "degC"
kind = "contact"
coupling = "0.1 delta_degC"
accuracy = "0.1 delta_degC"
[[instrument.channel]]
name = "mass"
station = "jar-a"
quantity = "mass"
place = "{place}"
field = 1
unit = "{unit}"
resolution = "0.01 g"
accuracy = "0.05 g"
[[instrument.channel]]
name = "humidity"
quantity = "humidity"
place = "room"
field = 2
unit = "percent"
"""
GRAMS = {"g": 1.0, "kg": 1000.0, "oz": 28.349523125, "lb": 453.59237}  # avoirdupois, exact


def folded(seconds, mass_g, humidity=44.0, *, unit="g", place="support", noise_g=0.02):
    """What a pipeline says of `seconds` readings; masses are a function of time."""
    settings = parse(BENCH.format(unit=unit, place=place), Path("bench.toml"))
    pipeline, rng, outputs = Pipeline(bench_of(settings), START_S), random.Random(5), []
    pipeline.step(Lit(at_s=START_S, entered_s=START_S, id="lit", station="jar-a", trial="cedar"))
    ticks = begun(START_S)
    for second in range(seconds):
        at_s = START_S + second + 0.5
        for tick in ticks.upto(at_s):
            outputs += pipeline.step(tick)
        values = {
            "wall": rng.gauss(41.0, 0.1),
            "mass": round(mass_g(second) + rng.gauss(0.0, noise_g), 2) / GRAMS[unit],
            "humidity": rng.gauss(humidity, 0.5),
        }
        for name, value in values.items():
            outputs += pipeline.step(Reading(channel=name, value=value, at_s=at_s))
    return settings, pipeline, outputs


def latest(outputs, channel):
    return [o for o in outputs if isinstance(o, Estimate) and o.channel == channel][-1]


@pytest.mark.parametrize("unit", GRAMS)
def test_a_mass_in_any_unit_is_an_estimate_in_grams(unit):
    settings, _, outputs = folded(60, lambda _: 412.5, unit=unit)
    estimate = latest(outputs, "mass")
    assert estimate.value == pytest.approx(412.5, abs=0.05)
    channel = next(c for c in settings.channels if c.name == "mass")
    assert messages.estimate(estimate, channel)["unit"] == "g"
    assert estimate.quality is Quality.GOOD
    assert 0.05 / 3**0.5 < estimate.standard_uncertainty < 0.2  # accuracy, and what noise leaves


def test_a_burning_candle_is_followed_as_it_grows_lighter():
    def mass_g(second):
        return 412.5 - 6.0 * second / 3600.0

    _, _, outputs = folded(1200, mass_g)
    for estimate in (o for o in outputs if isinstance(o, Estimate) and o.channel == "mass"):
        off_g = estimate.value - mass_g(estimate.at_s - START_S)
        assert abs(off_g) < 3.0 * estimate.standard_uncertainty


def test_what_is_put_on_the_balance_is_believed():
    _, _, outputs = folded(240, lambda second: 412.5 if second < 120 else 500.0)
    assert latest(outputs, "mass").value == pytest.approx(500.0, abs=0.1)


def test_humidity_is_an_estimate_in_percent():
    settings, _, outputs = folded(60, lambda _: 412.5)
    estimate = latest(outputs, "humidity")
    assert estimate.value == pytest.approx(44.0, abs=0.5)
    assert messages.estimate(estimate, settings.channels[2])["unit"] == "percent"


@pytest.mark.parametrize("place", ["support", "base", "rim"])
def test_neither_is_taken_for_a_temperature(place):
    _, pipeline, outputs = folded(400, lambda _: 412.5, humidity=70.0, place=place)
    raised = {e.alarm.finding.rule for e in outputs if isinstance(e, AlarmEvent)}
    assert not raised & {"wall-alert", "wall-limit", "room-out-of-range", "rise-rate"}
    (status,) = pipeline.statuses(START_S + 400)
    assert status.hottest.channel == "wall"
    assert pipeline.burns[0].hottest.channel == "wall"


def test_an_impossible_humidity_or_mass_moves_nothing():
    _, _, outputs = folded(60, lambda second: 412.5 if second != 40 else 1e9, humidity=44.0)
    assert latest(outputs, "mass").value == pytest.approx(412.5, abs=0.05)


def test_the_page_shows_them_in_the_bench_s_units():
    settings, _, outputs = folded(60, lambda _: 412.5)
    views = {
        channel.name: place_view(
            channel, latest(outputs, channel.name), None, settings.words, START_S + 60
        )
        for channel in settings.channels
    }
    assert views["mass"].value == "14.55 oz"
    assert views["humidity"].value.startswith("44")
    assert views["humidity"].value.endswith("%")
    assert all(view.margin == "" for view in views.values())
    assert {c.quantity for c in settings.channels} == set(Quantity)
