"""One channel from raw readings to its estimate."""

import math
import random

import pytest

from logger.conditioning import infrared
from logger.conditioning.calibration import Calibration, Correction
from logger.conditioning.conditioner import Conditioner
from logger.quantities import (
    Averaging,
    Channel,
    Kind,
    Place,
    Position,
    Quality,
    Quantity,
    Reading,
    Transducer,
    Unit,
)
from logger.words import Words


def channel(**known):
    return Channel(
        name="wall",
        instrument="probes",
        quantity=Quantity.TEMPERATURE,
        place=Place(position=Position.WALL),
        **known,
    )


def record(at_s, offset, **more):
    correction = Correction(offset=offset, **more)
    return Calibration(at_s=at_s, who="Ines", reference="an ice bath", correction=correction)


def fed(made, values, *, reflected_c=None, calibrations=()):
    conditioner = Conditioner(made, calibrations=calibrations)
    for i, value in enumerate(values):
        reading = Reading(channel="wall", value=value, at_s=float(i))
        conditioner.add(reading, reflected_c=reflected_c)
    return conditioner


def test_before_any_reading():
    conditioner = Conditioner(channel())
    now = conditioner.estimate(5.0)
    assert (now.value, now.standard_uncertainty, now.quality) == (None, None, Quality.LOST)
    assert now.upper is None
    assert (conditioner.last_s, conditioner.interval_s) == (None, None)
    assert conditioner.budget(5.0) is None


def test_an_estimate_is_of_the_moment_asked_for():
    conditioner = fed(channel(), [50.0 + 0.02 * i for i in range(600)])
    now, later = conditioner.estimate(599.0), conditioner.estimate(604.0)
    assert (now.channel, now.at_s, later.at_s) == ("wall", 599.0, 604.0)
    assert now.value == pytest.approx(50.0 + 0.02 * 599, abs=0.05)
    assert later.value == pytest.approx(50.0 + 0.02 * 604, abs=0.05)
    assert later.repeatability > now.repeatability
    assert (conditioner.last_s, conditioner.interval_s) == (599.0, 1.0)


def test_units_are_converted_before_averaging():
    fahrenheit = Unit(name="degF", factor=5.0 / 9.0, offset=-160.0 / 9.0)
    conditioner = fed(channel(unit=fahrenheit), [140.0] * 60)
    assert conditioner.estimate(59.0).value == pytest.approx(60.0)


def test_an_offset_is_added_and_a_calibration_takes_its_place():
    offset = channel(calibration_offset=-0.3)
    assert fed(offset, [50.0] * 60).estimate(59.0).value == pytest.approx(49.7)
    line = record(0.0, 0.5, slope=0.01, about=40.0, offset_uncertainty=0.2)
    calibrated = fed(offset, [50.0] * 60, calibrations=[line])
    assert calibrated.estimate(59.0).value == pytest.approx(50.6)
    names = {part.name: part for part in calibrated.budget(59.0).components}
    assert names["calibration"].standard_uncertainty == pytest.approx(0.2)
    assert names["calibration"].basis(Words()) == "against an ice bath, by Ines"


def test_calibrations_count_from_their_dates_on():
    days = [record(20.0, 1.0), record(40.0, -2.0)]
    conditioner = Conditioner(channel(calibration_offset=0.5), calibrations=days)
    seen = []
    for at_s in range(60):
        conditioner.add(Reading(channel="wall", value=50.0, at_s=float(at_s)))
        seen.append(conditioner.estimate(float(at_s)).value)
    assert seen == pytest.approx([50.5] * 20 + [51.0] * 20 + [48.0] * 20)


def test_one_entered_while_it_reads_counts_at_once_and_is_no_jump_of_the_place():
    rng = random.Random(4)
    conditioner = fed(channel(calibration_offset=1.0), [rng.gauss(50.0, 0.5) for _ in range(120)])
    before = conditioner.estimate(119.0)
    conditioner.calibrate(record(100.0, -3.0, slope=0.01, about=50.0), 119.0)
    after = conditioner.estimate(119.0)
    assert after.value - before.value == pytest.approx(-4.0, abs=0.01)
    assert after.repeatability == before.repeatability
    for at_s in range(120, 180):
        conditioner.add(Reading(channel="wall", value=rng.gauss(50.0, 0.5), at_s=float(at_s)))
        assert conditioner.estimate(float(at_s)).quality is Quality.GOOD
    assert conditioner.estimate(179.0).value == pytest.approx(47.0, abs=0.4)
    assert conditioner.jumped_s is None
    assert conditioner.noise == pytest.approx(0.5, rel=0.3)


def test_infrared_is_corrected_for_what_it_mirrors():
    shown_c = infrared.apparent_c(60.0, emissivity=0.92, reflected_c=25.0)
    assert shown_c < 58.0
    conditioner = fed(channel(emissivity=0.92), [shown_c] * 60, reflected_c=25.0)
    now = conditioner.estimate(59.0)
    assert now.value == pytest.approx(60.0, abs=0.01)
    assert now.standard_uncertainty > now.repeatability
    assert now.quality is Quality.GOOD


def test_without_a_believable_reflection_the_assumed_one_counts_and_the_answer_is_wider():
    shown_c = infrared.apparent_c(60.0, emissivity=0.92, reflected_c=30.0)
    conditioner = fed(channel(emissivity=0.92), [shown_c] * 60, reflected_c=30.0)
    known = conditioner.estimate(59.0)
    for i in range(60, 120):
        conditioner.add(Reading(channel="wall", value=shown_c, at_s=float(i)), reflected_c=None)
    assumed = conditioner.estimate(119.0)
    # 8 K of reflection count as (1 - e) / e of them at most, less where the surface is hotter
    assert 60.0 < assumed.value < 60.0 + 8.0 * 0.08 / 0.92
    assert assumed.standard_uncertainty > known.standard_uncertainty


