"""What the tables of a configuration are made of: keys, and the forms that their values have."""

import difflib
import re
from collections.abc import Callable, Iterable, Mapping
from dataclasses import dataclass, field
from typing import Any, ClassVar, Self

from pydantic import (
    BaseModel,
    ConfigDict,
    Field,
    GetCoreSchemaHandler,
    ModelWrapValidatorHandler,
    ValidationError,
    model_validator,
)
from pydantic_core import CoreSchema, InitErrorDetails, core_schema

from logger.errors import DataError

_UNIT_AT_END = re.compile(r"_(?:s|c|k|mm|ohm)$")


class WrongValue(ValueError):
    """What is wrong with a value; what to write.

    Raised for a whole table, it is about the first of `keys` that the file states.
    """

    def __init__(self, what: str, *keys: str) -> None:
        super().__init__(what)
        self.keys = keys


@dataclass(frozen=True, slots=True)
class Form:
    """A form that values have: how it is read from TOML's, and an example as it is written."""

    read: Callable[[object], Any]  # raises DataError: what is wrong; what to write
    example: str
    limits: Mapping[str, Any] = field(default_factory=dict, hash=False)  # said in JSON Schema

    def __get_pydantic_core_schema__(
        self, source: Any, handler: GetCoreSchemaHandler
    ) -> CoreSchema:
        return core_schema.no_info_before_validator_function(self.checked, handler(source))

    def checked(self, value: object) -> Any:
        """As `read`, but raises what a validator may raise."""
        try:
            return self.read(value)
        except DataError as exc:
            raise WrongValue(str(exc)) from exc


class Keys(BaseModel):
    """A table of the configuration: its keys, what each means, what holds where it is left out.

    A key is called as its attribute is, without the unit at the end. Defaults are written as in
    the file. What one key demands of another is checked at the later of the two, by a validator
    that finds the earlier ones in `info.data`, those that are right.
    """

    model_config = ConfigDict(
        frozen=True,
        extra="forbid",
        validate_default=True,
        defer_build=True,
        alias_generator=lambda attribute: _UNIT_AT_END.sub("", attribute),
    )

    misplaced: ClassVar[Mapping[str, str]] = {}  # why a key that one might write has no place here

    @model_validator(mode="wrap")
    @classmethod
    def _in_plain_words(cls, value: Any, handler: ModelWrapValidatorHandler[Self]) -> Self:
        try:
            return handler(value)
        except ValidationError as exc:
            faults = [_fault(cls, error) for error in exc.errors(include_url=False)]
            raise ValidationError.from_exception_data(cls.__name__, faults) from None


def key(description: str, default: object = ..., example: str | None = None) -> Any:
    """One key: what it means, and its value where it is left out; without one it must be there.

    A function as default makes it from the keys above. The example is for a key whose type has no
    `Form`.
    """
    examples = None if example is None else [example]
    if callable(default):
        return Field(default_factory=default, description=description, examples=examples)
    return Field(default, description=description, examples=examples)


def nearest(word: str, known: Iterable[str]) -> str:
    """What to write instead of `word`: the one most like it, or else all."""
    by_small = {each.lower(): each for each in known}
    close = difflib.get_close_matches(word.lower(), by_small, n=1)
    if close:
        return f'did you mean "{by_small[close[0]]}"?'
    return "write one of " + ", ".join(f'"{each}"' for each in by_small.values())


def _fault(table: type[Keys], error: Any) -> InitErrorDetails:
    """`error` of `table` or a table below; of a missing or unknown key in words of our own."""
    kind, path = error["type"], error["loc"]
    first, below = path[0] if path else "", path[1:]
    fields = {field.alias or name: field for name, field in table.model_fields.items()}
    what = None
    if kind == "missing" and not below:
        (example,) = (one.example for one in fields[first].metadata if isinstance(one, Form))
        what = f"missing; write {first} = {example}"
    elif kind == "extra_forbidden" and not below:
        what = table.misplaced.get(first) or f"unknown key; {nearest(first, fields)}"
    elif first in table.model_fields:  # a default that does not fit is told by its attribute
        first = table.model_fields[first].alias or first
    return InitErrorDetails(
        type=kind if what is None else "value_error",
        loc=(first, *below) if path else (),
        input=error["input"],
        ctx=error.get("ctx", {}) if what is None else {"error": WrongValue(what)},
    )
