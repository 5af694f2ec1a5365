"""Commands that need no service: `average`, `emissivity` and `replay`."""

import json
import sys
from pathlib import Path
from typing import Annotated

import typer

from logger.cli.numbers import number_option
from logger.errors import DataError, SettingsError, UsageError

ConfigOption = Annotated[
    Path | None, typer.Option("--config", metavar="FILE", help="the bench's configuration")
]
UnitOption = Annotated[
    str, typer.Option("--unit", help="degC, degF or kelvin; else as the bench shows")
]
JsonOption = Annotated[bool, typer.Option("--json", help="print JSON")]


PATCH_EMISSIVITY = 0.95  # of masking tape, as in the table of finishes


def add_to(app: typer.Typer) -> None:
    """Register the commands."""
    # Values below zero look like options; what no option takes is a value.
    app.command(context_settings={"ignore_unknown_options": True})(average)
    app.command(context_settings={"ignore_unknown_options": True})(emissivity)
    app.command()(replay)


def symbol(unit: str) -> str:
    """A unit of temperature as people write it: "°F"."""
    from logger.quantities import Quantity
    from logger.units import unit_of

    return unit_of(unit, Quantity.TEMPERATURE).symbol


def typed_unit(unit: str, config: Path | None) -> str:
    """The unit in which temperatures were typed: `unit`, else the one that the bench shows.

    Raises SettingsError where the named configuration cannot be read.
    """
    from logger import settings
    from logger.quantities import Quantity

    if unit:
        return unit
    try:
        show = settings.load(settings.find(config)).bench.show
    except SettingsError:
        if config is not None:
            raise
        show = {}  # none is needed to average
    return show.get(Quantity.TEMPERATURE.value, Quantity.TEMPERATURE.unit)


def average(
    values: Annotated[list[str], typer.Argument(metavar="VALUE", help="readings of one place")],
    unit: UnitOption = "",
    emissivity: Annotated[
        float | None, number_option("infrared: of the surface, 0.92 for bare glass")
    ] = None,
    emissivity_set: Annotated[
        float | None,
        number_option("infrared: what the thermometer is set to; 0.95 for a fixed one"),
    ] = None,
    reflected: Annotated[
        str | None,
        typer.Option(help='infrared: reflected temperature, mostly the room, as "22 degC"'),
    ] = None,
    config: ConfigOption = None,
    as_json: JsonOption = False,
) -> None:
    """Average readings of one place taken by hand.

    Flame hits are set aside and shown.
    """
    from logger.service import typed_readings

    result = typed_readings.average(
        values,
        unit=typed_unit(unit, config),
        emissivity=emissivity,
        emissivity_set=emissivity_set,
        reflected=reflected,
    )
    if as_json:
        print(json.dumps(result))
        return
    expanded = 2.0 * result["standard_uncertainty"]  # k = 2 (GUM 6.2.1)
    print(f"{result['value']:.1f} ± {expanded:.1f} {symbol(result['unit'])}")
    print(f"used: {' '.join(str(value) for value in result['used'])}")
    if result["set_aside"]:
        hits = " ".join(str(value) for value in result["set_aside"])
        print(f"set aside, far above the rest (the flame?): {hits}")


def emissivity(
    bare: Annotated[str, typer.Argument(metavar="READING", help="of the surface itself")],
    patch: Annotated[
        str, typer.Option(help="reading of a patch beside it: masking tape or matte paint")
    ],
    reflected: Annotated[str, typer.Option(help='reflected temperature of both, as "22 degC"')],
    patch_emissivity: Annotated[
        float, number_option("of the patch: 0.95 for tape, 0.97 for matte paint")
    ] = PATCH_EMISSIVITY,
    unit: UnitOption = "",
    config: ConfigOption = None,
    as_json: JsonOption = False,
) -> None:
    """Find a surface's emissivity from a patch on it.

    The patch is on this very vessel, warm but not lit. Take an empty vessel, warm it slowly
    (glass cracks from a sudden change) and fill it with hot water, at least 15 K above the
    room. Read patch and surface in turn, a few times each with one setting of the thermometer,
    and give the means. Before the vessel is ever lit take the tape off and dry the vessel
    fully: water under wax spits when it burns.
    """
    from logger.service import typed_readings

    found = typed_readings.emissivity(
        bare,
        patch,
        unit=typed_unit(unit, config),
        reflected=reflected,
        patch_emissivity=patch_emissivity,
    )
    if as_json:
        print(json.dumps({"emissivity": round(found, 3)}))
        return
    print("for the channel in the configuration:")
    print(f"emissivity = {found:.3f}\nemissivity_measured = true")


def replay(
    file: Annotated[Path, typer.Argument(metavar="FILE.csv", help="columns time,channel,value")],
    config: ConfigOption = None,
    lit: Annotated[str | None, typer.Option(help="time of lighting, ISO 8601 or Unix s")] = None,
    out: Annotated[
        str | None, typer.Option(help="time of extinguishing, with --lit; ends with a verdict")
    ] = None,
    record: Annotated[
        Path | None,
        typer.Option(
            metavar="FILE.html", help="write the record of the burn, with --lit and --out"
        ),
    ] = None,
    as_json: Annotated[
        bool, typer.Option("--json", help="changes nothing: it prints JSON anyway")
    ] = False,
) -> None:
    """Judge recorded readings as if they were live.

    Prints estimates, alarms and burns as JSON lines.
    """
    from logger import settings
    from logger.service.replay import lines
    from logger.timestamps import parse_instant

    def instant(option: str, text: str | None) -> float | None:
        try:
            return None if text is None else parse_instant(text)
        except DataError as exc:
            raise UsageError(f"--{option}: {exc}") from None

    loaded = settings.load(settings.find(config))
    for line in lines(loaded, file, instant("lit", lit), instant("out", out), record):
        sys.stdout.write(line + "\n")
