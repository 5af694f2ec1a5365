"""A table of comma-separated values as its cells, whatever separates them."""

import csv
from pathlib import Path

from logger.errors import DataError


def read_cells(path: Path, separator: str) -> tuple[list[str], list[tuple[int, list[str]]]]:
    """The header, and each row with the line that it ends on; without a `separator`, the header's.

    Raises DataError for a file that is no such CSV at all.
    """
    try:
        with path.open(newline="", encoding="utf-8-sig") as file:
            first = file.readline()
            file.seek(0)
            reader = csv.reader(file, delimiter=separator or _separator(first), strict=True)
            header = [name.strip() for name in next(reader, [])]
            rows = [(reader.line_num, cells) for cells in reader]
    except FileNotFoundError:
        raise DataError(f"{path}: no such file") from None
    except (OSError, UnicodeDecodeError, csv.Error) as exc:
        raise DataError(f"{path}: cannot be read as CSV in UTF-8: {exc}") from exc
    twice = {name for name in header if name and header.count(name) > 1}
    if twice:
        raise DataError(f"{path}:1: columns of one name: {', '.join(sorted(twice))}")
    return header, rows


def _separator(header: str) -> str:
    return max(",;\t", key=header.count)
