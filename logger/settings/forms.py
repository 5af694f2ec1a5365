"""The forms of values that a configuration holds, each strict about what it takes."""

import math
import re
from datetime import date, time
from enum import StrEnum
from pathlib import Path
from typing import TypeVar

from logger.errors import DataError
from logger.quantities import Quantity
from logger.settings.table import Form
from logger.units import Dimension, parse_difference, parse_quantity, unit_of

E = TypeVar("E", bound=StrEnum)

LONGEST = 4096  # characters of any text: what a path may have on Linux (limits.h, PATH_MAX)
_LONGEST_SHOWN = 80  # of what stands in the file, in a message about it

_NAME = re.compile(r"[a-z0-9-]+", re.ASCII)
_NO_CHANNEL = "-"  # stands for "no channel" in topics
_VARIABLE = re.compile(r"[A-Za-z_][A-Za-z0-9_]*", re.ASCII)
_ADDRESS = re.compile(r"(?:\[([0-9a-fA-F:.]+)\]|([^\s:/\[\]]+)):(\d{1,5})", re.ASCII)


def is_name(text: str) -> bool:
    """Whether `text` can name a station, an instrument or a channel."""
    return _NAME.fullmatch(text) is not None and text != _NO_CHANNEL


def name(example: str) -> Form[str]:
    """A name: small letters, digits and hyphens, as topics and files can carry it."""

    def read(value: object) -> str:
        words = _text(value, example)
        if not is_name(words):
            raise DataError(
                f'"{words}" is no name; write small letters, digits and hyphens, as in {example}'
            )
        return words

    return Form(read=read, example=example)


def text(example: str) -> Form[str]:
    """Any text but an empty one."""
    return Form(read=lambda value: _text(value, example), example=example)


def texts(example: str) -> Form[tuple[str, ...]]:
    """A list of texts."""

    def read(value: object) -> tuple[str, ...]:
        if not isinstance(value, list):
            raise DataError(f"{_seen(value)} is no list; write {example}")
        return tuple(_text(each, example) for each in value)

    return Form(read=read, example=example)


def path(folder: Path, example: str) -> Form[Path]:
    """A file or folder; a relative one lies beside the configuration, ~ is the home folder."""

    def read(value: object) -> Path:
        words = _text(value, example)
        try:
            return folder / Path(words).expanduser()
        except RuntimeError as exc:
            raise DataError(f'"{words}" has no home folder here; write a full path') from exc

    return Form(read=read, example=example)


def whole(low: int, high: int, example: str) -> Form[int]:
    """A whole number from `low` to `high`."""

    def read(value: object) -> int:
        if not isinstance(value, int) or isinstance(value, bool) or not low <= value <= high:
            raise DataError(
                f"{_seen(value)} is no whole number from {low} to {high}; write {example}, say"
            )
        return value

    return Form(read=read, example=example)


def choice(members: type[E], example: E) -> Form[E]:
    """One word of a list."""

    def read(value: object) -> E:
        try:
            return members(_text(value, f'"{example}"'))
        except ValueError:
            words = ", ".join(f'"{member}"' for member in members)
            raise DataError(f"{_seen(value)} is not known; write one of {words}") from None

    return Form(read=read, example=f'"{example}"')


def quantity(of: Quantity | Dimension, example: str) -> Form[float]:
    """A number with its unit, in the unit used inside."""
    return Form(read=lambda value: parse_quantity(_with_unit(value, example), of), example=example)


def difference(of: Quantity, example: str) -> Form[float]:
    """A difference of two values of a channel, in the unit used inside."""
    return Form(
        read=lambda value: parse_difference(_with_unit(value, example), of), example=example
    )


def more_than_zero(form: Form[float]) -> Form[float]:
    """`form`, but neither zero nor less."""

    def read(value: object) -> float:
        number = form.read(value)
        if number <= 0.0:
            raise DataError(
                f"{_seen(value)} is not more than zero; write for example {form.example}"
            )
        return number

    return Form(read=read, example=form.example)


