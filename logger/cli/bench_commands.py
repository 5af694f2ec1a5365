"""Commands about a whole bench: `run`, `check`, `watch`, `find`, `init`, `demo`."""

import gc
import json
from pathlib import Path
from typing import Annotated

import typer

from logger.cli.calculations import ConfigOption, JsonOption
from logger.cli.printed import print_line, print_report


def add_to(app: typer.Typer) -> None:
    """Register the commands."""
    app.command()(run)
    app.command()(check)
    app.command()(watch)
    app.command()(find)
    app.command()(init)
    app.command()(demo)


def run(config: ConfigOption = None) -> None:
    """Watch the bench until stopped with Ctrl-C."""
    gc.disable()  # what a start imports stays: to look for garbage in it takes a tenth of the time
    from logger import settings
    from logger.service.foreground import run_in_foreground

    try:
        run_in_foreground(settings.load(settings.find(config)))
    finally:
        gc.enable()


def check(config: ConfigOption = None, as_json: JsonOption = False) -> None:
    """Try each instrument, the broker and the page.

    Says what is wrong, how sure each figure is, and the limits in force.
    """
    from logger import settings
    from logger.service.checking import check_bench

    report = check_bench(settings.load(settings.find(config)))
    raise typer.Exit(print_report(report, as_json=as_json))


def watch(
    once: Annotated[bool, typer.Option("--once", help="show it once, and end")] = False,
    config: ConfigOption = None,
    as_json: JsonOption = False,
) -> None:
    """Show the running bench in a terminal, live.

    It says at once when it is cut off. Into a file or a pipe it writes what has changed. With
    NO_COLOR in the environment nothing is highlighted.
    """
    from logger import settings
    from logger.service import client
    from logger.service.watch_terminal import watch as watch_terminal
    from logger.service.watching import SILENT_S

    bench = settings.load(settings.find(config))
    if as_json:
        print(json.dumps(client.LiveBench(bench, SILENT_S).now()))
        return
    try:
        watch_terminal(bench, once=once)
    except KeyboardInterrupt:
        return


def find(config: ConfigOption = None, as_json: JsonOption = False) -> None:
    """Find serial ports, 1-Wire and Bluetooth sensors.

    What it prints can be pasted into the configuration.
    """
    from logger import settings
    from logger.errors import SettingsError
    from logger.service.finding import find_instruments
    from logger.service.found_text import lines

    try:
        bench = settings.load(settings.find(config))
    except SettingsError:
        if config is not None:
            raise
        bench = None  # a newcomer has none yet, or none that can be read
    found = find_instruments(bench)
    if as_json:
        print(json.dumps(found.message()))
        return
    for line in lines(found) if bench is None else lines(found, bench.words):
        print(line)


def init(
    name: Annotated[
        str,
        typer.Option(metavar="NAME", help="of the bench; else that of this computer"),
    ] = "",
    station: Annotated[
        list[str] | None,
        typer.Option(metavar="NAME", help="where a candle burns, once for each; else jar-a"),
    ] = None,
    material: Annotated[
        str, typer.Option(metavar="WORD", help="of the vessels: glass, ceramic or metal")
    ] = "",
    config: Annotated[
        Path | None, typer.Option(metavar="FILE", help="the file to make; else bench.toml here")
    ] = None,
) -> None:
    """Write a first bench.toml from what is in reach.

    Nothing is asked, and no file is written over. Without instruments it is a bench for readings
    by hand.
    """
    from logger import settings
    from logger.service.first_bench import make_first_bench
    from logger.service.found_text import hints

    path = settings.new_file(config)
    bench, found = make_first_bench(path, name=name, stations=station or (), material=material)
    stations = ", ".join(one.name for one in bench.stations)
    instruments = ", ".join(one.name for one in bench.instruments) or "none, you read by hand"
    for line in hints(found):
        print(line)
    print_line(f"wrote {path}: bench {bench.bench.name}; stations: {stations}")
    print(f"instruments: {instruments}")
    if bench.instruments:
        print("Open it and say where each probe is: at the room it is NOT watched for the limits.")
    if not material:
        print("Open it and say what the vessels are made of: until then the lowest limits apply.")
    print(
        "What else is in reach stands in it as remarks (#): use what is yours. "
        "Then: wickbench check"
    )


def demo(
    stay: Annotated[bool, typer.Option("--stay", help="leave the page up at the end")] = False,
    data: Annotated[
        Path | None, typer.Option(metavar="DIR", help="folder to leave everything in")
    ] = None,
    bench: Annotated[
        str, typer.Option(help="serial: one probe board; mixed: SCPI, Modbus, 1-Wire and a balance")
    ] = "serial",
    scenario: Annotated[
        str, typer.Option(help="first-light: put out at the limit; passing: stays under it")
    ] = "first-light",
    config: ConfigOption = None,
) -> None:
    """Watch a simulated candle, in about a minute."""
    from logger.service.demonstration import demonstrate

    demonstrate(data, stay=stay, bench=bench, scenario=scenario)
