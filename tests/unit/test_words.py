"""Figures in words."""

import json

import pytest

from logger.pipeline import Bench
from logger.quantities import DEGC, DEGF, PERCENT, Quantity
from logger.store.codec import dump, load
from logger.units import Dimension, unit_of
from logger.words import Words, duration
from tests.support.pipeline_bench import LIMITS

SI = Words()
US = Words(
    temperature_in=DEGF,
    mass_in=unit_of("oz", Quantity.MASS),
    length_in=unit_of("in", Dimension.LENGTH),
)


def test_values_have_a_unit_and_no_more_digits_than_matter():
    assert (SI.temperature(57.25), US.temperature(60.0)) == ("57.2 °C", "140.0 °F")
    assert SI.temperature(-0.04) == "0.0 °C"
    assert (SI.mass(221.44), US.mass(221.44)) == ("221.4 g", "7.81 oz")
    assert (SI.length(60.96), US.length(60.96)) == ("61 mm", "2.4 in")
    assert SI.value(44.6, Quantity.HUMIDITY) == "45 %"
    assert US.temperatures([20.0, 21.5]) == "68.0, 70.7 °F"
    assert SI.unit_of(Quantity.HUMIDITY) is PERCENT


def test_a_difference_has_no_zero_of_a_scale():
    assert (SI.difference(2.0), US.difference(2.0)) == ("2.0 °C", "3.6 °F")
    assert SI.difference(0.126, 2) == "0.13 °C"
    assert US.measured(60.0, 1.0) == "140.0 °F ± 3.6"
    assert SI.measured(60.0, 0.2, assumed=True) == "60.0 °C ± 0.4 assumed"
    assert US.expanded_uncertainty(14.175, quantity=Quantity.MASS) == "± 1.00"


def test_a_unit_without_a_symbol_of_its_own_is_written_by_its_name():
    assert Words(temperature_in=unit_of("degR", Quantity.TEMPERATURE)).temperature(0.0) == (
        "491.7 degR"  # 273.15 K * 9/5, by the definition of the Rankine scale
    )


@pytest.mark.parametrize(
    ("seconds", "said"),
    [
        (40.0, "40 s"),
        (99.4, "99 s"),
        (99.5, "2 min"),
        (2700.0, "45 min"),
        (11100.0, "3 h 05 min"),
        (14400.0, "4 h"),
    ],
)
def test_a_duration_as_people_say_it(seconds, said):
    assert duration(seconds) == said


def test_a_stored_bench_is_read_by_the_keys_that_it_was_always_stored_under():
    bench = Bench(name="shed", channels=(), stations=(), limits=LIMITS, words=US)
    stored = json.loads(dump(bench))["words"]
    assert set(stored) == {"temperature", "mass_in", "length_in"}
    assert stored["temperature"]["name"] == "degF"
    assert load(Bench, dump(bench)).words == US != Words(temperature_in=DEGC)
