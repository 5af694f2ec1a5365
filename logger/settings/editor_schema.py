"""The configuration as a JSON Schema, for editors: made of the classes that read the file.

It takes whatever the program takes. What one key demands of another it does not know; `wickbench
check` does.
"""

import tomllib
from enum import StrEnum
from typing import Any, Literal, get_args, get_origin

from pydantic.fields import FieldInfo

from logger.settings.bench_keys import BenchKeys, ShowKeys
from logger.settings.drivers import DRIVERS, InstrumentKeys
from logger.settings.keys import Form, Keys
from logger.settings.limit_keys import LimitKeys, WallLimitKeys
from logger.settings.reference import within

Schema = dict[str, Any]

_COMPLETED = {LimitKeys, WallLimitKeys}  # by limits.toml: all may be left out


def editor_schema() -> Schema:
    """The whole of it, in draft 7, which editors know best (common practice)."""
    return {
        "$schema": "http://json-schema.org/draft-07/schema#",
        "title": "bench.toml of wickbench",
        **_table(BenchKeys),
    }


def _table(keys: type[Keys]) -> Schema:
    fields = {field.alias or name: field for name, field in keys.model_fields.items()}
    return {
        "type": "object",
        "properties": {name: _property(name, field) for name, field in fields.items()},
        "required": [] if keys in _COMPLETED else [n for n, f in fields.items() if _must_be(f)],
        "additionalProperties": False,
    }


def _property(name: str, field: FieldInfo) -> Schema:
    shown: Schema = {"description": field.description} if field.description else {}
    if isinstance(field.default, str | bool | int | float):
        shown["default"] = field.default
    table = ShowKeys if name == "show" else _table_in(field)
    if table is None:
        return shown | _value(field)
    one = _any_instrument() if table is InstrumentKeys else _table(table)
    if get_origin(field.annotation) is not tuple:
        return one | shown
    return shown | {"type": "array", "items": one, "minItems": 1 if name == "channel" else 0}


def _must_be(field: FieldInfo) -> bool:
    """Whether the file must have it: also a table that must have a key, or hold another."""
    table = _table_in(field)
    if table is None or table in _COMPLETED:
        return field.is_required() and table is None
    if get_origin(field.annotation) is tuple:
        return field.description == "what it delivers"
    return field.default == {} and any(_must_be(one) for one in table.model_fields.values())


def _table_in(field: FieldInfo) -> type[Keys] | None:
    tables = (one for one in within(field) if isinstance(one, type) and issubclass(one, Keys))
    return next(tables, None)


def _value(field: FieldInfo) -> Schema:
    """What a value may be: one of some words, or of the form that reads it."""
    found = [*within(field)]
    for one in found:
        if get_origin(one) is Literal:
            return {"enum": [*get_args(one)]}
        if isinstance(one, type) and issubclass(one, StrEnum):
            return {"enum": [word.value for word in one]}
    if bool in found:
        return {"type": "boolean"}
    form = next((one for one in found if isinstance(one, Form)), None)
    example = _read(field.examples[0] if field.examples else form.example if form else '""')
    return {**_type_of(example), **(form.limits if form else {}), "examples": [example]}


def _read(example: str) -> Any:
    return tomllib.loads(f"it = {example}")["it"]


def _type_of(example: Any) -> Schema:
    match example:
        case str():
            return {"type": "string", "minLength": 1}
        case list():
            return {"type": "array", "items": _type_of(example[0])}
        case int():
            return {"type": "integer"}
        case _:
            return {"type": "number"}


def _any_instrument() -> Schema:
    """The keys of its driver, and of its format where a driver has several."""
    cases: list[Schema] = []
    for driver, keys in DRIVERS.items():
        formats = keys.model_fields.get("format")
        usual = None if formats is None else formats.default
        others = [] if formats is None else [w for w in get_args(formats.annotation) if w != usual]
        when: Schema = {"driver": {"const": driver}}
        for word in others:
            asked = when | {"format": {"const": word}}
            cases.append(_case(asked, ["driver", "format"], keys.variant({"format": word})))
        asked = when | {"format": {"not": {"enum": others}}} if others else when
        cases.append(_case(asked, ["driver"], keys.variant({"format": usual})))
    which = {
        "enum": [*DRIVERS],
        "description": InstrumentKeys.model_fields["driver"].description,
    }
    return {
        "type": "object",
        "properties": {"driver": which},
        "required": ["driver"],
        "allOf": cases,
    }


def _case(asked: Schema, needed: list[str], keys: type[InstrumentKeys]) -> Schema:
    return {"if": {"properties": asked, "required": needed}, "then": _table(keys)}
