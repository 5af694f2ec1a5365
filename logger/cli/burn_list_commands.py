"""Commands that find burns of before: `burn list`, `burn show`, `burn record`."""

import json
from collections.abc import Iterator
from pathlib import Path
from typing import TYPE_CHECKING, Annotated

import typer

from logger.cli.calculations import ConfigOption, JsonOption
from logger.cli.completion import trial_names
from logger.cli.correction_commands import entry_line
from logger.cli.printed import local, print_line

if TYPE_CHECKING:
    from logger.burn.model import Burn
    from logger.reports.record_messages import BurnMessage

BurnArgument = Annotated[
    str, typer.Argument(metavar="BURN", help="its number or id, or a station: its latest burn")
]


def add_to(burn: typer.Typer) -> None:
    """Register the commands."""
    burn.command("list")(list_burns)
    burn.command()(show)
    burn.command()(record)


def list_burns(
    trial: Annotated[str, typer.Option(help="of this trial", autocompletion=trial_names)] = "",
    vessel: Annotated[str, typer.Option(help="in this vessel")] = "",
    wick: Annotated[str, typer.Option(help="with this wick")] = "",
    tester: Annotated[str, typer.Option(help="with this code on the vessel")] = "",
    from_: Annotated[str, typer.Option("--from", help='lit since: "2031-05-04"')] = "",
    to: Annotated[str, typer.Option("--to", help="lit until; a day is included")] = "",
    config: ConfigOption = None,
    as_json: JsonOption = False,
) -> None:
    """List burns, the latest first; withdrawn ones too."""
    from logger import settings
    from logger.reports.burn_list import burn_list
    from logger.service import records

    asked = {"trial": trial, "vessel": vessel, "wick": wick, "tester": tester}
    data = settings.load(settings.find(config)).bench.data
    found = records.listed(data, {**asked, "from": from_, "to": to})
    if as_json:
        print(json.dumps(burn_list(found)))
        return
    for one in found:
        print_line(_line(one))
    if not found:
        print("no burn was found")


def show(burn: BurnArgument, config: ConfigOption = None, as_json: JsonOption = False) -> None:
    """Show one burn on a card, with what was entered.

    Length, peak, margin, wax used, what it proves, the verdict so far, and from when the candle may
    be lit again.
    """
    from logger import settings
    from logger.service import client, records

    loaded = settings.load(settings.find(config))
    if any(one.name == burn for one in loaded.stations):
        burn = records.latest_burn(loaded.bench.data, burn)
    found = client.burn(loaded, burn)
    if as_json:
        print(json.dumps(found))
        return
    for line in _sheet(found):
        print_line(line)


def record(
    burn: BurnArgument,
    file: Annotated[
        Path | None, typer.Argument(metavar="FILE.html|FILE.pdf", help="else burn-NUMBER.html here")
    ] = None,
    config: ConfigOption = None,
    as_json: JsonOption = False,
) -> None:
    """Write the record of a burn, to print or hand over.

    The page shows the same under "The record". A file that is there is replaced.
    """
    from logger import settings
    from logger.reports.document_files import FileForm, document_file, usual_paper
    from logger.reports.write import write
    from logger.service import records

    loaded = settings.load(settings.find(config))
    if any(one.name == burn for one in loaded.stations):
        burn = records.latest_burn(loaded.bench.data, burn)
    path = file or Path(f"burn-{burn}.html")
    form = FileForm.PDF if path.suffix.lower() == ".pdf" else FileForm.HTML
    made = records.record_document(loaded.bench.data, burn)
    write(path, document_file(made, form, usual_paper(loaded.words)))
    if as_json:
        print(json.dumps({"file": str(path)}))
    else:
        print_line(str(path))


def _line(one: "Burn") -> str:
    from logger.timestamps import local_minute
    from logger.words import duration

    length = "burning" if one.out_s is None else duration(one.elapsed_s(one.out_s))
    parts = [local_minute(one.lit_s), one.trial, one.tester, one.vessel, one.wick, length]
    line = f"{one.short_id}  {'  '.join(filter(None, parts))}"
    return f"{line}  [withdrawn]" if one.withdrawn else line


def _sheet(found: "BurnMessage") -> Iterator[str]:
    from logger.words import duration

    name = found["number"] or found["burn"]
    gone = ", withdrawn" if found["withdrawn"] else ""
    yield f"burn {name} of {found['trial']} at {found['station']}, lit {local(found['lit'])}{gone}"
    for label in ("tester", "vessel", "wick", "reason"):
        if found[label]:
            yield f"  {label}: {found[label]}"
    for line in (*found["card"], *found["weighed"]["words"], *found["melt_pool"]["words"]):
        yield f"  {line}"
    for one in found["proves"]:
        yield f"  proves: {one['text']}"
    missed = [duration(one["mark_s"]) for one in found["marks"] if one["state"] == "missed"]
    if missed:
        yield f"  nobody looked at the marks of {', '.join(missed)}"
    if found["lit_again"] is not None:
        again = local(found["lit_again"])
        yield f"  may be lit again from {again}, once the wax is solid throughout"
    for entry in found["entries"]:
        yield f"  {entry_line(entry)}"
    yield f"  record: /burns/{name}/record"
