"""`docs`: the manual in the terminal."""

import json
from typing import Annotated

import typer

from logger.cli.calculations import ConfigOption
from logger.cli.completion import page_names


def add_to(app: typer.Typer) -> None:
    """Register the command."""
    app.command()(docs)


def docs(
    name: Annotated[
        str | None,
        typer.Argument(metavar="NAME", help="which page; else a list", autocompletion=page_names),
    ] = None,
    schema: Annotated[
        bool, typer.Option("--schema", help="print the configuration's JSON Schema, for editors")
    ] = False,
    config: ConfigOption = None,
) -> None:
    """Read the manual: how to set up, use and keep it."""
    import pydoc

    if schema:
        from logger.settings.editor_schema import editor_schema

        print(json.dumps(editor_schema(), indent=1))
        return
    from logger.reports.manual_texts import manual, manual_page

    if name is not None:
        pydoc.pager(manual_page(name).text)  # as it is where the output is no terminal
        return
    for one in manual():
        print(f"{one.name:15}{one.title}")
