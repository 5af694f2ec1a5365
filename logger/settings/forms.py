"""The forms of values that a configuration holds, each strict about what it takes."""

import math
import re
from collections.abc import Sequence
from datetime import date, time
from pathlib import Path
from typing import Annotated

from pydantic import AfterValidator, ValidationInfo

from logger.conditioning.infrared import LEAST_EMISSIVITY
from logger.errors import DataError
from logger.quantities import Quantity
from logger.settings.keys import Form
from logger.units import Dimension, parse_difference, parse_quantity, unit_of

LONGEST = 4096  # characters of any text: what a path may have on Linux (limits.h, PATH_MAX)
_LONGEST_SHOWN = 80  # of what stands in the file, in a message about it

_NAME = re.compile(r"[a-z0-9-]+", re.ASCII)
_NO_CHANNEL = "-"  # stands for "no channel" in topics
_VARIABLE = re.compile(r"[A-Za-z_][A-Za-z0-9_]*", re.ASCII)
_A_UNIT = {"pattern": r"[0-9]\s*[^\s0-9.,+-]"}  # behind a number
TEXT_OR_WHOLE = {"type": ["string", "integer"]}
_ADDRESS = re.compile(r"(?:\[([0-9a-fA-F:.]+)\]|([^\s:/\[\]]+)):(\d{1,5})", re.ASCII)


def is_name(text: object) -> bool:
    """Whether `text` can name a station, an instrument or a channel."""
    return isinstance(text, str) and _NAME.fullmatch(text) is not None and text != _NO_CHANNEL


def name(example: str) -> Form:
    """A name: small letters, digits and hyphens, as topics and files can carry it."""

    def read(value: object) -> str:
        words = _text(value, example)
        if not is_name(words):
            raise DataError(
                f'"{words}" is not a name; write small letters, digits and hyphens, as in {example}'
            )
        return words

    return Form(read, example, {"pattern": f"^{_NAME.pattern}$"})


def word(example: str) -> Form:
    """One of the words that its type lists."""
    return Form(lambda value: value, example)


def text(example: str) -> Form:
    """Any text but an empty one."""
    return Form(lambda value: _text(value, example), example)


def texts(example: str) -> Form:
    """A list of texts."""

    def read(value: object) -> tuple[str, ...]:
        if not isinstance(value, Sequence) or isinstance(value, str):
            raise DataError(f"{seen(value)} is not a list; write {example}")
        return tuple(_text(each, example) for each in value)

    return Form(read, example)


def _path(value: object) -> Path:
    if isinstance(value, Path):  # from another part of this program
        return value
    words = _text(value, '"bench-data" or "~/bench-data"')
    try:
        return Path(words).expanduser()
    except RuntimeError as exc:
        raise DataError(f'"{words}" has no home folder here; write a full path') from exc


def _beside(path: Path, info: ValidationInfo) -> Path:
    return path if info.context is None else info.context / path


def whole(low: int, high: int, example: str) -> Form:
    """A whole number from `low` to `high`."""

    def read(value: object) -> int:
        if not isinstance(value, int) or isinstance(value, bool) or not low <= value <= high:
            raise DataError(
                f"{seen(value)} is not a whole number from {low} to {high}; write {example}, say"
            )
        return value

    return Form(read, example, {"minimum": low, "maximum": high})


def quantity(of: Quantity | Dimension, example: str) -> Form:
    """A number with its unit, in the unit used inside."""
    return Form(lambda value: parse_quantity(_with_unit(value, example), of), example, _A_UNIT)


def difference(of: Quantity, example: str) -> Form:
    """A difference of two values of a channel, in the unit used inside."""
    return Form(lambda value: parse_difference(_with_unit(value, example), of), example, _A_UNIT)


def more_than_zero(form: Form) -> Form:
    """`form`, but neither zero nor less."""

    def read(value: object) -> float:
        number: float = form.read(value)
        if number <= 0.0:
            raise DataError(
                f"{seen(value)} is not more than zero; write for example {form.example}"
            )
        return number

    return Form(read, form.example, form.limits)


def duration(example: str) -> Form:
    """A time that something lasts, more than none, in seconds."""
    return more_than_zero(quantity(Dimension.DURATION, example))


def unit_name(of: Quantity | Dimension, example: str) -> Form:
    """The name of a unit, as the tables spell it."""
    return Form(lambda value: unit_of(_text(value, example), of).name, example)


