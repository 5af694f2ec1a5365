"""Records as they are entered: one table of kinds, each with bodies made of its fields.

A kind is a class of `logger.shelf` and a line in RECORDS; bodies, routes and pages follow.
"""

from abc import ABC, abstractmethod
from collections.abc import Mapping
from dataclasses import dataclass
from typing import Annotated, Any, ClassVar, Literal, cast

from pydantic import AfterValidator, BaseModel, ConfigDict, Field, StringConstraints, create_model

from logger.errors import DataError, NotKnown, Refused
from logger.field_table import FormField, fields_of
from logger.intake.field_forms import body_fields, example_of, value_of
from logger.intake.fields import Id, Line, SomeLine
from logger.shelf.catalogue import RECORDS
from logger.shelf.sheet import ShelfRecord
from logger.shelf.versions import ShelfVersion, Written


def _name(text: str) -> str:
    if "/" in text or not any(char.isalnum() for char in text):
        raise ValueError("needs a letter or a digit, and no slash")
    return text


RecordName = Annotated[SomeLine, StringConstraints(max_length=100), AfterValidator(_name)]


class RecordBody(BaseModel, ABC):
    """Base: `id` makes a repeated post harmless."""

    # Some forty of them: each is built at its first use, not all at every start.
    model_config = ConfigDict(extra="forbid", frozen=True, defer_build=True)

    kind: ClassVar[str]
    makes: ClassVar[type[ShelfRecord]]

    id: Id
    by: Line = ""

    @abstractmethod
    def after(self, name: str, before: ShelfVersion | None, now_s: float) -> ShelfVersion:
        """The next version of the record `name`. Raises DataError, Refused."""

    def given(self) -> dict[str, Written]:
        """The fields that something was written into."""
        keys = (one.key for one in fields_of(self.makes))
        found = {key: getattr(self, key) for key in keys}
        return {key: value for key, value in found.items() if value not in (None, "")}

    def _next(
        self, name: str, before: ShelfVersion | None, now_s: float, **more: Any
    ) -> ShelfVersion:
        found = ShelfVersion(
            id=self.id,
            kind=self.kind,
            name=name,
            version=1 if before is None else before.version + 1,
            at_s=now_s,
            by=self.by,
            **more,
        )
        record_of(found)
        return found


class AddBody(RecordBody):
    """A record is begun."""

    name: RecordName

    def after(self, name: str, before: ShelfVersion | None, now_s: float) -> ShelfVersion:
        """Its first version, or the next where the one before was withdrawn."""
        if before is not None and not before.withdrawn:
            raise Refused(
                f"there is a {self.kind} {before.name} already: change that, or take another name"
            )
        return self._next(name, before, now_s, fields=self.given())


class ChangeBody(RecordBody):
    """A record is changed: what is given counts from now on, the rest stays as it was."""

    why: Line = ""

    def after(self, name: str, before: ShelfVersion | None, now_s: float) -> ShelfVersion:
        """The version before with what is different."""
        cleared: tuple[str, ...] = getattr(self, "clear", ())
        before = _living(self.kind, name, before)
        kept = {key: value for key, value in before.fields.items() if key not in cleared}
        fields = {**kept, **self.given()}
        if fields == before.fields:
            raise DataError("say what is to change: as it stands nothing would change")
        return self._next(before.name, before, now_s, fields=fields, why=self.why)


class WithdrawRecordBody(RecordBody):
    """A record counts no more, and stays to be seen."""

    why: SomeLine

    def after(self, name: str, before: ShelfVersion | None, now_s: float) -> ShelfVersion:
        """The version before, withdrawn."""
        before = _living(self.kind, name, before)
        return self._next(
            before.name, before, now_s, fields=before.fields, why=self.why, withdrawn=True
        )

    def given(self) -> dict[str, Written]:
        """None."""
        return {}


def _living(kind: str, name: str, before: ShelfVersion | None) -> ShelfVersion:
    if before is None:
        raise NotKnown(f"there is no {kind} {name} on the shelf")
    if before.withdrawn:
        raise Refused(f"the {kind} {name} was withdrawn: add it again to use it")
    return before


@dataclass(frozen=True, slots=True, kw_only=True)
class RecordKind:
    """A kind of record: what it is called, and the bodies that make and change one."""

    name: str
    makes: type[ShelfRecord]
    add: type[AddBody]
    change: type[ChangeBody]
    withdraw: type[WithdrawRecordBody]

    @property
    def plural(self) -> str:
        """As addresses have it."""
        return f"{self.name}s"

    @property
    def fields(self) -> tuple[FormField, ...]:
        """Its fields, in order."""
        return fields_of(self.makes)


def _kind(name: str, makes: type[ShelfRecord]) -> RecordKind:
    fields = body_fields(makes)
    keys = tuple(one.key for one in fields_of(makes))
    clear = (tuple[Literal[keys], ...], Field(default=(), max_length=len(keys)))  # type: ignore[valid-type]  # of a table
    example = {one.key: example_of(one) for one in fields_of(makes) if one.example}
    body = {"id": "6f1f2c0e9f4b4d0f", "by": "Ines", **example}

    def made(base: type[Any], ending: str, what: str, shown: dict[str, Any], **more: Any) -> Any:
        config = {"json_schema_extra": {"examples": [shown]}}
        title = f"{name.title()}{ending}"
        model = cast(
            "Any", create_model(title, __base__=base, __doc__=what, __cls_kwargs__=config, **more)
        )
        model.kind, model.makes = name, makes
        return model

    return RecordKind(
        name=name,
        makes=makes,
        add=made(
            AddBody, "Body", f"A {name} is put on the shelf.", {"name": "n-1", **body}, **fields
        ),
        change=made(ChangeBody, "ChangeBody", f"A {name} is changed.", body, clear=clear, **fields),
        withdraw=made(
            WithdrawRecordBody,
            "WithdrawBody",
            f"A {name} is taken off the shelf.",
            {"id": "6f1f2c0e9f4b4d0f", "why": "entered twice", "by": "Ines"},
        ),
    )


SHELF: Mapping[str, RecordKind] = {name: _kind(name, makes) for name, makes in RECORDS.items()}
"""Every kind of record, by its name, in the order in which a maker meets them."""


def kind_of(plural: str) -> RecordKind:
    """The kind that an address names. Raises NotKnown."""
    found = next((one for one in SHELF.values() if one.plural == plural), None)
    if found is None:
        raise NotKnown(f"there are no {plural} on the shelf, but {', '.join(SHELF)}")
    return found


def record_of(version: ShelfVersion) -> ShelfRecord:
    """The record in the core's terms. Raises DataError where its fields contradict one another."""
    kind = SHELF[version.kind]
    values: dict[str, Any] = {
        one.attribute: value_of(one, version.fields[one.key])
        for one in kind.fields
        if one.key in version.fields
    }
    return kind.makes(name=version.name, **values)
