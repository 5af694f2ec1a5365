"""Answers of SCPI instruments (SCPI-99 on IEEE 488.2), one whole answer at a time.

Every function takes the bytes of an answer with or without its terminator and raises `DataError`
for what is no such answer. Cutting the byte stream into answers is `lines.LineSplitter`'s work,
with `drop_head=False`.
"""

import math
import re
from dataclasses import dataclass
from enum import StrEnum

from logger.errors import DataError
from logger.instruments.decoders.splitting import excerpt

# NR1 (+41), NR2 (41.2) and NR3 (+4.12000000E+01) of IEEE 488.2, 8.7.2 to 8.7.4.
_NUMBER = re.compile(r"[+-]?(?:[0-9]+\.?[0-9]*|\.[0-9]+)(?:[Ee][+-]?[0-9]+)?")
_ERROR = re.compile(r'([+-]?[0-9]{1,5})\s*,\s*"((?:[^"]|"")*)"')


class NoNumber(StrEnum):
    """What SCPI-99 (vol. 1, 7.2.1.4 and 7.2.1.5; from memory) sends in place of a number."""

    OVER = "over range (9.9E+37): open sensor, or the range is too small"
    UNDER = "under range (-9.9E+37): sensor leads crossed, or the range is too small"
    NOT_A_NUMBER = "not a number (9.91E+37): nothing was measured, check sensor and wiring"


_WORDS = {
    **dict.fromkeys(("INF", "+INF", "INFINITY", "+INFINITY"), NoNumber.OVER),
    **dict.fromkeys(("NINF", "-INF", "-INFINITY"), NoNumber.UNDER),
    **dict.fromkeys(("NAN", "+NAN", "-NAN"), NoNumber.NOT_A_NUMBER),
}
_FIRST_SPECIAL = 9.8e37  # 9.9E+37 as a float32 with six digits comes down to 9.89999E+37
_NAN = 9.91e37


@dataclass(frozen=True, slots=True, kw_only=True)
class Identity:
    """The answer to `*IDN?`; None where the instrument says it cannot tell ("0")."""

    maker: str
    model: str
    serial: str | None
    firmware: str | None


@dataclass(frozen=True, slots=True, kw_only=True)
class QueuedError:
    """One entry of an instrument's error queue."""

    code: int
    text: str


def measured(answer: bytes, count: int) -> tuple[float | NoNumber, ...]:
    """The `count` values of a measurement query, in the order of its channel list."""
    cells = [cell.strip() for cell in _text(answer).split(",")]
    if len(cells) != count:
        raise DataError(
            f"{len(cells)} values instead of {count} in '{excerpt(answer)}': check the query's"
            " channel list"
        )
    return tuple(_value(cell) for cell in cells)


def identity(answer: bytes) -> Identity:
    """The four fields of `*IDN?`; a comma in the last belongs to it."""
    fields = [field.strip() for field in _text(answer).split(",", 3)]
    if len(fields) != 4 or not fields[0] or not fields[1]:
        raise DataError(
            f"'{excerpt(answer)}' is not an answer to *IDN?: check baud rate, and that it speaks "
            "SCPI"
        )
    maker, model, serial, firmware = fields
    return Identity(
        maker=maker, model=model, serial=_unless_zero(serial), firmware=_unless_zero(firmware)
    )


def queued_error(answer: bytes) -> QueuedError | None:
    """The answer to `SYSTem:ERRor?`; None for `0,"No error"`, the end of the queue."""
    match = _ERROR.fullmatch(_text(answer))
    if match is None:
        raise DataError(f"'{excerpt(answer)}' is not an answer to SYST:ERR?")
    code = int(match[1])
    return None if code == 0 else QueuedError(code=code, text=match[2].replace('""', '"'))


def _value(cell: str) -> float | NoNumber:
    if cell.upper() in _WORDS:
        return _WORDS[cell.upper()]
    if _NUMBER.fullmatch(cell) is None:
        raise DataError(f"{cell[:20]!a} is not a SCPI number")
    value = float(cell)
    if abs(value) < _FIRST_SPECIAL:
        return value
    if math.isclose(value, _NAN, rel_tol=1e-4):
        return NoNumber.NOT_A_NUMBER
    return NoNumber.OVER if value > 0.0 else NoNumber.UNDER


def _text(answer: bytes) -> str:
    try:
        text = answer.decode("ascii").strip()
    except UnicodeDecodeError:
        text = ""
    if not text.isprintable() or not text:
        raise DataError(f"'{excerpt(answer)}' is not a SCPI answer: check baud rate and cable")
    return text


def _unless_zero(field: str) -> str | None:
    return None if field in {"", "0"} else field
