"""Quantities as people write them, and back: "135 degF" -> 57.2222 degC.

Units of every day are in the tables below, so that an ordinary configuration is read without
waiting for pint (about 0.15 s to import); any other unit is looked up in pint. A test holds the
tables against pint.
"""

import math
import re
from collections.abc import Mapping
from contextlib import suppress
from dataclasses import dataclass
from enum import StrEnum
from functools import cache
from typing import TYPE_CHECKING

from logger.errors import DataError
from logger.quantities import DEGC, DEGF, GRAM, MILLIMETRE, PERCENT, ZERO_CELSIUS_K, Quantity, Unit

if TYPE_CHECKING:
    from pint import UnitRegistry


class Dimension(StrEnum):
    """What is written down or shown beside what channels measure."""

    DIFFERENCE = "temperature difference"
    DURATION = "duration"
    LENGTH = "length"
    PRESSURE = "pressure"  # of the air, where a calibration has water boil
    VOLTAGE = "voltage"  # what a thermocouple gives
    RESISTANCE = "resistance"  # what a Pt100 or thermistor gives


@dataclass(frozen=True, slots=True, kw_only=True)
class _Kind:
    """How one quantity is written: its units, the one used inside first."""

    units: Mapping[str, Unit]
    example: str

    @property
    def inside(self) -> str:
        return next(iter(self.units))


def _table(*units: Unit, **also: str) -> dict[str, Unit]:
    """Units by name, and by the other names that `also` gives for them."""
    by_name = {unit.name: unit for unit in units}
    return by_name | {other: by_name[name] for other, name in also.items()}


# Factors are exact by definition: 1 in = 25.4 mm, 1 lb = 453.59237 g, 1 oz = lb/16
# (international yard and pound, 1959); degF and K by the definition of the Celsius scale.
_OUNCE_G = 453.59237 / 16
_MMHG_HPA = 13.5951 * 9.80665 / 100  # conventional density of mercury, standard gravity
_KINDS: Mapping[Quantity | Dimension, _Kind] = {
    Quantity.TEMPERATURE: _Kind(
        units=_table(
            DEGC,
            DEGF,
            Unit(name="kelvin", offset=-ZERO_CELSIUS_K),
            **{"°C": "degC", "°F": "degF", "K": "kelvin"},
        ),
        example='"60 degC" or "140 degF"',
    ),
    Quantity.MASS: _Kind(
        units=_table(
            GRAM,
            Unit(name="kg", factor=1000.0),
            Unit(name="mg", factor=0.001),
            Unit(name="oz", factor=_OUNCE_G),
            Unit(name="lb", factor=453.59237),
        ),
        example='"220 g" or "7.8 oz"',
    ),
    Quantity.HUMIDITY: _Kind(units=_table(PERCENT, **{"%": "percent"}), example='"45 percent"'),
    Dimension.DIFFERENCE: _Kind(
        units=_table(
            Unit(name="delta_degC"),
            Unit(name="delta_degF", factor=5 / 9),
            Unit(name="kelvin"),
            K="kelvin",
        ),
        example='"1.5 delta_degC" or "2.7 delta_degF"',
    ),
    Dimension.DURATION: _Kind(
        units=_table(
            Unit(name="s"),
            Unit(name="min", factor=60.0),
            Unit(name="h", factor=3600.0),
            Unit(name="d", factor=86400.0),
            Unit(name="ms", factor=0.001),
        ),
        example='"30 s", "15 min" or "4 h"',
    ),
    Dimension.LENGTH: _Kind(
        units=_table(
            MILLIMETRE,
            Unit(name="cm", factor=10.0),
            Unit(name="m", factor=1000.0),
            Unit(name="in", factor=25.4),
        ),
        example='"60 mm" or "2.4 in"',
    ),
    Dimension.PRESSURE: _Kind(
        units=_table(
            Unit(name="hPa"),
            Unit(name="mbar"),
            Unit(name="kPa", factor=10.0),
            Unit(name="mmHg", factor=_MMHG_HPA),
            Unit(name="inHg", factor=25.4 * _MMHG_HPA),
        ),
        example='"1002 hPa"',
    ),
    Dimension.VOLTAGE: _Kind(
        units=_table(
            Unit(name="mV"),
            Unit(name="uV", factor=0.001),
            Unit(name="V", factor=1000.0),
        ),
        example='"mV"',
    ),
    Dimension.RESISTANCE: _Kind(
        units=_table(
            Unit(name="ohm"), Unit(name="kohm", factor=1000.0), **{"Ω": "ohm", "kΩ": "kohm"}
        ),
        example='"ohm"',
    ),
}

LONGEST = 100  # characters of a quantity, a time or a number; people write far fewer (our choice)

# Strict on purpose: float() would also take nan, 1_000 and digits of other scripts. Possessive, so
# that no text is gone through more than once from any place in it.
_DIGITS = r"[+-]?(?:\d++(?:[.,]\d*+)?|[.,]\d++)(?:[eE][+-]?\d++)?+"
_FRACTION = r"(?:\d{1,3}\s++)?+\d{1,2}/\d{1,2}"  # of an inch mostly: "1/4", "2 3/8"
_PART = rf"({_FRACTION}|{_DIGITS})\s*+([^\W\d]\w*+|°\w++|k?Ω|%)"
_ONE = re.compile(rf"\s*+{_PART}\s*+", re.ASCII)
_SOME = re.compile(rf"(?:\s*+{_PART})++\s*+", re.ASCII)  # "1 h 20 min"
_NUMBER_ONLY = re.compile(rf"\s*+{_DIGITS}\s*+", re.ASCII)
_NUMBER = re.compile(_DIGITS, re.ASCII)
_THOUSANDS = re.compile(r"[+-]?[1-9]\d{0,2},\d{3}", re.ASCII)  # "1,000": one, or a thousand?


