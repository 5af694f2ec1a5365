"""What a person enters is held against what the bench knows, and asked about where it is odd."""

from dataclasses import replace

import pytest

from logger.burn.entries import Lit, ManualReading, WeighIn
from logger.burn.limits import Material, Station
from logger.pipeline import Bench, Pipeline
from logger.quantities import DEGC, DEGF, Channel, Kind, Place, Position, Quantity, Reading, Tick
from logger.units import Dimension, unit_of
from logger.words import Words
from tests.support.pipeline_bench import LIMITS

AT_S = 1_940_000_000.0
WALL = Place(position=Position.WALL, height_mm=40.0, clock=9)


def channel(name, position, height_mm=None, clock=None, station="jar-a"):
    return Channel(
        name=name,
        instrument="probes",
        quantity=Quantity.TEMPERATURE,
        place=Place(position=position, height_mm=height_mm, clock=clock),
        station=station,
        kind=Kind.CONTACT,
        accuracy=1.0,
    )


PROBE = channel("jar-a-wall-9", Position.WALL, 42.0, 9)
RIM = channel("jar-a-rim", Position.RIM, 90.0)
ROOM = channel("bench-room", Position.ROOM, station=None)


def bench(*channels, **shown):
    words = Words(**shown)
    stations = (Station(name="jar-a", material=Material.GLASS),)
    return Bench(channels=channels, stations=stations, limits=LIMITS, words=words)


def burning(*known, **shown):
    """A candle lit at AT_S, and 20 s of readings of `known`, channels with their temperatures."""
    pipeline = Pipeline(bench(*(channel for channel, _ in known), **shown), AT_S - 1)
    pipeline.step(Lit(at_s=AT_S, entered_s=AT_S, id="lit", station="jar-a", trial="marigold"))
    for second in range(1, 21):
        pipeline.step(Tick(at_s=AT_S + second))
        for channel, celsius in known:
            pipeline.step(Reading(channel=channel.name, value=celsius, at_s=AT_S + second))
    return pipeline


def read(*values, unit=DEGC, place=WALL, at_s=AT_S + 30, id="reading-1"):
    inside = tuple(map(unit.inside, values))
    return ManualReading(
        at_s=at_s, entered_s=at_s, id=id, station="jar-a", place=place, values=inside, typed_in=unit
    )


def test_what_agrees_with_all_that_is_known_is_taken_unasked():
    pipeline = burning((PROBE, 44.0), (RIM, 40.0), (ROOM, 22.0))
    assert pipeline.doubt(read(44.0, 45.1, 44.6)) is None
    assert pipeline.doubt(read(112.0, 111.5, unit=DEGF)) is None
    rim = Place(position=Position.RIM, height_mm=90.0)
    assert pipeline.doubt(read(41.0, place=rim)) is None


def test_fahrenheit_typed_as_celsius_is_asked_about():
    pipeline = burning((PROBE, 36.5), (ROOM, 22.0))
    question = pipeline.doubt(read(98.7))
    assert question == ("98.7 °C, but jar-a-wall-9 reads 36.5 °C there; did you mean 98.7 °F?")


def test_celsius_typed_as_fahrenheit_is_asked_about():
    question = burning((ROOM, 22.0)).doubt(read(41.0, unit=DEGF))
    assert question.startswith("41.0 °F, but the room is at ")
    assert question.endswith("; did you mean 41.0 °C?")


def test_without_a_room_sensor_the_maker_s_room_is_what_no_vessel_is_colder_than():
    pipeline = burning()
    assert "your room is 68.0 °F or warmer" in pipeline.doubt(read(41.0, unit=DEGF))
    room = Place(position=Position.ROOM)
    assert pipeline.doubt(read(12.0, place=room)) is None  # a cold room is for its own alarm


def test_a_first_reading_that_no_wall_has_is_asked_about():
    question = burning().doubt(read(134.0))
    assert "this is seldom over 90.0 °C; did you mean 134.0 °F?" in question
    assert burning().doubt(read(400.0)).endswith("is it right?")  # as °F it is 204 °C


def test_it_is_held_against_the_last_reading_of_the_place_and_how_long_ago_that_was():
    pipeline = burning()
    pipeline.step(read(40.0, 40.2, 39.9))
    soon = read(60.0, at_s=AT_S + 150, id="reading-2")
    assert "this place read 40.0 °C 2 min before" in pipeline.doubt(soon)
    assert pipeline.doubt(replace(soon, at_s=AT_S + 1200)) is None  # it had the time to warm up


def test_the_other_side_of_the_vessel_may_differ_more():
    pipeline = burning((PROBE, 44.0), (ROOM, 22.0))
    opposite = replace(WALL, clock=3)
    assert pipeline.doubt(read(58.0)) is not None
    assert pipeline.doubt(read(58.0, place=opposite)) is None
    assert pipeline.doubt(read(75.0, place=opposite)) is not None
    elsewhere = replace(WALL, height_mm=80.0)
    assert pipeline.doubt(read(75.0, place=elsewhere)) is None


def test_above_the_rim_there_is_no_vessel():
    inches = unit_of("in", Dimension.LENGTH)
    pipeline = burning((RIM, 40.0), length_in=inches)
    question = pipeline.doubt(read(40.0, place=replace(WALL, height_mm=101.6)))
    assert question == "4.0 in is above the rim, which is at 3.5 in; is the height right?"
    assert burning().doubt(read(40.0, place=replace(WALL, height_mm=101.6))) is None  # not known


def test_a_reading_of_before_the_lighting_is_asked_about():
    question = burning().doubt(read(24.0, at_s=AT_S - 1200))
    assert question == "that is 20 min before jar-a was lit; is the time right?"


def test_all_that_is_odd_is_asked_in_one_go():
    pipeline = burning((RIM, 40.0), (ROOM, 22.0))
    question = pipeline.doubt(read(4.0, at_s=AT_S - 600, place=replace(WALL, height_mm=600.0)))
    for words in ("10 min before", "above the rim", "the room is at"):
        assert words in question


@pytest.mark.parametrize("candle_g", [220.0, 18.8])
def test_wax_as_heavy_as_the_whole_candle_is_asked_about(candle_g):
    stamps = {"at_s": AT_S - 60, "entered_s": AT_S, "station": "jar-a"}
    lit = Lit(**stamps, id="lit-2", trial="marigold", mass_g=candle_g, wax_g=220.0)
    question = Pipeline(bench(), AT_S - 1).doubt(lit)
    assert question.startswith("the wax alone (220.0 g) would be as heavy as the whole candle")
    weighed = WeighIn(**stamps, id="weighed", mass_g=candle_g, wax_g=220.0)
    assert question.startswith(burning().doubt(weighed))


def test_a_nearly_empty_candle_may_be_lighter_than_the_wax_it_was_poured_with():
    stamps = {"at_s": AT_S - 60, "entered_s": AT_S, "station": "jar-a"}
    pipeline = Pipeline(bench(), AT_S - 100)
    pipeline.step(Lit(**stamps, id="lit-2", trial="marigold", mass_g=300.0))
    after = WeighIn(**stamps | {"at_s": AT_S}, id="weighed", mass_g=180.0, wax_g=220.0)
    assert pipeline.doubt(after) is None


def test_what_the_pipeline_refuses_is_not_asked_about_first():
    elsewhere = replace(read(300.0), station="jar-z")
    assert burning().doubt(elsewhere) is None
    assert burning().doubt(replace(read(20.0), emissivity=0.2, reflected_c=900.0)) is None
