"""Commands for what is seen of a candle: `burn look`."""

from typing import Annotated, Any

import typer

from logger.burn.look import LOOK_FIELDS
from logger.cli.burn_commands import ByOption, Station, YesOption, enter
from logger.cli.calculations import ConfigOption, JsonOption
from logger.cli.field_options import options_of, with_options

_MARK = Annotated[str, typer.Option("--mark", help='seen at this time of being lit, as "1 h"')]
_TEXT = Annotated[str, typer.Option("--text", help="whatever else you see")]
_AT = Annotated[str, typer.Option("--at", help='when: "now", "25 min ago", "14:05"'), "now"]


def add_to(burn: typer.Typer) -> None:
    """Register the commands."""
    burn.command("look", help=_HELP)(_look_command())


_HELP = """Record what you see of a candle.

From the side; do not touch the glass or reach over the flame. Leave out what you did not look at.
Several wicks or directions: --pool "62 mm, 60 mm", --flame "22 mm, 20 mm".
"""


def _look_command() -> Any:
    def look(**given: Any) -> None:
        config, as_json = given.pop("config"), given.pop("as_json")
        station, given["sure"] = given.pop("station"), given.pop("yes")
        enter(config, "observations", station, given, as_json=as_json)

    options = {
        "station": Station,
        "mark": _MARK,
        **options_of(LOOK_FIELDS),
        "text": _TEXT,
        "yes": YesOption,
        "at": _AT,
        "by": ByOption,
        "config": ConfigOption,
        "as_json": JsonOption,
    }
    return with_options(look, options, ("station",))
