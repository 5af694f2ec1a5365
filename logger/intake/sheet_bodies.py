"""The fields of a sheet as JSON has them, and what is written into one in the core's terms."""

import re
from collections.abc import Callable, Mapping
from typing import Annotated, Any, Literal

from pydantic import AfterValidator, BeforeValidator, Field

from logger.errors import DataError
from logger.intake.fields import Line, Whole
from logger.intake.named_places import named_places
from logger.quantities import Quantity
from logger.sheet_fields import FieldForm, SheetField
from logger.timestamps import parse_day_or_at
from logger.units import Dimension, parse_quantity

Written = str | int | float

_MEASURES: Mapping[FieldForm, tuple[Quantity | Dimension, float, float]] = {
    # the most of it, in mm, g, degC, percent and s, that candles have (our choice)
    FieldForm.LENGTH: (Dimension.LENGTH, 0.0, 1000.0),
    FieldForm.MASS: (Quantity.MASS, 0.0, 20_000.0),
    FieldForm.TEMPERATURE: (Quantity.TEMPERATURE, -50.0, 300.0),
    FieldForm.SHARE: (Quantity.HUMIDITY, 0.0, 100.0),
    FieldForm.DURATION: (Dimension.DURATION, 0.0, 3600.0),
}
_END_S = 253_402_300_799.0  # the last second of the year 9999


_BETWEEN = re.compile(r"\s*;\s*|,\s+|(?<=[^\W\d]),\s*|\s+x\s+|(?<=[^\W\d])\s+(?=\d)")
_UNIT = re.compile(r"[^\W\d]+$")


def value_of(one: SheetField, written: Written) -> Any:
    """What was written into a field, in the unit used inside. Raises DataError.

    Where there may be several it is a tuple: "62 mm, 60 mm" or "62 x 60 mm"; a number without a
    unit has that of the last.
    """
    if one.most == 1:
        return _one_value(one, written)
    parts = _BETWEEN.split(str(written).strip())
    if len(parts) > one.most:
        raise DataError(f'"{written}" is too many; write at most {one.most}')
    unit = _UNIT.search(parts[-1])
    if one.form is FieldForm.LENGTH and unit is not None:
        parts = [part if _UNIT.search(part) else f"{part} {unit[0]}" for part in parts]
    return tuple(_one_value(one, part) for part in parts)


def _one_value(one: SheetField, written: Written) -> Any:
    if one.form is FieldForm.GRADE:
        grades = {str(grade): grade for grade in range(len(one.choices))}
        if str(written) not in grades:
            words = ", ".join(f"{grade} {word}" for grade, word in enumerate(one.choices))
            raise DataError(f'"{written}" is no grade of this; write a number: {words}')
        return grades[str(written)]
    if one.form is FieldForm.PLACES:
        return named_places(str(written))
    if one.form is FieldForm.DAY:
        return parse_day_or_at(str(written), _END_S)
    if one.form not in _MEASURES:
        return written
    quantity, low, high = _MEASURES[one.form]
    remedy = f'"{written}" is no {one.form.value} of this; write it as "{one.example}"'
    try:
        value = parse_quantity(str(written), quantity)
    except DataError as exc:
        raise DataError(remedy if one.form is FieldForm.SHARE else str(exc)) from None
    if not low <= value <= high or (value == low == 0.0 and not one.from_zero):
        raise DataError(f"{remedy}: look at the unit")
    return value


def _checked(one: SheetField) -> Callable[[str], str]:
    def check(text: str) -> str:
        try:
            if text:
                value_of(one, text)
        except DataError as exc:
            raise ValueError(str(exc)) from None
        return text

    return check


def _as_text(value: object) -> object:
    return str(value) if isinstance(value, int) and not isinstance(value, bool) else value


def type_of(one: SheetField) -> Any:
    """The type that a body has for it."""
    match one.form:
        case FieldForm.COUNT:
            return Annotated[Whole, Field(ge=1, le=1000)]
        case FieldForm.FIGURE:
            return Annotated[float, Field(ge=0, le=1e6, allow_inf_nan=False)]
        case FieldForm.GRADE:
            return Annotated[Line, AfterValidator(_checked(one)), BeforeValidator(_as_text)]
        case FieldForm.CHOICE | FieldForm.CHECK:
            return Literal[one.choices]
        case FieldForm.REFERENCE | FieldForm.TEXT:
            return Line
        case _:
            return Annotated[Line, AfterValidator(_checked(one))]
