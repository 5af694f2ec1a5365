import subprocess
import sys
from pathlib import Path

import pytest

from logger.errors import DataError
from logger.instruments.decoders import values
from logger.instruments.written_units import WrittenUnits
from logger.quantities import Channel, Place, Position, Quantity, Transducer, Unit
from logger.units import Dimension, unit_of
from tests.support.waiting import patient


def written_units(quantity=Quantity.TEMPERATURE, unit=None, transducer=Transducer.NONE):
    return WrittenUnits(
        Channel(
            name="wall",
            instrument="probes",
            quantity=quantity,
            place=Place(position=Position.ROOM),
            unit=unit or Unit(name="degC"),
            transducer=transducer,
        )
    )


def test_without_a_written_unit_the_number_stays_as_it_came():
    assert written_units(unit=unit_of("degF", Quantity.TEMPERATURE)).convert(140.3, None) == 140.3


def test_the_same_unit_written_out_changes_no_digit():
    units = written_units(unit=unit_of("degF", Quantity.TEMPERATURE))
    for value in (97.3, 0.1 + 0.2, 140.00000000123):  # none of which comes back from degC
        assert units.convert(value, "degF") == value


@pytest.mark.parametrize(
    ("value", "written", "inside"), [(140.0, "degF", 60.0), (333.15, "kelvin", 60.0)]
)
def test_another_unit_of_the_same_quantity_is_converted(value, written, inside):
    assert written_units().convert(value, written) == inside


@pytest.mark.parametrize("written", sorted(set(values.UNITS.values())))
def test_every_unit_that_a_line_can_hold_fits_exactly_one_kind_of_channel(written):
    channels = [
        written_units(),
        written_units(Quantity.MASS, unit_of("g", Quantity.MASS)),
        written_units(Quantity.HUMIDITY, unit_of("percent", Quantity.HUMIDITY)),
        written_units(unit=unit_of("mV", Dimension.VOLTAGE), transducer=Transducer.THERMOCOUPLE_T),
        written_units(unit=unit_of("ohm", Dimension.RESISTANCE), transducer=Transducer.NTC),
    ]
    taken = 0
    for units in channels:
        try:
            units.convert(1.0, written)
            taken += 1
        except DataError:
            pass
    assert taken == 1


def test_a_wrong_unit_does_not_load_the_unit_library():
    """Its import would hold up every other instrument for a good tenth of a second."""
    code = (
        f"import sys; sys.path.insert(0, {str(Path(__file__).parent)!r})\n"
        "from test_written_units import written_units, DataError\n"
        "try: written_units().convert(1.0, 'mV')\n"
        "except DataError: sys.exit('pint' in sys.modules)\n"
    )
    subprocess.run([sys.executable, "-c", code], check=True, timeout=patient(30))