def test_a_surface_of_low_emissivity_is_never_good_without_a_measured_patch():
    assert channel(emissivity=0.79).reflects
    assert not channel(emissivity=0.8).reflects
    assert not channel().reflects
    assert fed(channel(emissivity=0.5), [40.0] * 60).estimate(59.0).quality is Quality.DOUBTFUL
    measured = channel(emissivity=0.5, emissivity_measured=True)
    assert fed(measured, [40.0] * 60).estimate(59.0).quality is Quality.GOOD
    assert fed(channel(emissivity=0.5), [40.0] * 60).estimate(200.0).quality is Quality.LOST


@pytest.mark.parametrize(
    ("known", "signal"),
    [
        pytest.param(
            {"transducer": Transducer.THERMOCOUPLE_K, "cold_junction_c": 24.0},
            2.436 - 0.960,  # mV at 60 and at 24 degC (IEC 60584-1 table)
            id="thermocouple",
        ),
        pytest.param({"transducer": Transducer.PT100}, 123.24, id="pt100"),
        pytest.param({"transducer": Transducer.NTC}, 2486.2, id="ntc, 10 k, 3950 K"),
    ],
)
def test_transducers_give_degrees(known, signal):
    now = fed(channel(**known), [signal] * 60).estimate(59.0)
    assert now.value == pytest.approx(60.0, abs=0.02)


def test_a_signal_that_no_sensor_sends_is_counted_and_moves_nothing():
    conditioner = fed(channel(transducer=Transducer.PT100), [123.24] * 60)
    conditioner.add(Reading(channel="wall", value=9.9e37, at_s=60.0))
    now = conditioner.estimate(60.0)
    assert (now.used, now.rejected) == (29, 1)
    assert now.value == pytest.approx(60.0, abs=0.02)
    assert conditioner.last_s == 60.0


def test_the_total_holds_every_component_and_the_budget_names_them():
    rng = random.Random(1)
    made = channel(accuracy=1.5, resolution=0.1, kind=Kind.CONTACT, lag_s=5.0)
    conditioner = fed(made, [rng.gauss(55.0, 1.0) for _ in range(300)])
    now, budget = conditioner.estimate(299.0), conditioner.budget(299.0)
    names = [part.name for part in budget.components]
    assert names == ["repeatability", "resolution", "accuracy", "coupling", "lag"]
    assert budget.random == pytest.approx(now.repeatability)
    assert budget.combined == pytest.approx(now.standard_uncertainty)
    assert now.standard_uncertainty == pytest.approx(math.hypot(now.repeatability, 1.225), rel=0.01)
    assert now.upper == pytest.approx(now.value + budget.expanded)


def test_the_window_is_the_channels_own():
    made = channel(averaging=Averaging(window_s=10.0, every_s=5.0))
    conditioner = fed(made, [50.0] * 60)
    assert conditioner.estimate(59.0).used == 10
    assert conditioner.estimate(70.0).quality is Quality.LOST


def test_a_jump_is_remembered():
    conditioner = fed(channel(), [55.0] * 100 + [30.0] * 20)
    assert 110.0 < conditioner.jumped_s < 120.0  # half of the last 30 s are at the new place
    assert fed(channel(), [55.0] * 100).jumped_s is None


def test_the_same_readings_give_the_same_bytes():
    rng = random.Random(2)
    values = [rng.gauss(55.0, 1.0) + (30.0 if rng.random() < 0.2 else 0.0) for _ in range(500)]
    one, two = fed(channel(accuracy=1.0), values), fed(channel(accuracy=1.0), values)
    assert repr(one.estimate(499.0)) == repr(two.estimate(499.0))


def test_a_stated_resolution_reaches_the_estimate():
    coarse = fed(channel(resolution=1.0), [50.0] * 300).estimate(299.0)
    fine = fed(channel(resolution=0.01), [50.0] * 300).estimate(299.0)
    assert coarse.repeatability > 3.0 * fine.repeatability


def test_a_display_that_repeats_is_known_by_what_it_showed():
    # The reflected temperature drifts, and the corrected value with it; the display stands still,
    # so its step is unknown and a reading may be half a kelvin off.
    conditioner = Conditioner(channel(emissivity=0.92))
    for i in range(600):
        reading = Reading(channel="wall", value=50.0, at_s=float(i))
        conditioner.add(reading, reflected_c=22.0 + 0.002 * i)
    still = fed(channel(), [50.0] * 600)
    assert conditioner.estimate(599.0).repeatability == pytest.approx(
        still.estimate(599.0).repeatability, rel=0.05
    )


@pytest.mark.parametrize(("value_c", "room_c", "counts"), [(0.0, 22.0, False), (0.0, None, True)])
def test_what_is_far_below_the_room_is_never_of_a_candle(value_c, room_c, counts):
    conditioner = Conditioner(channel())
    for i in range(60):
        conditioner.add(
            Reading(channel="wall", value=value_c, at_s=float(i)), room_c=lambda: room_c
        )
    now = conditioner.estimate(59.0)
    assert (now.value is not None) is counts
    assert (now.used, now.rejected) == ((30, 0) if counts else (0, 30))


def test_a_room_probe_that_lies_on_a_vessel_blinds_no_other():
    conditioner = Conditioner(channel())
    for i in range(60):
        conditioner.add(Reading(channel="wall", value=30.0, at_s=float(i)), room_c=lambda: 70.0)
    assert conditioner.estimate(59.0).quality is Quality.GOOD