def unit_name(of: Quantity | Dimension, example: str) -> Form[str]:
    """The name of a unit, as the tables spell it."""
    return Form(read=lambda value: unit_of(_text(value, example), of).name, example=example)


def _flag(value: object) -> bool:
    if not isinstance(value, bool):
        raise DataError(f"{_seen(value)} is neither; write true or false")
    return value


def _emissivity(value: object) -> float:
    number = float(value) if isinstance(value, int | float) else math.nan
    if isinstance(value, bool) or not 0.0 < number <= 1.0:
        raise DataError(
            f"{_seen(value)} is no emissivity; write a number over 0 up to 1, 0.92 for glass"
        )
    return number


def _variable(value: object) -> str:
    words = _text(value, '"WICKBENCH_PASSWORD"')
    if _VARIABLE.fullmatch(words) is None:
        raise DataError(
            f'"{words}" is no name of an environment variable; write one as "WICKBENCH_PASSWORD"'
        )
    return words


def _address(value: object) -> tuple[str, int]:
    match = _ADDRESS.fullmatch(_text(value, '"127.0.0.1:8470"'))
    if match is None or int(match[3]) > 65_535:
        raise DataError(f'{_seen(value)} is no address and port; write "127.0.0.1:8470"')
    return match[1] or match[2], int(match[3])


def _separator(value: object) -> str:
    if not isinstance(value, str) or len(value) != 1 or re.fullmatch(r"[-+.\w\"'\n\r]", value):
        raise DataError(
            f'{_seen(value)} is no separator; write one sign such as "," or ";" or "\\t"'
        )
    return value


def _web_address(value: object) -> str:
    words = _text(value, '"http://127.0.0.1:8086"')
    # Neither this nor the host is repeated in the message: people put passwords into addresses.
    if re.fullmatch(r"https?://[^\s/@]+(/[^\s@]*)?", words) is None:
        raise DataError(f"is no plain web address; write one as {WEB_ADDRESS.example}")
    return words


def _host(value: object) -> str:
    words = _text(value, '"127.0.0.1"')
    if re.fullmatch(r"[^\s/@:]+|[0-9a-fA-F:]+", words) is None:
        raise DataError(f"is no host name or address alone; write one as {HOST.example}")
    return words


FLAG = Form(read=_flag, example="true")
EMISSIVITY = Form(read=_emissivity, example="0.92")
VARIABLE = Form(read=_variable, example='"WICKBENCH_PASSWORD"')
ADDRESS = Form(read=_address, example='"127.0.0.1:8470"')
SEPARATOR = Form(read=_separator, example='","')
HOST = Form(read=_host, example='"127.0.0.1"')
WEB_ADDRESS = Form(read=_web_address, example='"http://127.0.0.1:8086"')


def _text(value: object, example: str) -> str:
    if not isinstance(value, str):
        raise DataError(f"{_seen(value)} is no text; write it in quotes, as in {example}")
    if len(value) > LONGEST:
        raise DataError(f"{_seen(value)} is too long; write at most {LONGEST} characters")
    if not value.strip() or not value.isprintable():
        raise DataError(f"{value!a} is empty or cannot be printed; write for example {example}")
    return value


def _with_unit(value: object, example: str) -> str:
    if isinstance(value, int | float) and not isinstance(value, bool):
        raise DataError(f"{value} has no unit; write it in quotes, as in {example}")
    return _text(value, example)


def _seen(value: object) -> str:
    """What stands in the file, in a word or two."""
    match value:
        case str() if len(value) > _LONGEST_SHOWN:
            return _seen(f"{value[: _LONGEST_SHOWN - 1]}…")
        case str():
            return f'"{value}"' if value.isprintable() else f"{value!a}"
        case bool():
            return str(value).lower()
        case int() | float():
            return str(value)
        case date() | time():
            return "a date or time"
        case list():
            return "a list"
        case _:
            return "a table"
