"""[pure] The fields of a sheet in a form of a page, and what comes back from one."""

from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from typing import Any

from logger.sheet_fields import FieldForm, SheetField
from logger.units import parse_number
from logger.web.form_bodies import Pair
from logger.words import Words

_NUMBERS = (FieldForm.COUNT, FieldForm.FIGURE)


@dataclass(frozen=True, slots=True, kw_only=True)
class FieldView:
    """A field of a form, with what stands in it."""

    field: SheetField
    unit: str  # of a bare number
    values: Sequence[str] = ("",)  # one for each input
    options: Sequence[str] = ()
    last: str = ""  # what was entered last, for beside it

    @property
    def value(self) -> str:
        """Of a field with one input."""
        return self.values[0]


def unit_of_field(one: SheetField, words: Words) -> str:
    """The unit of a bare number in a field of the page."""
    return {
        FieldForm.LENGTH: words.length_in.name,
        FieldForm.MASS: words.mass_in.name,
        FieldForm.TEMPERATURE: words.temperature_in.name,
        FieldForm.SHARE: "%",
        FieldForm.DURATION: "s",
    }.get(one.form, "")


def written(pairs: Iterable[Pair], fields: Iterable[SheetField], words: Words) -> dict[str, Any]:
    """What a form says of `fields`: a bare number gets the bench's unit, empty ones are left out.

    Inputs of one name are its several values. Raises DataError for what is no number.
    """
    typed: dict[str, list[str]] = {}
    for name, value in pairs:
        if value.strip():
            typed.setdefault(name, []).append(value.strip())
    found: dict[str, Any] = {}
    for one in fields:
        texts, unit = typed.get(one.key, []), unit_of_field(one, words)
        if not texts:
            continue
        if one.form in _NUMBERS:
            found[one.key] = parse_number(texts[0])
            continue
        if unit:
            texts = [f"{text} {unit}" if text[-1].isdigit() else text for text in texts]
        found[one.key] = "; ".join(texts) if one.most > 1 else texts[-1]
    return found
