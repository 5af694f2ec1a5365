"""What `check` doubts, and the limits that it prints."""

import pytest

from logger.quantities import DEGC, DEGF, Channel, Place, Position, Quantity, Transducer
from logger.service import doubts
from logger.words import Words
from tests.support.pipeline_bench import LIMITS

ROOM, WALL = Place(position=Position.ROOM), Place(position=Position.WALL, height_mm=40.0)
FAHRENHEIT = Words(temperature_in=DEGF)


def channel(place=ROOM, unit=DEGC, **more):
    return Channel(
        name="one",
        instrument="probes",
        quantity=Quantity.TEMPERATURE,
        place=place,
        unit=unit,
        **more,
    )


def test_a_board_that_sends_fahrenheit_is_suspected():
    # 71.6 sent in °F and taken for °C is 160.9 °F: 71.6 * 9 / 5 + 32
    asked = doubts.odd_unit(channel(), 71.6, FAHRENHEIT)
    assert asked == ('a room at 160.9 °F? Is the board sending °F? Then write unit = "degF"')


def test_a_board_that_sends_celsius_is_suspected():
    # 23.2 sent in °C and taken for °F
    asked = doubts.odd_unit(channel(unit=DEGF), DEGF.inside(23.2), FAHRENHEIT)
    assert asked == 'a room at 23.2 °F? Is the board sending °C? Then write unit = "degC"'
    wall = doubts.odd_unit(channel(WALL, DEGF), DEGF.inside(23.2), FAHRENHEIT)
    assert wall.startswith("this place at 23.2 °F?")


@pytest.mark.parametrize(
    ("one", "value_c"),
    [
        pytest.param(channel(), 21.5, id="a room"),
        pytest.param(channel(), 300.0, id="wrong in any unit"),
        pytest.param(channel(WALL), 71.6, id="a wall while it burns"),
        pytest.param(channel(transducer=Transducer.PT100), 71.6, id="it comes in ohm"),
    ],
)
def test_what_is_not_suspected(one, value_c):
    assert doubts.odd_unit(one, value_c, FAHRENHEIT) is None


def test_limits_are_in_the_maker_s_units():
    said = doubts.limits_in_force(LIMITS, FAHRENHEIT)
    glass = LIMITS.of(next(iter(LIMITS.wall)))
    assert FAHRENHEIT.temperature(glass.limit_c) in said
    assert FAHRENHEIT.temperature(LIMITS.room_low_c) in said
    assert "°C" not in said


@pytest.mark.parametrize(
    ("more", "used", "rejected", "words"),
    [
        ({"emissivity": 0.3}, 20, 0, "emissivity 0.3 is too low"),
        ({}, 3, 9, "9 of 12 readings are far above the rest"),
        ({}, 1, 0, "only 1 reading so far"),
        ({}, 7, 0, "only 7 readings so far, 8 are needed"),  # as long as no estimate is good
        ({}, 20, 0, "look at the sensor"),
    ],
)
def test_doubtful_has_its_reason(more, used, rejected, words):
    assert words in doubts.why_doubtful(channel(WALL, **more), used, rejected)
