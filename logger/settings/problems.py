"""What is wrong with a configuration, in lines that say where and what to write instead."""

import re
from collections.abc import Iterable, Mapping
from typing import Any

from pydantic import ValidationError

from logger.settings.forms import seen
from logger.settings.toml_lines import KeyPath

Mistake = tuple[KeyPath, str]
"""Where, and what is wrong; what to write."""


def said(file: str, lines: Mapping[KeyPath, int], mistakes: Iterable[Mistake]) -> list[str]:
    """Each with its file and line, in the order of the lines."""
    found = [(line_of(lines, path), _dotted(path), what) for path, what in mistakes]
    in_order = sorted(dict.fromkeys(found), key=lambda one: one[0])
    return [f"{file}:{line}: {key}: {what}" for line, key, what in in_order]


def line_of(lines: Mapping[KeyPath, int], path: KeyPath) -> int:
    """Where `path` stands, or else the table that should hold it."""
    while path and path not in lines:
        path = path[:-1]
    return lines.get(path, 1)


def found_by(error: ValidationError, lines: Mapping[KeyPath, int]) -> Iterable[Mistake]:
    """The mistakes that the models of the tables found."""
    for one in error.errors(include_url=False):
        if one["type"] == "default_factory_not_called":
            continue  # what it needs is wrong, which is told
        path = one["loc"]
        if keys := getattr(one.get("ctx", {}).get("error"), "keys", ()):
            path = (*path, next((key for key in keys if (*path, key) in lines), keys[0]))
        if one["type"] == "model_type" and isinstance(path[-1], int):
            path = path[:-1]  # it is the array that is none of tables
        yield path, _what(one, path)


def _what(error: Any, path: KeyPath) -> str:
    table = path if path == error["loc"] else None
    match error["type"]:
        case "value_error":
            return str(error["ctx"]["error"])
        case "literal_error" | "enum":
            known = re.findall("'([^']*)'", error["ctx"]["expected"])
            words = ", ".join(f'"{word}"' for word in known)
            return f"{seen(error['input'])} is not known; write one of {words}"
        case "bool_type":
            return f"{seen(error['input'])} is neither; write true or false"
        case "model_type" if table is not None:
            return f"must be a table; write [{_dotted(path)}] and its keys below"
        case "model_type" | "tuple_type":
            return f"may come several times; write [[{_dotted(path)}]] in two brackets"
        case _:
            return f"{seen(error['input'])} has no place here; look at the example"


def _dotted(path: KeyPath) -> str:
    names = (name for name in path if isinstance(name, str))
    return ".".join(name if name.isprintable() else ascii(name) for name in names)
