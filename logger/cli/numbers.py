"""Numbers on the command line, with a decimal point or a comma."""

from typing import Any

import typer

from logger.errors import DataError


def number(text: str | float) -> float:
    """What an option says; its default comes as the number that it is."""
    from logger.units import parse_number

    try:
        return text if isinstance(text, float) else parse_number(str(text))
    except DataError as exc:
        raise typer.BadParameter(str(exc)) from None


def number_option(help: str, *, show_default: bool = True) -> Any:
    """An option of that form."""
    return typer.Option(parser=number, metavar="NUMBER", help=help, show_default=show_default)
