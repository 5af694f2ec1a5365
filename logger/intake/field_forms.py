"""The fields of a table as bodies take them: each checked once, in the unit a person wrote."""

from collections.abc import Callable, Mapping, Sequence
from typing import Annotated, Any, Literal, TypeVar, cast

from pydantic import AfterValidator, BaseModel, Field, create_model

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


def value_of(one: FormField, written: Written) -> Written | Sequence[NamedPlace]:
    """What was written into a field, in the core's terms. Raises DataError."""
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
    if not low <= value <= high or (value == low == 0.0):
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


def _type_of(one: FormField) -> Any:
    match one.form:
        case FieldForm.COUNT:
            return Annotated[Whole, Field(ge=1, le=1000)]
        case FieldForm.FIGURE:
            return Annotated[float, Field(ge=0, le=1e6, allow_inf_nan=False)]
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
