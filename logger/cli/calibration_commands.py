"""`wickbench calibrate`: how far a channel is off, found by comparing it, and by whom and when."""

import json
from pathlib import Path
from typing import Annotated

import typer

from logger.cli.calculations import ConfigOption, JsonOption
from logger.cli.numbers import number_option
from logger.cli.printed import print_line
from logger.errors import UsageError

LIST = "list"


def add_to(app: typer.Typer) -> None:
    """Register the command."""
    app.command()(calibrate)


def calibrate(
    channel: Annotated[
        str, typer.Argument(metavar="CHANNEL|list", help="as in the configuration; or list them")
    ],
    offset: Annotated[str, typer.Option(help='to add, as "-0.3 degC"')] = "",
    ice: Annotated[float | None, number_option("shown in melting ice and water")] = None,
    boiling: Annotated[float | None, number_option("shown in boiling water")] = None,
    pressure: Annotated[str, typer.Option(help='of the air, as "1002 hPa" or "29.6 inHg"')] = "",
    altitude: Annotated[
        str, typer.Option(help='as "430 m", if the pressure is one for sea level, or not known')
    ] = "",
    points: Annotated[
        Path | None, typer.Option(metavar="FILE.csv", help="columns reference,shown")
    ] = None,
    unit: Annotated[
        str, typer.Option(help="of --ice, --boiling and --points; else as the bench shows")
    ] = "",
    uncertainty: Annotated[
        str, typer.Option(help='standard uncertainty of the comparison, as "0.1 degC"')
    ] = "",
    reference: Annotated[
        str, typer.Option(help='against what, as "ice bath, glass thermometer no. 4"')
    ] = "",
    by: Annotated[str, typer.Option("--by", help="who compared it")] = "",
    at: Annotated[str, typer.Option("--at", help='when: "now", "2031-05-04", "14:05"')] = "now",
    config: ConfigOption = None,
    as_json: JsonOption = False,
) -> None:
    """Record or list how far a channel is off.

    Give what the instrument shows by itself, without any earlier calibration. The new one applies
    from its date and replaces `calibration` in the configuration; earlier burns stay unchanged.
    """
    from logger import settings
    from logger.service import calibrating

    loaded = settings.load(settings.find(config))
    compared = bool(offset or points) or ice is not None or boiling is not None
    if channel == LIST and not compared:
        made = calibrating.made(loaded)
        if as_json:
            print(json.dumps(made))
            return
        for line in calibrating.lines(made, loaded.words):
            print_line(line)
        if not made:
            print("no calibration is recorded")
        return
    needed = {"--by NAME": by, '--reference "what it was compared with"': reference}
    missing = [option for option, given in needed.items() if not given]
    if missing:
        raise UsageError(f"a calibration also needs {', '.join(missing)}")
    shown_in = unit or calibrating.shown_in(loaded, channel)
    body = {
        "offset": offset,
        "ice": "" if ice is None else f"{ice} {shown_in}",
        "boiling": "" if boiling is None else f"{boiling} {shown_in}",
        "pressure": pressure,
        "altitude": altitude,
        "points": [] if points is None else calibrating.read_points(points),
        "unit": "" if points is None else shown_in,
        "uncertainty": uncertainty,
        "reference": reference,
        "by": by,
        "at": at,
    }
    answer = calibrating.calibrate(loaded, channel, body)
    if as_json:
        print(json.dumps(answer))
        return
    print_line(f"{channel}: calibration recorded")
    mine = [one for one in calibrating.made(loaded) if one["channel"] == channel]
    for line in calibrating.lines(mine, loaded.words):
        print_line(line)
