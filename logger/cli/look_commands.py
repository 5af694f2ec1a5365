"""Commands for what is seen of a candle, in words and pictures: `look`, `photo`."""

import json
from pathlib import Path
from typing import Annotated

import typer

from logger.burn.look import Look
from logger.cli.burn_commands import AtOption, ByOption, Station, YesOption, enter
from logger.cli.calculations import ConfigOption, JsonOption
from logger.cli.field_options import asking
from logger.cli.printed import print_line
from logger.errors import DataError


def add_to(burn: typer.Typer) -> None:
    """Register the commands."""
    burn.command()(look)
    burn.command()(photo)


@asking(Look)
def look(
    station: Station,
    mark: Annotated[
        str, typer.Option("--mark", help='seen at this time of being lit, as "1 h"')
    ] = "",
    text: Annotated[str, typer.Option("--text", help="whatever else you see")] = "",
    yes: YesOption = False,
    at: AtOption = "now",
    by: ByOption = "",
    config: ConfigOption = None,
    as_json: JsonOption = False,
    *,
    stated: dict[str, str],
) -> None:
    """Record what you see of a candle.

    From the side; do not touch the glass or reach over the flame. Leave out what you did not look
    at. Several wicks or directions: --pool "62 mm, 60 mm", --flame "22 mm, 20 mm".
    """
    body = {"mark": mark, "text": text, "sure": yes, "at": at, "by": by, **stated}
    enter(config, "observations", station, body, as_json=as_json)


def photo(
    station: Station,
    file: Annotated[Path, typer.Argument(metavar="FILE", help="a JPEG, PNG or WebP picture")],
    text: Annotated[str, typer.Option("--text", help="what it shows")] = "",
    at: AtOption = "now",
    by: ByOption = "",
    config: ConfigOption = None,
    as_json: JsonOption = False,
) -> None:
    """Keep a photo of a candle.

    It is written anew without the place, time and device that a camera adds.
    """
    from logger import settings
    from logger.service import client

    try:
        raw = file.read_bytes()
    except OSError as exc:
        raise DataError(f"{file} cannot be read: {exc.strerror}") from exc
    body = {"text": text, "at": at, "by": by}
    answer = client.photo(settings.load(settings.find(config)), station, raw, body)
    print_line(json.dumps(answer) if as_json else answer["text"])
