"""Commands that keep what was recorded safe: `backup`, `verify`, `export`, `import`."""

import json
from pathlib import Path
from typing import Annotated

import typer

from logger.cli.calculations import ConfigOption, JsonOption
from logger.cli.completion import trial_names
from logger.cli.printed import print_line, print_report

ForceOption = Annotated[bool, typer.Option("--force", help="replace a file that is there")]


def add_to(app: typer.Typer) -> None:
    """Register the commands."""
    app.command()(backup)
    app.command()(verify)
    app.command()(export)
    app.command("import")(import_)


def backup(
    file: Annotated[Path, typer.Argument(metavar="FILE", help="best on another disk")],
    force: ForceOption = False,
    config: ConfigOption = None,
    as_json: JsonOption = False,
) -> None:
    """Copy all that is recorded, also while it runs.

    The copy is one file, read again and intact before it takes its name; photos lie in the folder
    FILE.photos. To go back to it: stop the service, make a new folder, copy FILE there as
    bench.sqlite3 and FILE.photos as photos, name the folder as `data` under [bench], and start.
    """
    from logger import settings
    from logger.store.backup import back_up
    from logger.store.photos import folder_of

    made = back_up(settings.load(settings.find(config)).bench.data, file, force=force)
    if as_json:
        rows = dict(made.counts)
        message = {"file": str(made.path), "bytes": made.bytes, "rows": rows}
        print(json.dumps({**message, "photos": made.photos}))
        return
    print(f"{made.path}: {made.bytes / 1e6:.1f} MB, read again and intact")
    if made.photos:
        print(f"photos beside it: {made.photos}, in {folder_of(made.path)}")


def verify(
    path: Annotated[
        Path | None, typer.Argument(metavar="FILE|FOLDER", help="a backup; else the bench's data")
    ] = None,
    config: ConfigOption = None,
    as_json: JsonOption = False,
) -> None:
    """Check that all that is recorded is intact.

    Reads every page and row, and tries to write each burn's record. Names the times of a burn
    without readings; these are not a fault of the file. Exit code 4 if something is damaged.
    """
    from logger import settings
    from logger.service.verifying import verify as look

    report = look(path or settings.load(settings.find(config)).bench.data)
    raise typer.Exit(print_report(report, as_json=as_json))


def export(
    burn: Annotated[
        str,
        typer.Option(metavar="BURN_ID", help="one burn, with an hour before it and its cool-down"),
    ] = "",
    trial: Annotated[str, typer.Option(help="all its burns", autocompletion=trial_names)] = "",
    from_: Annotated[str, typer.Option("--from", help='"2031-05-04", or with time and zone')] = "",
    to: Annotated[str, typer.Option("--to", help="up to then; else up to now")] = "",
    output: Annotated[
        Path | None,
        typer.Option("-o", "--output", metavar="FILE.csv|FILE.zip", help="else to the terminal"),
    ] = None,
    license_: Annotated[
        str, typer.Option("--license", metavar="NAME|URL", help="of FILE.zip: CC-BY-4.0")
    ] = "",
    force: ForceOption = False,
    config: ConfigOption = None,
    as_json: JsonOption = False,
) -> None:
    """Write readings as CSV, or all as a data package.

    The columns of FILE.csv are time,channel,value as `replay` and `import` take them: in order of
    arrival, the value as it came, in the channel's configured unit.

    FILE.zip is a data package (Frictionless, version 1) of the bench, a trial or a burn: readings
    and estimates with their uncertainty, burns, entries, alarms, photos, records of the shelf and
    the settings in force. Others can read it, and `import` takes it back.
    """
    from logger import settings
    from logger.clock import RealClock
    from logger.errors import DataError, UsageError
    from logger.service.exporting import Selection, export_package
    from logger.service.exporting import export as write
    from logger.timestamps import parse_day_or_at

    def instant(option: str, text: str) -> float | None:
        try:
            return parse_day_or_at(text, RealClock().now_s()) if text else None
        except DataError as exc:
            raise UsageError(f"--{option}: {exc}") from None

    if as_json and output is None:
        raise UsageError("--json needs -o FILE.csv: the readings themselves are CSV")
    wanted = Selection(
        burn=burn, trial=trial, from_s=instant("from", from_), to_s=instant("to", to)
    )
    bench = settings.load(settings.find(config))
    if output is not None and output.suffix.lower() == ".zip":
        made = export_package(bench, wanted, output, licence=license_, force=force)
        for line in [json.dumps(made.message())] if as_json else made.lines():
            print_line(line)
        return
    if license_:
        raise UsageError("--license belongs to a data package: -o FILE.zip")
    count = write(bench, wanted, output, force=force)
    if as_json:
        print(json.dumps({"file": str(output), "readings": count}))
    elif output is not None:
        print(f"{output}: {count} readings")


