import subprocess
import sys

import pint
import pytest

from logger import units
from logger.errors import DataError
from logger.quantities import Quantity
from logger.units import (
    Dimension,
    parse_difference,
    parse_quantity,
    unit_of,
)

ALL_TABLE_UNITS = [
    pytest.param(kind, name, unit, id=f"{kind.value}-{name}")
    for kind, how in units._KINDS.items()
    for name, unit in how.units.items()
]


@pytest.fixture(scope="module")
def registry():
    return pint.UnitRegistry()


@pytest.mark.parametrize(("kind", "name", "unit"), ALL_TABLE_UNITS)
def test_table_agrees_with_pint(registry, kind, name, unit):
    inside = units._KINDS[kind].inside
    for value in (-3.5, 0.0, 1.0, 250.0):
        expected = registry.Quantity(value, name).m_as(inside)
        assert unit.inside(value) == pytest.approx(expected, rel=1e-12, abs=1e-12)
        assert unit.outside(unit.inside(value)) == pytest.approx(value, abs=1e-9)


@pytest.mark.parametrize(
    ("text", "quantity", "inside"),
    [
        ("135 degF", Quantity.TEMPERATURE, 57.222222222),
        ("140degF", Quantity.TEMPERATURE, 60.0),
        (" 60 °C ", Quantity.TEMPERATURE, 60.0),
        ("-10.5 degC", Quantity.TEMPERATURE, -10.5),
        ("2.5e2 K", Quantity.TEMPERATURE, -23.15),
        ("250 kelvin", Quantity.TEMPERATURE, -23.15),
        ("597.67 degR", Quantity.TEMPERATURE, 58.888888889),  # by pint
        ("220 g", Quantity.MASS, 220.0),
        ("8 oz", Quantity.MASS, 226.796185),
        ("7,8 oz", Quantity.MASS, 221.126280375),
        ("0,220 kg", Quantity.MASS, 220.0),
        ("2 stone", Quantity.MASS, 12700.58636),  # by pint
        ("45 %", Quantity.HUMIDITY, 45.0),
        ("4 h", Dimension.DURATION, 14_400.0),
        ("1 h 20 min", Dimension.DURATION, 4_800.0),
        ("1h 20min 5s", Dimension.DURATION, 4_805.0),
        ("2 hours", Dimension.DURATION, 7_200.0),  # by pint
        ("60 mm", Dimension.LENGTH, 60.0),
        ("2.4 in", Dimension.LENGTH, 60.96),
        ("1/4 in", Dimension.LENGTH, 6.35),
        ("2 3/8 in", Dimension.LENGTH, 60.325),
        ("17 1/2oz", Quantity.MASS, 496.116654688),
        ("1 1/2 h", Dimension.DURATION, 5_400.0),
    ],
)
def test_parse_quantity(text, quantity, inside):
    assert parse_quantity(text, quantity) == inside


@pytest.mark.parametrize(
    ("text", "quantity", "says"),
    [
        ("135", Quantity.TEMPERATURE, 'no unit; write for example "60 degC" or "140 degF"'),
        (
            "135 F",
            Quantity.TEMPERATURE,
            "not a unit of temperature; write one of degC, degF, kelvin",
        ),
        ("60 mm", Quantity.TEMPERATURE, '"mm" is not a unit of temperature; write'),
        ("60 delta_degC", Quantity.TEMPERATURE, '"delta_degC" is not a unit of temperature; write'),
        ("-300 degC", Quantity.TEMPERATURE, "below absolute zero; write"),
        ("1,000 g", Quantity.MASS, "can be read in two ways: write 1000 or 1, as you mean it"),
        ("4,5,6 h", Dimension.DURATION, "is no duration; write"),
        ("4 m", Dimension.DURATION, '"m" is not a unit of duration; write'),
        ("four hours", Dimension.DURATION, '"four hours" is no duration; write'),
        ("nan degC", Quantity.TEMPERATURE, "is no temperature; write"),
        ("inf degC", Quantity.TEMPERATURE, "is no temperature; write"),
        ("1e999 degC", Quantity.TEMPERATURE, "too large; write"),
        ("1_000 g", Quantity.MASS, "is no mass; write"),
        ("١٢ g", Quantity.MASS, "is no mass; write"),
        ("1 h 20 min", Dimension.LENGTH, "is no length; write"),
        ("3 dB", Quantity.HUMIDITY, "not a unit of humidity; write"),  # logarithmic: no linear map
        ("", Quantity.MASS, "is no mass; write"),
        ("5 g*m/m", Quantity.MASS, "is no mass; write"),
    ],
)
def test_what_cannot_be_read_is_refused_with_a_remedy(text, quantity, says):
    with pytest.raises(DataError) as caught:
        parse_quantity(text, quantity)
    assert says in str(caught.value)


def test_differences_have_no_offset():
    assert parse_difference("1.5 delta_degC", Quantity.TEMPERATURE) == 1.5
    assert parse_difference("-9 delta_degF", Quantity.TEMPERATURE) == -5.0
    assert parse_difference("0.3 K", Quantity.TEMPERATURE) == 0.3
    assert parse_difference("0.1 oz", Quantity.MASS) == pytest.approx(2.83495, abs=1e-5)
    for text in ("1.5 degC", "1.5 fahrenheit"):
        with pytest.raises(DataError, match=r"not a unit of temperature difference; .*delta_degC"):
            parse_difference(text, Quantity.TEMPERATURE)


def test_unit_of_an_instrument():
    assert unit_of("degF", Quantity.TEMPERATURE).inside(212.0) == pytest.approx(100.0, abs=1e-12)
    assert unit_of("°F", Quantity.TEMPERATURE).name == "degF"
    assert unit_of("uV", Dimension.VOLTAGE).inside(2436.0) == pytest.approx(2.436)
    assert unit_of("kohm", Dimension.RESISTANCE).inside(10.0) == 10_000.0
    with pytest.raises(DataError, match='"degC" is not a unit of voltage; write one of mV, uV, V'):
        unit_of("degC", Dimension.VOLTAGE)


@pytest.mark.parametrize("name", ["", "2 g", "__import__('os')", "(", "g**1e9", "\0", "'", "1"])
def test_a_unit_is_one_word(name):
    with pytest.raises(DataError, match="is not a unit of mass"):
        unit_of(name, Quantity.MASS)


def test_everyday_units_do_not_wait_for_pint():
    code = (
        "import sys; from logger.units import *; from logger.quantities import Quantity\n"
        "parse_quantity('135 degF', Quantity.TEMPERATURE)\n"
        "parse_quantity('4 h', Dimension.DURATION); unit_of('oz', Quantity.MASS)\n"
        "sys.exit('pint' in sys.modules)"
    )
    assert subprocess.run([sys.executable, "-c", code], check=False).returncode == 0
