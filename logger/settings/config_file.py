"""Where the configuration lies, and reading it whole."""

import os
import re
import tomllib
from pathlib import Path
from typing import Any

import platformdirs
from pydantic import ValidationError

from logger.errors import SettingsError
from logger.settings.agreement import disagreements
from logger.settings.bench_keys import BenchKeys, Settings, settings
from logger.settings.limit_keys import over_default_limits
from logger.settings.problems import found_by, said
from logger.settings.toml_lines import key_lines, too_much_for_a_line

VARIABLE = "WICKBENCH_CONFIG"
_FILE = "bench.toml"
LONGEST_BYTES = 1024 * 1024  # of a configuration; a bench of 64 channels has 20 kB (our choice)
_LONG_NUMBER = re.compile(r"[\d_]{1000}", re.ASCII)
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
        [f"there is not a configuration: neither {looked} exists; {_how_to_make_one()}"]
    )


def new_file(path: Path | None) -> Path:
    """Where a first configuration goes: `path` if given, else by the environment, or here."""
    return path or Path(os.environ.get(VARIABLE) or _FILE).expanduser()


def load(path: Path) -> Settings:
    """Read the configuration at `path`; raises SettingsError with every fault in it."""
    return parse(_text_of(path), path)


def parse(text: str, path: Path) -> Settings:
    """The configuration that `text` says, as if it lay at `path`; raises as `load` does."""
    stated = _parsed(path.name, text)
    lines = key_lines(text)
    raw = stated | {"limits": over_default_limits(stated.get("limits", {}))}
    faults = list(disagreements(stated, lines))
    try:
        # the context is where relative paths begin
        keys = BenchKeys.model_validate(raw, context=path.resolve().parent)
    except ValidationError as exc:
        faults += found_by(exc, lines)
    if faults:
        raise SettingsError(said(path.name, lines, faults))
    return settings(keys, path.resolve(), text)


def _existing(path: Path, said_by: str) -> Path:
    if not path.is_file():
        raise SettingsError([f"{path}: no such file ({said_by}); {_how_to_make_one()}"])
    return path


def _how_to_make_one() -> str:
    return f"`wickbench init` writes a first {_FILE} here; or name yours: --config FILE"


def _text_of(path: Path) -> str:
    try:
        with path.open("rb") as file:
            content = file.read(LONGEST_BYTES + 1)
        if len(content) > LONGEST_BYTES:
            raise SettingsError(
                [f"{path.name}:1: longer than {LONGEST_BYTES} bytes; is it a configuration?"]
            )
        return content.decode("utf-8-sig")
    except OSError as exc:
        raise SettingsError([f"{path}: cannot be read: {exc.strerror}"]) from exc
    except UnicodeDecodeError as exc:
        line = exc.object[: exc.start].count(b"\n") + 1
        raise SettingsError(
            [f"{path.name}:{line}: not UTF-8 text; save the file in that encoding"]
        ) from exc


def _parsed(name: str, text: str) -> dict[str, Any]:
    line = too_much_for_a_line(text)
    if line is not None:
        raise SettingsError(
            [f"{name}:{line}: too long or nested too deep; write one key and its value a line"]
        )
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
    except ValueError:  # Python reads no whole number of more than 4,300 digits
        found = _LONG_NUMBER.search(text)
        line = text.count("\n", 0, found.start() if found else 0) + 1
        raise SettingsError([f"{name}:{line}: a number is too long; write fewer digits"]) from None
