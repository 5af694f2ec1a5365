"""Text lines as small instruments print them, written by hand: no decoder's code is used here."""

from collections.abc import Sequence
from dataclasses import dataclass
from typing import Literal

Format = Literal["csv", "json", "pairs"]


@dataclass(frozen=True, slots=True, kw_only=True)
class LineFormat:
    """How one line looks. None is an empty column in csv, null in json, left out of pairs."""

    format: Format = "csv"
    keys: tuple[str, ...] = ()  # names of the values: json and pairs need them
    separator: str = ","  # between columns or pairs
    assign: str = "="  # between name and value: "=" or ":"
    decimal: str = "."
    decimals: int = 2
    unit: str = ""  # printed behind each number, as in "41.2C"
    line_end: str = "\r\n"  # what println() of common microcontrollers ends a line with

    def line(self, values: Sequence[float | None]) -> bytes:
        """One line with its end; raises ValueError when there are not as many keys as values."""
        if self.format == "csv":
            text = self.separator.join(
                "" if value is None else self._text(value) for value in values
            )
            return (text + self.line_end).encode("ascii")
        named = list(zip(self.keys, values, strict=True))
        if self.format == "json":
            members = (f'"{key}": {_json(value, self.decimals)}' for key, value in named)
            return ("{" + ", ".join(members) + "}" + self.line_end).encode("ascii")
        pairs = (
            f"{key}{self.assign}{self._text(value)}" for key, value in named if value is not None
        )
        return (self.separator.join(pairs) + self.line_end).encode("ascii")

    def _text(self, value: float) -> str:
        return f"{value:.{self.decimals}f}".replace(".", self.decimal) + self.unit


def _json(value: float | None, decimals: int) -> str:
    return "null" if value is None else f"{value:.{decimals}f}"
