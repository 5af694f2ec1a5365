"""Options of a command made of the fields that people fill in."""

import inspect
from collections.abc import Callable, Collection, Iterable, Mapping
from typing import Annotated, Any

import typer

from logger.sheet_fields import FieldForm, SheetField

_EMPTY = {str: "", int: 0, bool: False}


def options_of(fields: Iterable[SheetField]) -> dict[str, Any]:
    """An option for each field, by its key."""
    return {one.key: _option(one) for one in fields}


def _option(one: SheetField) -> Any:
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
        typer.Option(name, help=words),
    ]


def with_options(
    run: Callable[..., None], options: Mapping[str, Any], needed: Collection[str]
) -> Callable[..., None]:
    """`run`, which takes what its `options` hold by name; those not `needed` may be left out."""
    parameters = [
        inspect.Parameter(
            key,
            inspect.Parameter.KEYWORD_ONLY,
            annotation=hint,
            default=inspect.Parameter.empty if key in needed else _default(hint),
        )
        for key, hint in options.items()
    ]
    run.__signature__ = inspect.Signature(parameters)  # type: ignore[attr-defined]
    run.__annotations__ = dict(options)
    return run


def with_more(
    run: Callable[..., None], into: str, options: Mapping[str, Any]
) -> Callable[..., None]:
    """`run` with these `options` too, which it takes as one mapping, its parameter `into`."""

    def both(**given: Any) -> None:
        run(**{into: {key: given.pop(key) for key in options}, **given})

    parameters = [
        one for one in inspect.signature(run, eval_str=True).parameters.values() if one.name != into
    ]
    more = inspect.signature(with_options(both, options, ())).parameters.values()
    every = [one.replace(kind=inspect.Parameter.KEYWORD_ONLY) for one in (*parameters, *more)]
    both.__signature__ = inspect.Signature(every)  # type: ignore[attr-defined]
    both.__annotations__ = {one.name: one.annotation for one in every}
    both.__doc__ = run.__doc__
    return both


def _default(hint: Any) -> Any:
    stated = next((one for one in hint.__metadata__ if isinstance(one, str)), None)
    return stated or _EMPTY.get(hint.__origin__)
