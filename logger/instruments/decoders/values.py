"""One value of a text line: a number, perhaps with its unit."""

import math
import re

from logger.errors import DataError

# A sensor's way to say that it has nothing to say (common practice of sensor firmware).
NO_VALUE = frozenset(
    {"", "-", "--", "---", "nan", "inf", "+inf", "-inf", "null", "none", "n/a", "na"}
    | {"err", "error", "fault", "fail", "open", "ol", "ovf", "ovl"}
)

UNITS = {
    "C": "degC", "°C": "degC", "degC": "degC", "deg C": "degC",
    "F": "degF", "°F": "degF", "degF": "degF", "deg F": "degF",
    "K": "kelvin",
    "g": "g", "kg": "kg", "oz": "oz", "lb": "lb",
    "%": "percent", "%RH": "percent",
    "mV": "mV", "V": "V", "uV": "uV", "\u00b5V": "uV", "\u03bcV": "uV",
    "ohm": "ohm", "Ohm": "ohm", "Ω": "ohm", "\u2126": "ohm", "kohm": "kohm",
}  # fmt: skip  # spelling on the wire -> the unit's name in the configuration


class ValueParser:
    """Text to numbers by a strict pattern.

    float() would also take nan, inf, 1_000 and the digits of other scripts.
    """

    def __init__(self, decimal: str) -> None:
        point = re.escape(decimal)
        digits = rf"[+-]?(?:[0-9]+(?:{point}[0-9]*)?|{point}[0-9]+)(?:[eE][+-]?[0-9]+)?"
        self._number = re.compile(rf"({digits})(?:\s*([^\s0-9+\-.,][^0-9]*))?")
        self._decimal = decimal

    def read(self, cell: str) -> tuple[float, str | None]:
        """Number and unit in `cell`; `DataError` says why it is none."""
        cell = cell.strip()
        if cell.lower() in NO_VALUE:
            raise DataError("no value: check the sensor's plug and lead")
        match = self._number.fullmatch(cell)
        if match is None:
            raise DataError(f"{cell[:20]!a} is not a number")
        digits, unit = match.groups()
        value = float(digits.replace(self._decimal, "."))
        if not math.isfinite(value):
            raise DataError(f"{cell[:20]!a} is too large for a number")
        if unit is None:
            return value, None
        if unit not in UNITS:
            raise DataError(f"unit {unit!a} is not known")
        return value, UNITS[unit]
