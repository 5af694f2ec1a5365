"""Where the configuration lies, and reading it whole."""

import os
import re
import tomllib
from importlib.resources import files
from pathlib import Path
from typing import Any

import platformdirs

from logger.errors import SettingsError
from logger.quantities import Averaging
from logger.settings import instruments, sections
from logger.settings.lines import key_lines
from logger.settings.model import Settings
from logger.settings.table import Report, Table

VARIABLE = "WICKBENCH_CONFIG"
_FILE = "bench.toml"
_SYNTAX = re.compile(r"(.*) \(at (?:line (\d+), column (\d+)|end of document)\)", re.DOTALL)


def find(path: Path | None) -> Path:
    """The configuration to use: `path` if given, else by the environment, here, or the user's.

    Raises SettingsError, which says how to make one.
    """
    if path is not None:
        return _existing(path, "--config")
    if named := os.environ.get(VARIABLE):
        return _existing(Path(named).expanduser(), VARIABLE)
    places = (Path(_FILE), platformdirs.user_config_path("wickbench", appauthor=False) / _FILE)
    for place in places:
        if place.is_file():
            return place
    looked = " nor ".join(str(place) for place in places)
    raise SettingsError(
        [f"there is no configuration: neither {looked} exists; {_how_to_make_one()}"]
    )


def load(path: Path) -> Settings:
    """Read the configuration at `path`; raises SettingsError with every fault in it."""
    return parse(_text_of(path), path)


def parse(text: str, path: Path, *, stored: bool = False) -> Settings:
    """The configuration that `text` says, as if it lay at `path`; raises as `load` does.

    `stored`: kept with a burn, and right at its time; what is asked for since may be missing.
    """
    values = _parsed(path.name, text)
    report = Report(path.name, key_lines(text))
    root = Table(report, (), values)
    folder = path.resolve().parent
    averaging = sections.averaging(root.table("averaging"), Averaging())
    stations = sections.stations(root.tables("station"))
    mqtt, influx, web = (root.optional_table(key) for key in ("mqtt", "influx", "web"))
    settings = Settings(
        path=path.resolve(),
        text=text,
        bench=sections.bench(root.table("bench"), folder),
        limits=sections.limits(root.table("limits", beneath=sections.default_limits())),
        stations=stations,
        instruments=instruments.instruments(
            root.tables("instrument"), stations, averaging, stored=stored
        ),
        mqtt=sections.mqtt(mqtt, folder) if mqtt is not None else None,
        influx=sections.influx(influx, folder) if influx is not None else None,
        web=sections.web(web) if web is not None else None,
        alarms=sections.alarms(root.table("alarms")),
    )
    root.done()
    report.raise_if_any()
    return settings


def _existing(path: Path, said_by: str) -> Path:
    if not path.is_file():
        raise SettingsError([f"{path}: no such file ({said_by}); {_how_to_make_one()}"])
    return path


def _how_to_make_one() -> str:
    example = files("config").joinpath(_FILE)
    return f"copy the example {example} to {_FILE} here and edit it, or name yours by --config"


def _text_of(path: Path) -> str:
    try:
        return path.read_bytes().decode("utf-8-sig")
    except OSError as exc:
        raise SettingsError([f"{path}: cannot be read: {exc.strerror}"]) from exc
    except UnicodeDecodeError as exc:
        line = exc.object[: exc.start].count(b"\n") + 1
        raise SettingsError(
            [f"{path.name}:{line}: not UTF-8 text; save the file in that encoding"]
        ) from exc


def _parsed(name: str, text: str) -> dict[str, Any]:
    try:
        return tomllib.loads(text)
    except tomllib.TOMLDecodeError as exc:
        match = _SYNTAX.fullmatch(str(exc))
        what = match[1] if match else str(exc)
        where = match[2] if match and match[2] else text.count("\n") + 1
        column = f", column {match[3]}" if match and match[3] else ""
        raise SettingsError(
            [
                f"{name}:{where}: not TOML: {what}{column}; write key = value, and text and "
                'quantities in quotes, as in height = "60 mm"'
            ]
        ) from exc
