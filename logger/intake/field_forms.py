"""The fields of a table as bodies take them: each checked once, in the unit a person wrote."""

import re
from collections.abc import Callable, Mapping, Sequence
from typing import Annotated, Any, Literal, TypeVar, cast

from pydantic import AfterValidator, BaseModel, BeforeValidator, Field, create_model

from logger.errors import DataError
from logger.field_table import FieldForm, FormField, fields_of
from logger.intake.fields import Line, Whole
from logger.intake.named_places import named_places
from logger.quantities import Quantity
from logger.shelf.rounds import NamedPlace
from logger.shelf.versions import Written
from logger.timestamps import parse_day_or_at
from logger.units import Dimension, parse_quantity

B = TypeVar("B", bound=type[BaseModel])

_MEASURES: Mapping[FieldForm, tuple[Quantity | Dimension, float, float]] = {
    # the most of it, in mm, g, degC, percent and s, that candles have (our choice)
    FieldForm.LENGTH: (Dimension.LENGTH, 0.0, 1000.0),
    FieldForm.MASS: (Quantity.MASS, 0.0, 20_000.0),
    FieldForm.TEMPERATURE: (Quantity.TEMPERATURE, -50.0, 300.0),
    FieldForm.SHARE: (Quantity.HUMIDITY, 0.0, 100.0),
    FieldForm.DURATION: (Dimension.DURATION, 0.0, 86_400.0),
}
_END_S = 253_402_300_799.0  # the last second of the year 9999
_BETWEEN = re.compile(r"\s*;\s*|,\s+|(?<=[^\W\d]),\s*|\s+x\s+|(?<=[^\W\d])\s+(?=\d)")
_UNIT = re.compile(r"[^\W\d]+$")


def value_of(one: FormField, written: Written) -> Any:
    """What was written into a field, in the core's terms. Raises DataError.

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


def _one_value(one: FormField, written: Written) -> Written | Sequence[NamedPlace]:
    if one.form is FieldForm.GRADE:
        grades = {str(grade): grade for grade in range(len(one.choices))}
        if str(written) not in grades:
            words = ", ".join(f"{grade} {word}" for grade, word in enumerate(one.choices))
            raise DataError(f'"{written}" is not one of its grades; write a number: {words}')
        return grades[str(written)]
    if one.form is FieldForm.PLACES:
        return named_places(str(written))
    if one.form is FieldForm.DAY:
        return parse_day_or_at(str(written), _END_S)
    if one.form not in _MEASURES:
        return written
    quantity, low, high = _MEASURES[one.form]
    remedy = f'"{written}" is not a {one.form.value} that fits here; write it as "{one.example}"'
    try:
        value = parse_quantity(str(written), quantity)
    except DataError as exc:
        raise DataError(remedy if one.form is FieldForm.SHARE else str(exc)) from None
    if not low <= value <= high or (value == low == 0.0 and not one.from_zero):
        raise DataError(f"{remedy}: look at the unit")
    return value


def _checked(one: FormField) -> Callable[[str], str]:
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


def _type_of(one: FormField) -> Any:
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


def body_fields(*tables: type[Any]) -> dict[str, Any]:
    """The fields of `tables` as a body has them, each optional."""
    return {
        one.key: (_type_of(one) | None, Field(default=None, description=one.words))
        for table in tables
        for one in fields_of(table)
    }


def with_fields(*tables: type[Any]) -> Callable[[B], B]:
    """Gives a body the fields of `tables` besides its own."""

    def extended(body: B) -> B:
        made = create_model(
            body.__name__,
            __base__=body,
            __doc__=body.__doc__,
            __module__=body.__module__,
            **body_fields(*tables),
        )
        return cast("B", made)

    return extended


def given(table: type[Any], body: BaseModel) -> dict[str, Any]:
    """What `body` says of the fields of `table`, by attribute and in the units used inside."""
    return {
        one.attribute: value_of(one, written)
        for one in fields_of(table)
        if (written := getattr(body, one.key)) not in (None, "")
    }


def example_of(one: FormField) -> Written:
    """How it is written, for the description."""
    if one.form is FieldForm.COUNT:
        return int(one.example)
    return float(one.example) if one.form is FieldForm.FIGURE else one.example