def _emissivity(value: object) -> float:
    number = float(value) if isinstance(value, int | float) else math.nan
    if isinstance(value, bool) or not LEAST_EMISSIVITY <= number <= 1.0:
        raise DataError(
            f"{seen(value)} is not an emissivity; write a number from {LEAST_EMISSIVITY:g} to 1, "
            "0.92 for glass"
        )
    return number


def _scale(value: object) -> float:
    number = float(value) if isinstance(value, int | float) else math.nan
    if isinstance(value, bool) or not math.isfinite(number) or number == 0.0:
        raise DataError("is not a number other than zero; write what one count is worth, as 0.1")
    return number


def _variable(value: object) -> str:
    words = _text(value, '"WICKBENCH_PASSWORD"')
    if _VARIABLE.fullmatch(words) is None:
        raise DataError(
            f'"{words}" is not a name of an environment variable; write one as "WICKBENCH_PASSWORD"'
        )
    return words


def _address(value: object) -> tuple[str, int]:
    match = _ADDRESS.fullmatch(_text(value, '"127.0.0.1:8470"'))
    if match is None or int(match[3]) > 65_535:
        raise DataError(f'{seen(value)} is not an address and port; write "127.0.0.1:8470"')
    return match[1] or match[2], int(match[3])


def _web_address(value: object) -> str:
    words = _text(value, '"http://127.0.0.1:8086"')
    # Neither this nor the host is repeated in the message: people put passwords into addresses.
    if re.fullmatch(r"https?://[^\s/@]+(/[^\s@]*)?", words) is None:
        raise DataError('is not a plain web address; write one as "http://127.0.0.1:8086"')
    return words


def _host(value: object) -> str:
    words = _text(value, '"127.0.0.1"')
    if re.fullmatch(r"[^\s/@:]+|[0-9a-fA-F:]+", words) is None:
        raise DataError('is not a host name or address alone; write one as "127.0.0.1"')
    return words


Text = Annotated[str, text('"words"')]
Texts = Annotated[tuple[str, ...], texts('["READ?"]')]
Seconds = Annotated[float, duration('"15 s"')]
Hours = Annotated[float, duration('"4 h"')]  # in seconds too
Celsius = Annotated[float, quantity(Quantity.TEMPERATURE, '"60 degC"')]
Millimetres = Annotated[float, more_than_zero(quantity(Dimension.LENGTH, '"60 mm"'))]
Ohms = Annotated[float, more_than_zero(quantity(Dimension.RESISTANCE, '"10 kohm"'))]
FilePath = Annotated[Path, Form(_path, '"bench-data"'), AfterValidator(_beside)]
"""A file or folder; a relative one lies beside the configuration, ~ is the home folder."""
Emissivity = Annotated[
    float, Form(_emissivity, "0.92", {"minimum": LEAST_EMISSIVITY, "maximum": 1})
]
Scale = Annotated[float, Form(_scale, "0.1")]
Variable = Annotated[
    str, Form(_variable, '"WICKBENCH_PASSWORD"', {"pattern": f"^{_VARIABLE.pattern}$"})
]
Address = Annotated[
    tuple[str, int],
    Form(_address, '"127.0.0.1:8470"', {"pattern": f"^(?:{_ADDRESS.pattern})$"}),
]
Host = Annotated[str, Form(_host, '"127.0.0.1"')]
WebAddress = Annotated[str, Form(_web_address, '"http://127.0.0.1:8086"')]


def _text(value: object, example: str) -> str:
    if not isinstance(value, str):
        raise DataError(f"{seen(value)} is not text; write it in quotes, as in {example}")
    if len(value) > LONGEST:
        raise DataError(f"{seen(value)} is too long; write at most {LONGEST} characters")
    if not value.strip() or not value.isprintable():
        raise DataError(f"{value!a} is empty or cannot be printed; write for example {example}")
    return value


def _with_unit(value: object, example: str) -> str:
    if isinstance(value, int | float) and not isinstance(value, bool):
        raise DataError(f"{value} has no unit; write it in quotes, as in {example}")
    return _text(value, example)


def seen(value: object) -> str:
    """What stands in the file, in a word or two."""
    match value:
        case str() if len(value) > _LONGEST_SHOWN:
            return seen(f"{value[: _LONGEST_SHOWN - 1]}…")
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
