"""Readings as CSV, `time,channel,value`: what `export` and the demonstration write, `replay` and
`import` read.

The time is ISO 8601 with its zone to the microsecond, the value the number as it came, in the
channel's configured unit; its digits give the same number again. A text that a spreadsheet might
take for a formula gets an apostrophe before it, as "CSV Injection" of OWASP advises
(https://owasp.org/www-community/attacks/CSV_Injection); numbers stay numbers.
"""

import csv
from collections.abc import Callable, Container, Iterable, Iterator
from functools import lru_cache
from pathlib import Path
from typing import NamedTuple, TextIO

from logger.errors import DataError
from logger.quantities import Reading
from logger.timestamps import parse_instant, rfc3339
from logger.units import parse_number

COLUMNS = ["time", "channel", "value"]

_FORMULA_SIGNS = ("=", "+", "-", "@", "\t", "\r")


class CsvRow(NamedTuple):
    """One reading, and the line of the file that it stood on."""

    line: int
    reading: Reading


def write(readings: Iterable[Reading], out: TextIO) -> int:
    """Write `readings` in their order below a header; how many they were."""
    row = csv.writer(out, lineterminator="\n").writerow
    row(COLUMNS)
    count = 0
    for one in readings:
        row((rfc3339(one.at_s, digits=6), plain_text(one.channel), repr(one.value)))
        count += 1
    return count


def read(path: Path, on_fault: Callable[[DataError], None]) -> Iterator[CsvRow]:
    """The rows of `path` in order; `on_fault` hears of each that is wrong.

    Raises DataError for a file that is no such CSV at all.
    """
    try:
        with path.open(newline="", encoding="utf-8-sig") as file:
            reader = csv.reader(file, strict=True)
            header = next(reader, None)
            if header != COLUMNS:
                raise DataError(f"{path}:1: the first line must read {','.join(COLUMNS)}")
            for cells in reader:
                if not cells:
                    continue
                try:
                    reading = _reading(cells)
                except DataError as exc:
                    on_fault(DataError(f"{path}:{reader.line_num}: {exc}"))
                    continue
                yield CsvRow(reader.line_num, reading)
    except FileNotFoundError:
        raise DataError(f"{path}: no such file") from None
    except (OSError, UnicodeDecodeError, csv.Error) as exc:
        raise DataError(f"{path}: cannot be read as CSV in UTF-8: {exc}") from exc


def unknown(rows: Iterable[CsvRow], channels: Container[str]) -> str:
    """In words which channels of `rows` are not among `channels`, each with its first line."""
    first: dict[str, int] = {}
    for row in rows:
        if row.reading.channel not in channels:
            first.setdefault(row.reading.channel, row.line)
    names = ", ".join(f"{name} (line {line})" for name, line in first.items())
    return f"the configuration lacks these channels: {names}" if names else ""


def plain_text(text: str) -> str:
    """`text` as a cell that no spreadsheet takes for a formula."""
    return f"'{text}" if text.lstrip("'").startswith(_FORMULA_SIGNS) else text


def meant(cell: str) -> str:
    """The inverse of `plain_text`."""
    return cell[1:] if cell[:1] == "'" and cell.lstrip("'").startswith(_FORMULA_SIGNS) else cell


_instant = lru_cache(maxsize=64)(parse_instant)  # what came in one line has one time


def _reading(cells: list[str]) -> Reading:
    if len(cells) != len(COLUMNS):
        raise DataError(f"{len(cells)} columns, must be {len(COLUMNS)}: {','.join(COLUMNS)}")
    time, channel, value = cells
    try:
        at_s = _instant(time)
    except DataError as exc:
        raise DataError(f"column time: {exc}") from None
    try:
        return Reading(channel=meant(channel), value=parse_number(value), at_s=at_s)
    except DataError as exc:
        raise DataError(f"column value: {exc}") from None
