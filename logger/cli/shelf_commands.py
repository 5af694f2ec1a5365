"""Commands for records: `vessel`, `formula`, `pour` and so on, made of the fields of each kind."""

import inspect
import json
from collections.abc import Callable, Iterator
from pathlib import Path
from typing import TYPE_CHECKING, Annotated, Any

import typer

from logger.cli.burn_commands import ByOption
from logger.cli.calculations import ConfigOption, JsonOption
from logger.cli.correction_commands import WhyOption
from logger.cli.field_options import EMPTY, options_of
from logger.cli.printed import local, print_line
from logger.field_table import FieldForm, fields_of
from logger.shelf.catalogue import RECORDS

if TYPE_CHECKING:
    from logger.intake.shelf_messages import RecordVersionMessage, SheetMessage
    from logger.settings import Settings

RecordNameArgument = Annotated[str, typer.Argument(metavar="NAME", help="as it is called")]
ChangeWhyOption = Annotated[str, typer.Option("--why", help="the reason, if it needs one")]
ClearOption = Annotated[
    list[str] | None, typer.Option(help="a field that is to be empty", metavar="FIELD")
]


def add_to(app: typer.Typer) -> None:
    """Register a group for each kind."""
    for kind, makes in RECORDS.items():
        what = (makes.__doc__ or "").splitlines()[0]
        group = typer.Typer(help=what, no_args_is_help=True)
        group.command("list", help=f"List every {kind}, withdrawn ones too.")(_listing(kind))
        group.command("show", help=f"Show a {kind} with all its versions.")(_showing(kind))
        group.command("add", help=f"Put a {kind} on the shelf; a name is enough.")(
            _entering(kind, "add", name=RecordNameArgument, **options_of(makes), by=ByOption)
        )
        group.command("change", help=f"Change a {kind}; earlier versions stay.")(
            _entering(
                kind,
                "change",
                name=RecordNameArgument,
                **options_of(makes),
                clear=ClearOption,
                why=ChangeWhyOption,
                by=ByOption,
            )
        )
        group.command("withdraw", help=f"Withdraw a {kind}; it stays listed.")(
            _entering(kind, "withdraw", name=RecordNameArgument, why=WhyOption, by=ByOption)
        )
        app.add_typer(group, name=kind)


def _listing(kind: str) -> Callable[..., None]:
    def run(config: ConfigOption = None, as_json: JsonOption = False) -> None:
        from logger.service.shelving import shelf_of

        found = shelf_of(_bench(config).bench.data, kind)
        if as_json:
            print(json.dumps(found))
            return
        for one in found["records"]:
            print_line(_line(one))
        if not found["records"]:
            print(f"no {kind} is on the shelf; put one there: wickbench {kind} add NAME")

    return run


def _showing(kind: str) -> Callable[..., None]:
    def run(
        name: RecordNameArgument, config: ConfigOption = None, as_json: JsonOption = False
    ) -> None:
        from logger.service.shelving import sheet_of

        found = sheet_of(_bench(config), kind, name)
        if as_json:
            print(json.dumps(found))
            return
        for line in _sheet(found):
            print_line(line)

    return run


def _entering(kind: str, way: str, **options: Any) -> Callable[..., None]:
    """The command that posts what its `options` hold."""

    def run(**given: Any) -> None:
        from logger.service import client
        from logger.units import parse_number

        config, as_json, name = given.pop("config"), given.pop("as_json"), given["name"]
        if way != "add":
            del given["name"]
        for one in fields_of(RECORDS[kind]):
            if one.form is FieldForm.FIGURE and given.get(one.key):
                given[one.key] = parse_number(given[one.key])
        answer = client.put_record(_bench(config), kind, name, way, given)
        print_line(json.dumps(answer) if as_json else answer["text"])

    options |= {"config": ConfigOption, "as_json": JsonOption}
    needed = ("name",) if way != "withdraw" else ("name", "why")
    parameters = [
        inspect.Parameter(
            key,
            inspect.Parameter.KEYWORD_ONLY,
            annotation=hint,
            default=inspect.Parameter.empty if key in needed else EMPTY.get(hint.__origin__),
        )
        for key, hint in options.items()
    ]
    run.__signature__ = inspect.Signature(parameters)  # type: ignore[attr-defined]  # typer reads it
    run.__annotations__ = options
    return run


def _bench(config: Path | None) -> "Settings":
    from logger import settings

    return settings.load(settings.find(config))


def _line(one: "RecordVersionMessage") -> str:
    told = ", ".join(f"{_label(key)} {value}" for key, value in one["fields"].items())
    gone = f"  [withdrawn: {one['why']}]" if one["withdrawn"] else ""
    return f"{one['name']}  {told}".rstrip() + gone


def _sheet(found: "SheetMessage") -> Iterator[str]:
    yield f"{found['kind']} {found['name']}" + (
        f", withdrawn: {found['why']}" if found["withdrawn"] else ""
    )
    for key, value in found["fields"].items():
        made = found["checked"].get(key)
        by = f", {made['by'] or 'nobody said who'}, {local(made['at'])}" if made else ""
        yield f"  {_label(key)}: {value}{by}"
    for note in found["notes"]:
        yield f"  {note}"
    for one in found["versions"]:
        by = f" by {one['by']}" if one["by"] else ""
        why = f": {one['why']}" if one["why"] else ""
        yield f"  version {one['version']}, {local(one['at'])}{by}{why}"


def _label(key: str) -> str:
    return key.replace("_", " ")
