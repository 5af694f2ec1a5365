"""Options made of tables of fields: each table is read once, for every command that has it."""

import inspect
from collections.abc import Callable, Mapping
from typing import Annotated, Any

import typer

from logger.field_table import FieldForm, FormField, fields_of

EMPTY: Mapping[type, Any] = {str: "", int: 0, bool: False}


def options_of(*tables: type[Any]) -> dict[str, Any]:
    """The options of tables, by key."""
    return {one.key: _option(one) for table in tables for one in fields_of(table)}


def _option(one: FormField) -> Any:
    words = one.words
    if one.form is FieldForm.GRADE:
        words += f": {', '.join(f'{grade} {word}' for grade, word in enumerate(one.choices))}"
    elif one.choices:
        words += f": {', '.join(one.choices)}"
    elif one.example:
        words += f', as "{one.example}"'
    name = f"--{one.key.replace('_', '-')}"
    return Annotated[
        int if one.form is FieldForm.COUNT else str,
        typer.Option(name, help=words, show_default=False),
    ]


def asking(*tables: type[Any]) -> Callable[[Callable[..., None]], Callable[..., None]]:
    """Gives a command the options of `tables`; it gets what they hold as its argument `stated`."""
    options = options_of(*tables)

    def extended(run: Callable[..., None]) -> Callable[..., None]:
        def command(**given: Any) -> None:
            stated = {key: given.pop(key) for key in options}
            run(**given, stated=stated)

        own = inspect.signature(run).parameters
        added = [
            inspect.Parameter(
                key, inspect.Parameter.KEYWORD_ONLY, annotation=hint, default=EMPTY[hint.__origin__]
            )
            for key, hint in options.items()
        ]
        kept = [
            one.replace(kind=inspect.Parameter.KEYWORD_ONLY)
            for name, one in own.items()
            if name != "stated"
        ]
        command.__name__, command.__doc__ = run.__name__, run.__doc__
        command.__signature__ = inspect.Signature([*kept, *added])  # type: ignore[attr-defined]  # typer reads it
        command.__annotations__ = {
            **{name: hint for name, hint in run.__annotations__.items() if name != "stated"},
            **options,
        }
        return command

    return extended
