"""`docs`: the manual in the terminal."""

from typing import Annotated

import typer

from logger.cli.completion import page_names


def add_to(app: typer.Typer) -> None:
    """Register the command."""
    app.command()(docs)


def docs(
    name: Annotated[
        str | None,
        typer.Argument(metavar="NAME", help="which page; else a list", autocompletion=page_names),
    ] = None,
) -> None:
    """Read the manual: how to set up, use and keep it."""
    import pydoc

    from logger.reports.manual_texts import manual, manual_page

    if name is not None:
        pydoc.pager(manual_page(name).text)  # as it is where the output is no terminal
        return
    for one in manual():
        print(f"{one.name:15}{one.title}")
