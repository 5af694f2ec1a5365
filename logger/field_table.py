"""[pure] Fields that a person may fill in, as every edge reads them: commands, HTTP and pages.

A quantity's attribute ends with its unit inside; people write the rest of the name, and the
quantity in a unit of theirs. A dataclass of such fields is one table for all of it.
"""

from collections.abc import Iterator
from dataclasses import dataclass, field, fields
from enum import StrEnum
from typing import Any

from logger.words import Words, duration


class FieldForm(StrEnum):
    """What is written into a field."""

    LENGTH = "length"
    MASS = "mass"
    TEMPERATURE = "temperature"
    SHARE = "share"
    DURATION = "duration"
    DAY = "day"
    COUNT = "count"
    FIGURE = "figure"
    GRADE = "grade"  # a whole number from 0, each with a word
    TEXT = "text"
    CHOICE = "choice"
    CHECK = "check"  # passed or failed, of this one thing: never taken over into another record
    REFERENCE = "reference"  # the name of another record
    PLACES = "places"  # of a vessel, in turn


_ENDINGS = {
    FieldForm.LENGTH: "_mm",
    FieldForm.MASS: "_g",
    FieldForm.TEMPERATURE: "_c",
    FieldForm.SHARE: "_percent",
    FieldForm.DURATION: "_s",
    FieldForm.DAY: "_s",  # its first moment, Unix seconds
}
_IN_WORDS = (FieldForm.TEXT, FieldForm.CHOICE, FieldForm.CHECK, FieldForm.REFERENCE)
PASSED, FAILED = "passed", "failed"
REGIMES = ("standard", "power", "untrimmed", "short", "draught")
"""How a candle is burned: of a trial's record, and of each burn."""


@dataclass(frozen=True, slots=True, kw_only=True)
class FormField:
    """One field of a table."""

    key: str  # as people write it: inner_diameter
    attribute: str  # as the table has it: inner_diameter_mm
    form: FieldForm
    words: str
    example: str
    choices: tuple[str, ...]  # of a grade: its words from 0
    refers_to: str  # the kind of record that it names
    most: int  # values; of several the attribute is a tuple
    from_zero: bool  # whether none of it may be written as 0

    @property
    def label(self) -> str:
        """The key for people: "inner diameter"."""
        return self.key.replace("_", " ")

    @property
    def empty(self) -> str | tuple[()] | None:
        """What it holds where nothing was filled in."""
        if self.most > 1:
            return ()
        return "" if self.form in _IN_WORDS else None

    def said(self, value: Any, words: Words) -> str:
        """What it holds, for a person: "6 mm", "62, 60 mm", "1 (a trace)"."""
        values = value if isinstance(value, tuple) else (value,)
        if self.form is FieldForm.LENGTH:
            return words.fine_lengths(values)
        return ", ".join(self._said(one, words) for one in values)

    def _said(self, value: Any, words: Words) -> str:
        match self.form:
            case FieldForm.GRADE:
                return f"{value} ({self.choices[value]})"
            case FieldForm.MASS:
                return words.mass(value)
            case FieldForm.TEMPERATURE:
                return words.temperature(value)
            case FieldForm.DURATION:
                return duration(value)
            case _:
                return str(value)


def a(
    form: FieldForm,
    words: str,
    example: str = "",
    *,
    choices: tuple[str, ...] = (),
    refers_to: str = "",
    most: int = 1,
    from_zero: bool = False,
) -> Any:  # a field of the type that the class states beside it
    """A field that may be left out; `words` say what is meant, `example` how it is written."""
    empty = () if most > 1 else "" if form in _IN_WORDS else None
    written = {"form": form, "words": words, "example": example, "choices": choices}
    more = {"refers_to": refers_to, "most": most, "from_zero": from_zero}
    return field(default=empty, metadata={**written, **more})


def text(words: str, example: str = "") -> Any:
    """A line of text."""
    return a(FieldForm.TEXT, words, example)


def one_of(words: str, *choices: str) -> Any:
    """One of a few words."""
    return a(FieldForm.CHOICE, words, choices[0], choices=choices)


def check(words: str) -> Any:
    """Whether this one thing passed."""
    return a(FieldForm.CHECK, words, PASSED, choices=(PASSED, FAILED))


def names(kind: str) -> Any:
    """The name of a record of `kind`."""
    return a(FieldForm.REFERENCE, f"a {kind} on the shelf", refers_to=kind)


def grade(words: str, *choices: str, most: int = 1) -> Any:
    """How much of it, in grades from 0 with these words."""
    return a(FieldForm.GRADE, words, "0", choices=choices, most=most)


def fields_of(table: type[Any]) -> tuple[FormField, ...]:
    """The fields of a table, in the order of the class, the remark last."""
    found = [
        FormField(
            key=one.name.removesuffix(_ENDINGS.get(one.metadata["form"], "")),
            attribute=one.name,
            **one.metadata,
        )
        for one in fields(table)
        if "form" in one.metadata
    ]
    return tuple(sorted(found, key=lambda one: one.key == "remark"))


def filled(table: Any) -> Iterator[tuple[FormField, Any]]:
    """The fields of `table` that hold something, each with that."""
    for one in fields_of(type(table)):
        value = getattr(table, one.attribute)
        if value != one.empty:
            yield one, value


def said(table: Any, words: Words) -> Iterator[str]:
    """What was filled in, a few words each: "trimmed to 6 mm"."""
    return (f"{one.label} {one.said(value, words)}" for one, value in filled(table))
