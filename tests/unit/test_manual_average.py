"""Three or four values typed by a person."""

import itertools
import math
import random

import pytest

from logger.conditioning.manual import average, estimate
from logger.errors import DataError
from logger.quantities import Channel, Kind, Place, Position, Quality, Quantity

WALL = Channel(
    name="wall",
    instrument="by-hand",
    quantity=Quantity.TEMPERATURE,
    place=Place(position=Position.WALL),
)


def test_flame_hits_are_set_aside_and_shown_in_the_order_typed():
    result = average([57.0, 88.0, 56.0, 58.0])
    assert result.used == (57.0, 56.0, 58.0)
    assert result.set_aside == (88.0,)
    assert result.value == pytest.approx(57.0)


def test_two_hits_of_four_are_set_aside():
    assert average([56.0, 90.0, 57.0, 95.0]).set_aside == (90.0, 95.0)


@pytest.mark.parametrize("values", [[57.0], [57.0, 57.6], [57.0, 57.6, 56.8]])
def test_one_two_or_three_values_are_sane_and_wide(values):
    result = average(values)
    assert result.used == tuple(values)
    assert result.value == pytest.approx(sum(values) / len(values))
    # Noise of 1 K and Student's factor: never narrower than a normal mean of that noise.
    assert 1.0 / math.sqrt(len(values)) * 0.9 < result.standard_uncertainty < 2.5


def test_more_values_are_surer():
    widths = [average([57.0] * n).standard_uncertainty for n in (1, 2, 3, 4, 8)]
    assert widths == sorted(widths, reverse=True)


def test_a_low_value_is_never_set_aside():
    result = average([20.0, 56.0, 57.0, 58.0])
    assert result.set_aside == ()
    assert result.value + 2.0 * result.standard_uncertainty > 58.0


@pytest.mark.parametrize("values", [[56.0, 88.0], [56.0, 88.0, 89.0], [20.0, 57.0, 90.0]])
def test_values_that_contradict_one_another_stay_in_and_make_it_wide(values):
    result = average(values)
    assert result.set_aside == ()
    for value in values:
        assert abs(value - result.value) <= 2.0 * result.standard_uncertainty + 1e-9


def test_the_order_typed_changes_nothing():
    results = [average(order) for order in itertools.permutations([57.0, 88.0, 56.0, 58.0])]
    assert {round(result.value, 12) for result in results} == {57.0}
    assert {result.set_aside for result in results} == {(88.0,)}


def test_values_without_spread_on_a_coarse_display_keep_its_step():
    fine = average([57.0, 57.0, 57.0], noise=0.01)
    coarse = average([57.0, 57.0, 57.0], noise=0.01, resolution=1.0)
    assert coarse.standard_uncertainty > 1.0 / math.sqrt(12.0) > fine.standard_uncertainty
    assert average([57.0, 57.0, 58.0], noise=0.01, resolution=1.0).set_aside == ()


def test_accuracy_is_rectangular_and_does_not_average_away():
    many = average([57.0] * 40, accuracy=1.5)
    assert many.standard_uncertainty == pytest.approx(
        math.hypot(many.repeatability, 1.5 / math.sqrt(3.0))
    )


def test_intervals_of_few_values_hold_what_they_promise():
    rng = random.Random(3)
    for n in (2, 3, 4):
        held = 0
        for _ in range(2000):
            noise_k = rng.uniform(0.3, 1.5)
            result = average([rng.gauss(57.0, noise_k) for _ in range(n)])
            held += abs(result.value - 57.0) <= 2.0 * result.standard_uncertainty
        assert held > 0.95 * 2000


def test_hits_of_a_third_rarely_reach_the_average():
    rng, off = random.Random(4), 0
    for _ in range(2000):
        values = [rng.gauss(57.0, 1.0) for _ in range(4)]
        values[rng.randrange(4)] += rng.uniform(8.0, 100.0)
        result = average(values)
        off += abs(result.value - 57.0) > 2.0 * result.standard_uncertainty + 1.0
    assert off < 20


@pytest.mark.parametrize("values", [[], [math.nan], [57.0, math.inf]])
def test_no_value_or_no_number_is_refused(values):
    with pytest.raises(DataError, match="finite"):
        average(values)


def test_estimate_corrects_and_adds_what_is_known_of_the_instrument():
    bare = estimate(WALL, [57.0, 57.4, 56.8, 88.0], 100.0)
    assert (bare.used, bare.rejected, bare.quality) == (3, 1, Quality.GOOD)
    assert bare.standard_uncertainty == bare.repeatability

    gun = Channel(
        name="wall",
        instrument="by-hand",
        quantity=Quantity.TEMPERATURE,
        place=WALL.place,
        kind=Kind.INFRARED,
        emissivity=0.92,
        accuracy=1.5,
    )
    seen = estimate(gun, [57.5, 57.5, 57.5], 100.0, 25.0)
    assert seen.value == pytest.approx(60.0, abs=0.3)  # 60.0 broadband; 8-14 um differs little
    assert seen.standard_uncertainty > math.hypot(1.5 / math.sqrt(3.0), 0.5)


def test_estimate_is_doubtful_where_values_contradict_or_are_too_few():
    assert estimate(WALL, [57.0, 57.2], 0.0).quality is Quality.DOUBTFUL
    assert estimate(WALL, [20.0, 57.0, 90.0], 0.0).quality is Quality.DOUBTFUL
    half = [56.0, 57.0, 56.5, 90.0, 95.0, 99.0]
    assert estimate(WALL, half, 0.0).rejected == 3
    assert estimate(WALL, half, 0.0).quality is Quality.DOUBTFUL


@pytest.mark.parametrize("values", [(1e308, 1e308, 1.0), (1e155, 2.0, 3.0), (-2e6,)])
def test_values_that_no_instrument_shows_are_refused(values):
    with pytest.raises(DataError, match="not a reading of a candle"):
        average(values)
