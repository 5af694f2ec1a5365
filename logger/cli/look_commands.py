"""Commands for what is seen of a candle, and what a burn amounts to: `look`, `photo`, `show`."""

import json
from collections.abc import Iterator
from pathlib import Path
from typing import TYPE_CHECKING, Annotated, Any

import typer

from logger.burn.look import LOOK_FIELDS
from logger.cli.burn_commands import AtOption, ByOption, Station, YesOption, enter
from logger.cli.calculations import ConfigOption, JsonOption
from logger.cli.field_options import options_of, with_options
from logger.errors import DataError
from logger.messages import one_line
from logger.words import duration

if TYPE_CHECKING:
    from logger.reports.record_messages import BurnMessage

_MARK = Annotated[str, typer.Option("--mark", help='seen at this time of being lit, as "1 h"')]
_TEXT = Annotated[str, typer.Option("--text", help="whatever else you see")]
_AT = Annotated[str, typer.Option("--at", help='when: "now", "25 min ago", "14:05"'), "now"]


def add_to(burn: typer.Typer) -> None:
    """Register the commands."""
    burn.command("look", help=_HELP)(_look_command())
    burn.command()(photo)
    burn.command()(show)


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
    print(json.dumps(answer) if as_json else one_line(answer["text"]))


def show(station: Station, config: ConfigOption = None, as_json: JsonOption = False) -> None:
    """Show the latest burn of a station on one card.

    Length, peak, margin, wax used, what it proves, the verdict so far, and from when it may be lit
    again.
    """
    from logger import settings
    from logger.service import client, records

    loaded = settings.load(settings.find(config))
    found = client.burn(loaded, records.latest_burn(loaded.bench.data, station))
    if as_json:
        print(json.dumps(found))
        return
    for line in _card(found):
        print(one_line(line))


def _card(found: "BurnMessage") -> Iterator[str]:
    tester = f", {found['tester']}" if found["tester"] else ""
    yield f"{found['station']}: {found['trial']}{tester}, lit at {found['lit']}"
    yield from found["card"]
    yield from found["weighed"]["words"]
    yield from found["melt_pool"]["words"]
    yield f"what it proves: {'; '.join(one['text'] for one in found['proves'])}"
    missed = [duration(one["mark_s"]) for one in found["marks"] if one["state"] == "missed"]
    if missed:
        yield f"nobody looked at the marks of {', '.join(missed)}"
    if found["lit_again"] is not None:
        yield f"may be lit again from {found['lit_again']}, once the wax is solid throughout"
    yield f"the record: /burns/{found['burn']}/record on the bench's page"


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