def import_(
    file: Annotated[
        Path,
        typer.Argument(
            metavar="FILE.csv|FILE.zip", help="time,channel,value; a data package; or see --map"
        ),
    ],
    map_: Annotated[
        Path | None,
        typer.Option("--map", metavar="MAP.toml", help="FILE is a table of burns, kept by hand"),
    ] = None,
    yes: Annotated[bool, typer.Option("--yes", help="with --map: import it")] = False,
    dry_run: Annotated[
        bool, typer.Option("--dry-run", help="only say what would be imported")
    ] = False,
    config: ConfigOption = None,
    as_json: JsonOption = False,
) -> None:
    """Import readings, burns kept by hand, or a package.

    FILE.zip, or the folder it was unpacked into, is a data package as `export` writes it: its
    burns, entries, readings, estimates, photos and records come in as they were, and are judged
    the same. What is there already, and says the same, is passed over.

    Of a file all comes in or nothing, marked as imported; the same again changes nothing, and a
    running service must be stopped first. Readings of FILE.csv are taken only for times in which
    this bench recorded nothing itself. They make no estimate and no burn and raise no alarm, so no
    curve shows them: `replay` judges such a file, and writes a record of it.

    With --map, each row of FILE is a burn, and MAP says what its columns mean; `wickbench docs
    keeping` has an example. First it only says what would come in and what that proves; with
    --yes it comes in.
    """
    from logger import settings
    from logger.errors import UsageError
    from logger.service.importing import import_readings
    from logger.service.importing_package import import_package
    from logger.service.package_reading import is_package
    from logger.timestamps import rfc3339

    if map_ is not None:
        _import_table(file, map_, dry_run=dry_run or not yes, config=config, as_json=as_json)
        return
    if yes:
        raise UsageError("--yes belongs to --map; without a map the readings come in at once")
    if is_package(file):
        brought = import_package(settings.load(settings.find(config)), file, dry_run=dry_run)
        message = brought.message(imported=not dry_run)
        for line in [json.dumps(message)] if as_json else brought.lines(imported=not dry_run):
            print_line(line)
        return
    found = import_readings(settings.load(settings.find(config)), file, dry_run=dry_run)
    if as_json:
        message = {
            "readings": found.rows,
            "from": rfc3339(found.from_s),
            "to": rfc3339(found.to_s),
            "imported": not found.before and not dry_run,
            "before": found.before or None,
        }
        print(json.dumps(message))
        return
    if found.before:
        print_line(f"nothing was changed: its {found.rows} readings were {found.before} before")
        return
    done = "would be imported" if dry_run else "imported"
    print(f"{found.rows} readings of {rfc3339(found.from_s)} to {rfc3339(found.to_s)} {done}")
    print(
        "They are kept and exported as they came. They are no burn, and no curve shows them: for a"
        " curve, a verdict and a record use `wickbench replay`."
    )


def _import_table(
    file: Path, map_: Path, *, dry_run: bool, config: Path | None, as_json: bool
) -> None:
    import asyncio

    from logger import settings
    from logger.service.importing_burns import import_burns

    bench = settings.load(settings.find(config))
    found = asyncio.run(import_burns(bench, file, map_, dry_run=dry_run))
    if as_json:
        print(json.dumps(found.message(imported=not dry_run)))
        return
    for line in found.lines(imported=not dry_run):
        print_line(line)
