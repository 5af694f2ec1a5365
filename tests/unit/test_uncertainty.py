"""The budget of an estimate: what is in it, what is not, and how it is combined."""

import math

import pytest

from logger.conditioning import infrared
from logger.conditioning.calibration import Calibration, Correction
from logger.conditioning.student import student_t
from logger.conditioning.uncertainty import (
    Budget,
    Component,
    rectangular,
    systematic_components,
    uniform_step,
)
from logger.quantities import Channel, Kind, Place, Position, Quantity, Transducer
from logger.words import Words


def channel(**known):
    return Channel(
        name="wall",
        instrument="probes",
        quantity=Quantity.TEMPERATURE,
        place=Place(position=Position.WALL),
        **known,
    )


def parts(made, **moment):
    moment = {"value": 60.0, **moment}
    return {part.name: part for part in systematic_components(made, **moment)}


def test_what_was_not_stated_is_not_made_up():
    assert parts(channel()) == {}


def test_each_statement_is_one_component():
    made = parts(channel(accuracy=1.5, resolution=0.1, lag_s=8.0), slope=-0.05)
    assert set(made) == {"accuracy", "resolution", "lag"}
    assert made["accuracy"].standard_uncertainty == pytest.approx(1.5 / math.sqrt(3.0))
    assert made["resolution"].standard_uncertainty == pytest.approx(0.1 / math.sqrt(12.0))
    assert made["lag"].standard_uncertainty == pytest.approx(0.4 / math.sqrt(3.0))
    assert all(part.systematic and part.basis(Words()) for part in made.values())


def compared(**correction):
    correction = Correction(offset=-0.3, **correction)
    return Calibration(at_s=0.0, who="Ines", reference="ice", correction=correction)


def test_a_calibration_takes_the_place_of_the_makers_accuracy():
    made = parts(channel(accuracy=1.5), calibration=compared(offset_uncertainty=0.2))
    assert set(made) == {"calibration"}
    assert made["calibration"].standard_uncertainty == 0.2
    assert made["calibration"].basis(Words()) == "against ice, by Ines"


def test_a_calibration_without_any_uncertainty_leaves_the_accuracy():
    assert set(parts(channel(accuracy=1.5), calibration=compared())) == {"accuracy"}


def test_an_offset_in_the_configuration_is_as_good_as_a_usual_reference():
    made = parts(channel(accuracy=1.5, calibration_offset=-0.4))
    assert set(made) == {"calibration"}
    assert made["calibration"].standard_uncertainty == pytest.approx(math.hypot(0.577, 0.2), 1e-3)


def test_coupling_of_a_contact_probe_is_counted_once_contact_is_stated():
    assert "coupling" not in parts(channel())
    assert "coupling" not in parts(channel(kind=Kind.INFRARED))
    assumed = parts(channel(kind=Kind.CONTACT))["coupling"].standard_uncertainty
    assert assumed == pytest.approx(1.5 / math.sqrt(3.0))
    compared = parts(channel(kind=Kind.CONTACT, coupling=0.3))["coupling"].standard_uncertainty
    assert compared == pytest.approx(0.3 / math.sqrt(3.0))


@pytest.mark.parametrize("emissivity_set", [1.0, 0.95])
def test_emissivity_and_reflection_are_the_slopes_of_the_correction(emissivity_set):
    made = parts(channel(emissivity=0.92, emissivity_set=emissivity_set), reflected_c=24.0)

    def surface_c(emissivity=0.92, reflected_c=24.0):
        shown_c = infrared.apparent_c(
            60.0, emissivity=0.92, reflected_c=24.0, emissivity_set=emissivity_set
        )
        return infrared.surface(
            shown_c,
            emissivity=emissivity,
            reflected_c=reflected_c,
            emissivity_set=emissivity_set,
        ).celsius

    by_emissivity = abs(surface_c(emissivity=0.93) - surface_c(emissivity=0.91)) / 0.02
    assert made["emissivity"].standard_uncertainty == pytest.approx(
        by_emissivity * 0.03 / math.sqrt(3.0), rel=0.01
    )
    by_reflected = abs(surface_c(reflected_c=25.0) - surface_c(reflected_c=23.0)) / 2.0
    assert made["reflected"].standard_uncertainty == pytest.approx(
        by_reflected * 2.0 / math.sqrt(3.0), rel=0.02
    )


@pytest.mark.parametrize(
    ("emissivity", "emissivity_set", "about"), [(0.92, 0.95, 1.0), (0.6, 1.0, 1.5), (0.3, 1.0, 2.7)]
)
def test_what_the_display_is_off_by_grows_with_the_correction(emissivity, emissivity_set, about):
    """Sensitivity coefficients: GUM (JCGM 100:2008) 5.1.3 and its note, by finite differences."""
    seen = {"emissivity": emissivity, "emissivity_set": emissivity_set, "reflected_c": 22.0}
    shown_c = infrared.apparent_c(60.0, **seen)
    high_c, low_c = (infrared.surface(shown_c + d, **seen).celsius for d in (0.5, -0.5))
    assert high_c - low_c == pytest.approx(about, abs=0.1)
    one = {name: what for name, what in seen.items() if name != "reflected_c"}
    made = parts(channel(accuracy=2.0, resolution=0.5, **one), reflected_c=22.0)
    u = {name: part.standard_uncertainty for name, part in made.items()}
    assert u["accuracy"] == pytest.approx((high_c - low_c) * 2.0 / math.sqrt(3.0), rel=0.005)
    assert u["resolution"] == pytest.approx((high_c - low_c) * 0.5 / math.sqrt(12.0), rel=0.005)
    assumed = parts(channel(kind=Kind.INFRARED, **one), reflected_c=22.0)["accuracy"]
    assert assumed.standard_uncertainty == pytest.approx(u["accuracy"])
    told = assumed.basis(Words())
    assert told.endswith(", rectangular" if about == 1.0 else f", times {about} for its emissivity")