def short(text: str) -> str:
    """`text` itself, if it is no longer than people write a quantity, a time or a number.

    Asked before any pattern sees it. Raises DataError, which repeats only its beginning.
    """
    if len(text) > LONGEST:
        raise DataError(f'"{text[:20]}…" is too long; write at most {LONGEST} characters')
    return text


def unit_of(name: str, quantity: Quantity | Dimension) -> Unit:
    """The unit called `name`, as a linear map onto the unit used inside for `quantity`.

    Inside: degC, g, percent, delta_degC, s, mm, hPa, mV, ohm. Raises DataError, which says what to
    write instead, when there is no such unit or it measures something else.
    """
    kind = _KINDS[quantity]
    unit = kind.units.get(short(name))
    return unit if unit is not None else _looked_up(name, quantity)


def quantity_of(unit_name: str) -> Quantity:
    """What a channel measures whose values come in `unit_name`.

    Raises DataError, which names the units there are, where none of the quantities has it.
    """
    for quantity in Quantity:
        if unit_name in _KINDS[quantity].units:
            return quantity
    for quantity in Quantity:
        with suppress(DataError):
            unit_of(unit_name, quantity)
            return quantity
    words = ", ".join(dict.fromkeys(one.name for q in Quantity for one in _KINDS[q].units.values()))
    raise DataError(f'"{unit_name}" is not a unit that a channel can have; write one of {words}')


def parse_quantity(text: str, quantity: Quantity | Dimension) -> float:
    """`text`, a number and a unit, in the unit used inside (see `unit_of`).

    A duration may have several parts ("1 h 20 min"). The result is rounded to 1e-9, so that
    140 degF is 60 degC and not 60.00000000000001. Raises DataError with a remedy.
    """
    kind = _KINDS[quantity]
    pattern = _SOME if quantity is Dimension.DURATION else _ONE
    if pattern.fullmatch(short(text)) is None:
        raise DataError(f"{_what_is_wrong(text, quantity)}; write for example {kind.example}")
    parts = re.findall(_PART, text, re.ASCII)
    value = math.fsum(unit_of(name, quantity).inside(_float(number)) for number, name in parts)
    if not math.isfinite(value):
        raise DataError(f'"{text}" is too large; write for example {kind.example}')
    if quantity is Quantity.TEMPERATURE and value < -ZERO_CELSIUS_K:
        raise DataError(f'"{text}" is below absolute zero; write for example {kind.example}')
    return round(value, 9)


def written_in(text: str) -> Unit:
    """The unit of a length that `parse_quantity` can read."""
    parts = _ONE.fullmatch(short(text))
    assert parts is not None
    return unit_of(parts[2], Dimension.LENGTH)


def parse_number(text: str) -> float:
    """`text` as a finite decimal number, with a point or a comma. Raises DataError."""
    value = _float(text) if _NUMBER.fullmatch(short(text)) else math.nan
    if not math.isfinite(value):
        raise DataError(f'"{text}" is not a number; write digits with a decimal point, as 41.25')
    return value


def _float(digits: str) -> float:
    """Raises DataError for a comma that may stand between thousands as well, and for x/0."""
    if "/" in digits:
        *whole, part = digits.split()
        above, below = map(int, part.split("/"))
        if not below:
            raise DataError(f'"{digits}" is no number: nothing can be divided by 0')
        return sum(map(int, whole)) + above / below
    if _THOUSANDS.fullmatch(digits):
        raise DataError(
            f'"{digits}" can be read in two ways: write {digits.replace(",", "")} or '
            f"{float(digits.replace(',', '.')):g}, as you mean it"
        )
    return float(digits.replace(",", "."))


def parse_difference(text: str, quantity: Quantity) -> float:
    """A difference of `quantity`: an accuracy, an offset, a step; in delta_degC, g or percent."""
    return parse_quantity(text, _difference_of(quantity))


def _difference_of(quantity: Quantity) -> Quantity | Dimension:
    return Dimension.DIFFERENCE if quantity is Quantity.TEMPERATURE else quantity


def _what_is_wrong(text: str, quantity: Quantity | Dimension) -> str:
    if _NUMBER_ONLY.fullmatch(text):
        return f'"{text}" has no unit'
    return f'"{text}" is no {quantity.value}'


@cache
def _registry() -> "UnitRegistry[float]":
    import pint

    return pint.UnitRegistry()


def _looked_up(name: str, quantity: Quantity | Dimension) -> Unit:
    """The unit by pint, for those the tables lack."""
    kind = _KINDS[quantity]
    instead = ", ".join(dict.fromkeys(unit.name for unit in kind.units.values()))
    wrong = DataError(f'"{name}" is not a unit of {quantity.value}; write one of {instead}')
    if re.fullmatch(r"[^\W\d]\w*", name) is None:  # pint would take whole expressions
        raise wrong
    registry = _registry()
    try:
        offset, at_1, at_2 = (
            float(registry.Quantity(x, name).m_as(kind.inside)) for x in (0.0, 1.0, 2.0)
        )
    except (AttributeError, TypeError, ValueError):  # pint's, for no unit or the wrong one
        raise wrong from None
    factor = at_1 - offset
    if not math.isclose(at_2, offset + 2.0 * factor, rel_tol=1e-9, abs_tol=1e-9):
        raise wrong  # a logarithmic unit is no linear map
    return Unit(name=name, factor=factor, offset=offset)
