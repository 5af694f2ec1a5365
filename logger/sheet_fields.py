"""The fields that people fill in, as every edge reads them: commands, HTTP and pages are made of
these.

A quantity's attribute ends with its unit inside; people write the rest of the name, and the
quantity in a unit of theirs.
"""

from dataclasses import dataclass, field, fields
from enum import StrEnum
from typing import Any


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
PASSED, FAILED = "passed", "failed"


@dataclass(frozen=True, slots=True, kw_only=True)
class SheetField:
    """One field of a kind of sheet."""

    key: str  # as people write it: inner_diameter
    attribute: str  # as the sheet has it: inner_diameter_mm
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
    written = (FieldForm.TEXT, FieldForm.CHOICE, FieldForm.CHECK, FieldForm.REFERENCE)
    empty = () if most > 1 else "" if form in written else None
    told = {"form": form, "words": words, "example": example, "most": most}
    more = {"choices": choices, "refers_to": refers_to, "from_zero": from_zero}
    return field(default=empty, metadata={**told, **more})


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


def fields_of(kind: type) -> tuple[SheetField, ...]:
    """The fields of a kind, in the order of the class, the remark last."""
    found = [
        SheetField(
            key=one.name.removesuffix(_ENDINGS.get(one.metadata["form"], "")),
            attribute=one.name,
            **one.metadata,
        )
        for one in fields(kind)
        if "form" in one.metadata
    ]
    return tuple(sorted(found, key=lambda one: one.key == "remark"))
