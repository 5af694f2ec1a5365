"""A record and its fields, as every edge reads them: commands, HTTP and pages are made of these.

A quantity's attribute ends with its unit inside; people write the rest of the name, and the
quantity in a unit of theirs.
"""

from collections.abc import Iterator
from dataclasses import dataclass, field, fields
from enum import StrEnum
from typing import Any

from logger.words import Words


class FieldForm(StrEnum):
    """What is written into a field."""

    LENGTH = "length"
    MASS = "mass"
    TEMPERATURE = "temperature"
    SHARE = "share"
    DAY = "day"
    COUNT = "count"
    FIGURE = "figure"
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
    FieldForm.DAY: "_s",  # its first moment, Unix seconds
}
PASSED, FAILED = "passed", "failed"


@dataclass(frozen=True, slots=True, kw_only=True)
class ShelfField:
    """One field of a kind of record."""

    key: str  # as people write it: inner_diameter
    attribute: str  # as the record has it: inner_diameter_mm
    form: FieldForm
    words: str
    example: str
    choices: tuple[str, ...]
    refers_to: str  # the kind of record that it names

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
) -> Any:  # a field of the type that the class states beside it
    """A field that may be left out; `words` say what is meant, `example` how it is written."""
    empty = (
        ""
        if form in (FieldForm.TEXT, FieldForm.CHOICE, FieldForm.CHECK, FieldForm.REFERENCE)
        else None
    )
    told = {"form": form, "words": words, "example": example}
    return field(default=empty, metadata={**told, "choices": choices, "refers_to": refers_to})


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


@dataclass(frozen=True, slots=True, kw_only=True)
class ShelfRecord:
    """Base of all kinds: what is known of a thing by its name; nothing else is demanded."""

    name: str
    remark: str = text("whatever else is worth knowing")

    def notes(self, words: Words, now_s: float) -> Iterator[str]:
        """What follows from the fields, in lines for a person."""
        yield from ()


def fields_of(kind: type[ShelfRecord]) -> tuple[ShelfField, ...]:
    """The fields of a kind but its name, in the order of the class, the remark last."""
    found = [
        ShelfField(
            key=one.name.removesuffix(_ENDINGS.get(one.metadata["form"], "")),
            attribute=one.name,
            **one.metadata,
        )
        for one in fields(kind)
        if one.name != "name"
    ]
    return tuple(sorted(found, key=lambda one: one.key == "remark"))
