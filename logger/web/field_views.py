"""[pure] Tables of fields as forms of a page, and what was written there as bodies take it."""

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass
from typing import Any

from logger.field_table import FieldForm, FormField
from logger.shelf.versions import Written
from logger.units import parse_number
from logger.words import Words

_NUMBERS = (FieldForm.COUNT, FieldForm.FIGURE)


@dataclass(frozen=True, slots=True, kw_only=True)
class FieldView:
    """A field of a form, with what stands in it."""

    field: FormField
    unit: str  # of a bare number
    values: Sequence[str] = ("",)  # one for each input
    options: Sequence[str] = ()
    last: str = ""  # what was entered last, for beside it

    @property
    def value(self) -> str:
        """Of a field with one input."""
        return self.values[0]


def field_view(
    one: FormField, words: Words, value: Written = "", names: Sequence[str] = ()
) -> FieldView:
    """A field that holds `value`; `names` are the records that it may name."""
    unit = unit_of(one, words)
    return FieldView(
        field=one,
        unit=unit,
        values=(str(value).removesuffix(f" {unit}"),),
        options=one.choices or names,
    )


def unit_of(one: FormField, words: Words) -> str:
    """The unit of a bare number in a field of the page."""
    return {
        FieldForm.LENGTH: words.length_in.name,
        FieldForm.MASS: words.mass_in.name,
        FieldForm.TEMPERATURE: words.temperature_in.name,
        FieldForm.SHARE: "%",
        FieldForm.DURATION: one.example.rpartition(" ")[2],
    }.get(one.form, "")


def with_units(
    found: Mapping[str, Any], table: Iterable[FormField], words: Words
) -> dict[str, Any]:
    """What was written, a bare number with the unit that stands beside its field.

    A field with several inputs is a list of what stands in them.
    """
    after = dict(found)
    for one in table:
        text = after.get(one.key)
        if not text:
            continue
        if one.form in _NUMBERS:
            after[one.key] = parse_number(text)
            continue
        texts, unit = text if isinstance(text, list) else [text], unit_of(one, words)
        if unit:
            texts = [f"{each} {unit}" if each[-1].isdigit() else each for each in texts]
        after[one.key] = "; ".join(texts)
    return after
