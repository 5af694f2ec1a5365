"""Commands that change what was entered earlier: `burn entries`, `correct`, `withdraw`."""

import json
from typing import TYPE_CHECKING, Annotated, Any

import typer

from logger.burn.look import Look
from logger.burn.stated import Circumstances, Ending
from logger.cli.burn_commands import ByOption, Station, enter
from logger.cli.calculations import ConfigOption, JsonOption
from logger.cli.completion import trial_names
from logger.cli.field_options import asking
from logger.cli.numbers import number_option
from logger.cli.printed import local, print_line

if TYPE_CHECKING:
    from logger.reports.record_messages import EntryMessage

EntryId = Annotated[
    str, typer.Argument(metavar="ENTRY_ID", help="as `burn entries` shows it; its start is enough")
]
WhyOption = Annotated[str, typer.Option("--why", help="the reason; the record shows it")]


def add_to(burn: typer.Typer) -> None:
    """Register the commands."""
    burn.command("entries")(list_entries)
    burn.command()(correct)
    burn.command()(withdraw)


def list_entries(
    station: Station, config: ConfigOption = None, as_json: JsonOption = False
) -> None:
    """List what was entered at a station's latest burn."""
    from logger import settings
    from logger.service import records

    found = records.entries_of(settings.load(settings.find(config)).bench.data, station)
    if as_json:
        print(json.dumps(found))
        return
    for one in found:
        print_line(entry_line(one))


def withdraw(
    entry: EntryId,
    why: WhyOption,
    by: ByOption = "",
    config: ConfigOption = None,
    as_json: JsonOption = False,
) -> None:
    """Take back an entry that was a mistake.

    It no longer counts, an emergency included; the entry and your reason stay in the record.
    """
    enter(config, "withdraw", entry, {"why": why, "by": by}, as_json=as_json)


@asking(Circumstances, Ending, Look)
def correct(
    entry: EntryId,
    why: WhyOption,
    at: Annotated[str, typer.Option("--at", help='when it was so: "14:05", "25 min ago"')] = "",
    station: Annotated[str, typer.Option(help="a reading: the station it belongs to")] = "",
    values: Annotated[str, typer.Option(help='a reading: "54.0 54.2"')] = "",
    unit: Annotated[str, typer.Option(help="a reading: the unit its values were typed in")] = "",
    place: Annotated[str, typer.Option(help="a reading: wall, rim, base ...")] = "",
    height: Annotated[str, typer.Option(help='a reading: as "60 mm"')] = "",
    clock: Annotated[int, typer.Option(help="a reading: 1 to 12", show_default=False)] = 0,
    emissivity: Annotated[
        float, number_option("a reading: of the surface", show_default=False)
    ] = 0.0,
    emissivity_set: Annotated[
        float, number_option("a reading: the setting of the instrument", show_default=False)
    ] = 0.0,
    reflected: Annotated[str, typer.Option(help='a reading: as "22 degC"')] = "",
    trial: Annotated[
        str, typer.Option(help="a lighting: the trial", autocompletion=trial_names)
    ] = "",
    new_trial: Annotated[bool, typer.Option("--new-trial", help="it is a new one")] = False,
    tester: Annotated[str, typer.Option(help="a lighting: the code on the vessel")] = "",
    watched_by: Annotated[str, typer.Option(help="a lighting: who kept it in sight")] = "",
    mass: Annotated[str, typer.Option(help='a lighting, a weigh-in: as "532.4 g"')] = "",
    wax: Annotated[str, typer.Option(help='a lighting, a weigh-in: as "220 g"')] = "",
    text: Annotated[str, typer.Option(help="a note, a look, an emergency")] = "",
    what: Annotated[str, typer.Option("--emergency", help="what it was")] = "",
    clear: Annotated[
        list[str] | None, typer.Option(help="leave empty: tester, mass, wax ...", metavar="FIELD")
    ] = None,
    by: ByOption = "",
    config: ConfigOption = None,
    as_json: JsonOption = False,
    *,
    stated: dict[str, str],
) -> None:
    """Correct an entry: give only what is different.

    To empty a field, write `--clear wax`; repeat it for more fields: tester, watched_by, mass, wax,
    text, height, clock, emissivity, reflected, trimmed_to and the like; of a look any field.

    Alarms, the hottest place and the verdict are computed anew, as if it had been right. What was
    entered first, and your reason, stay in the record.
    """
    from logger.units import parse_number

    body: dict[str, Any] = {
        "why": why,
        "at": at,
        "station": station,
        "values": [parse_number(value) for value in values.split()],
        "unit": unit,
        "place": place,
        "height": height,
        "clock": clock,
        "emissivity": emissivity,
        "emissivity_set": emissivity_set,
        "reflected": reflected,
        "trial": trial,
        "new_trial": new_trial,
        "tester": tester,
        "watched_by": watched_by,
        "mass": mass,
        "wax": wax,
        "text": text,
        "emergency": what,
        "clear": clear or [],
        "by": by,
        **stated,
    }
    enter(config, "correct", entry, body, as_json=as_json)


def entry_line(one: "EntryMessage") -> str:
    """An entry with what became of it."""
    by = f" by {one['by']}" if one["by"] else ""
    line = f"{one['short_id']}  {local(one['at'])}{by}  {one['text']}"
    if one["changes"]:
        last = one["changes"][-1]
        counts = "withdrawn" if one["counts"] is None else f"now: {one['counts']}"
        line += f"  [{counts}; {last['why']}]"
    return line