@pytest.mark.parametrize("emissivity", [None, 0.6])
@pytest.mark.parametrize("kind", [Kind.CONTACT, Kind.INFRARED])
def test_an_offset_that_is_known_takes_the_place_of_what_is_usual(kind, emissivity):
    made = parts(channel(kind=kind, emissivity=emissivity, calibration_offset=0.4))
    assert "calibration" in made
    assert "accuracy" not in made


def test_a_reflection_nobody_measured_is_less_sure():
    made = channel(emissivity=0.92)
    known = parts(made, reflected_c=22.0)["reflected"].standard_uncertainty
    assert parts(made)["reflected"].standard_uncertainty == pytest.approx(2.5 * known, rel=0.01)


@pytest.mark.parametrize("value", [-250.0, 5000.0])
def test_values_off_an_infrared_scale_still_have_a_budget(value):
    assert parts(channel(emissivity=0.92), value=value)["emissivity"].standard_uncertainty > 0.0


def test_a_cold_junction_nobody_stated_is_a_doubt_of_its_own():
    bare = channel(transducer=Transducer.THERMOCOUPLE_K)
    stated = channel(transducer=Transducer.THERMOCOUPLE_K, cold_junction_c=23.0)
    assert parts(bare)["cold junction"].standard_uncertainty == pytest.approx(5 / math.sqrt(3))
    assert parts(stated)["cold junction"].standard_uncertainty == pytest.approx(1 / math.sqrt(3))


def budget(**figures):
    return Budget(
        components=tuple(
            Component(
                name=name,
                standard_uncertainty=u,
                systematic=name != "noise",
                basis=lambda _: "test",
            )
            for name, u in figures.items()
        )
    )


def test_random_and_systematic_parts_stay_apart_and_combine_by_squares():
    made = budget(noise=0.3, accuracy=0.4, coupling=1.2)
    assert made.random == pytest.approx(0.3)
    assert made.systematic == pytest.approx(math.sqrt(0.4**2 + 1.2**2))
    assert made.combined == pytest.approx(1.3)
    assert made.expanded == pytest.approx(2.6)


def test_combination_agrees_with_an_independent_package():
    from uncertainties import ufloat

    figures = {"noise": 0.21, "accuracy": 0.87, "coupling": 0.87, "emissivity": 0.55}
    total = sum(ufloat(0.0, u) for u in figures.values())
    assert budget(**figures).combined == pytest.approx(total.std_dev, rel=1e-12)


def test_an_empty_budget_is_nothing():
    assert budget().combined == 0.0


def test_distributions_and_factors():
    assert rectangular(3.0) == pytest.approx(math.sqrt(3.0))
    assert uniform_step(math.sqrt(12.0)) == pytest.approx(1.0)
    factors = [student_t(0.975, freedom) for freedom in range(1, 60)]
    assert factors == sorted(factors, reverse=True)
    assert student_t(0.5, 4) == pytest.approx(0.0, abs=1e-9)


@pytest.mark.parametrize(("probability", "freedom"), [(0.4, 3), (1.0, 3), (0.9, 0)])
def test_student_t_says_where_it_ends(probability, freedom):
    with pytest.raises(ValueError, match="student_t"):
        student_t(probability, freedom)


@pytest.mark.parametrize(
    ("stated", "at_c", "limit_k"),
    [
        pytest.param({"kind": Kind.CONTACT}, 60.0, 2.5, id="contact"),
        pytest.param({"kind": Kind.INFRARED}, 60.0, 2.0, id="infrared"),
        pytest.param({"kind": Kind.INFRARED}, 150.0, 3.0, id="infrared, 2 % of the reading"),
        pytest.param({"kind": Kind.CONTACT, "accuracy": 0.4}, 60.0, 0.4, id="stated"),
    ],
)
def test_an_accuracy_nobody_stated_is_the_usual_one_of_its_kind(stated, at_c, limit_k):
    part = parts(channel(**stated), value=at_c)["accuracy"]
    assert part.standard_uncertainty == pytest.approx(limit_k / math.sqrt(3.0))
    assert ("assumed" in part.basis(Words())) is ("accuracy" not in stated)


def test_a_comparison_takes_the_place_of_what_is_assumed():
    def made(u):
        line = Correction(offset=0.1, offset_uncertainty=u)
        return Calibration(at_s=0.0, who="Ines", reference="ice", correction=line)

    probe = channel(kind=Kind.CONTACT)
    assert "accuracy" not in parts(probe, calibration=made(0.1))
    assert "accuracy" in parts(probe, calibration=made(0.0))  # it says nothing of how sure it is


def test_a_lag_hides_draughts_too():
    # The error of a first-order lag behind a random walk: integral of walk * exp(-2t/tau) over t.
    made = parts(channel(lag_s=8.0), slope=0.0, walk=0.0033)
    steps = sum(0.0033 * math.exp(-2.0 * (0.001 * n) / 8.0) * 0.001 for n in range(60_000))
    assert made["lag"].standard_uncertainty == pytest.approx(math.sqrt(steps), rel=1e-3)
