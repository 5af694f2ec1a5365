"""Text lines of a microcontroller or balance: columns, JSON objects, or name=value pairs.

Nothing here raises for what comes from the wire: a line, or one field of it, that cannot be
read becomes a `Rejected` that says why, for the driver to count and name.
"""

import json
import re
from collections.abc import Sequence
from dataclasses import dataclass
from enum import StrEnum
from typing import NamedTuple

from logger.errors import DataError
from logger.instruments.decoders.splitting import LineSplitter, Rejected, excerpt
from logger.instruments.decoders.values import NO_VALUE, UNITS, ValueParser

__all__ = ["Format", "Line", "LineDecoder", "LineSplitter", "LineValue", "Rejected", "excerpt"]

# The blanks of "t1 = 41.2"; but those of "t1= t2=42" part an empty t1 from t2.
_BLANKS_AROUND_MARK = re.compile(r"\s*([=:])\s*(?![^\s=:]+\s*[=:])")


class Format(StrEnum):
    """How the fields of a line are told apart."""

    CSV = "csv"
    JSON = "json"
    PAIRS = "pairs"


class LineValue(NamedTuple):
    """One number of a line."""

    field: int  # place in the decoder's `fields`
    value: float  # finite, in the unit that came
    unit: str | None  # "degC", "degF", "g" ...; None: the line names no unit


@dataclass(frozen=True, slots=True, kw_only=True)
class Line:
    """The numbers of one line, in the order of the decoder's `fields`; at least one."""

    values: tuple[LineValue, ...]


class LineDecoder:
    """Lines of one format to numbers.

    `fields` names what each channel reads, in the caller's order: the column (from 0) for csv,
    the name for pairs, the key for json (`"probes.t1"` descends, a number indexes a list).
    `separator` None is a comma for csv, and comma, semicolon or blanks for pairs. A csv line
    has exactly `columns` columns, by default as many as the highest field needs: with fewer or
    more the columns are not where they are believed to be (`41,2` is not 41).

    Lines that begin with `#`, and among the first `header_lines` whole lines those that hold
    words alone, are no data: they are counted in `skipped`.
    """

    def __init__(
        self,
        format: Format,
        fields: Sequence[int | str],
        *,
        separator: str | None = None,
        decimal: str = ".",
        columns: int | None = None,
        header_lines: int = 1,
        drop_head: bool = True,
    ) -> None:
        """Raises `DataError` when the options contradict each other."""
        _check_options(format, fields, separator, decimal, columns)
        self.skipped = 0
        self._format = format
        self._fields = tuple(fields)
        self._header_left = header_lines
        self._splitter = LineSplitter(drop_head=drop_head)
        self._values = ValueParser(decimal)
        self._separator = separator
        if format is Format.CSV:
            self._separator = separator or ","
            wanted = [field for field in fields if isinstance(field, int)]
            self._columns = columns if columns is not None else max(wanted) + 1
        self._between_pairs = (
            re.compile(f"[{',;'.replace(decimal, '')}\\s]+")
            if separator is None
            else re.compile(re.escape(separator) if separator.strip() else r"\s+")
        )

    def feed(self, data: bytes) -> list[Line | Rejected]:
        """What `data` completes, in the order it came; a field's rejection follows its line."""
        out: list[Line | Rejected] = []
        for line in self._splitter.feed(data):
            if isinstance(line, Rejected):
                out.append(line)
            else:
                self._line(line, out)
        return out

    def _line(self, line: bytes, out: list[Line | Rejected]) -> None:
        try:
            text = _text(line)
            if not text.strip():
                return
            if self._is_heading(text):
                self.skipped += 1
                return
            cells = self._cells(text)
        except DataError as error:
            out.append(Rejected(reason=str(error), excerpt=excerpt(line)))
            return
        values: list[LineValue] = []
        refused: list[Rejected] = []
        for index, cell in enumerate(cells):
            try:
                if cell is None:
                    raise DataError("missing from the line")
                values.append(LineValue(index, *self._values.read(cell)))
            except DataError as error:
                reason = f"{self._name(index)}: {error}"
                refused.append(Rejected(reason=reason, excerpt=excerpt(line), field=index))
        if values:
            out.append(Line(values=tuple(values)))
        out += refused

    def _name(self, index: int) -> str:
        field = self._fields[index]
        return f"column {field}" if self._format is Format.CSV else f"field {field!a}"

    def _is_heading(self, text: str) -> bool:
        if text.startswith("#"):
            return True
        if self._header_left == 0:
            return False
        self._header_left -= 1
        if self._format is Format.CSV:
            cells = self._columns_of(text)
            return all(cell[:1].isalpha() and cell.lower() not in NO_VALUE for cell in cells)
        paired = self._format is Format.PAIRS and re.search("[=:]", text) is not None
        return text[:1].isalpha() and not paired

    def _cells(self, text: str) -> Sequence[str | None]:
        """The text of each field, None where it is not there; `DataError` for the whole line."""
        if self._format is Format.CSV:
            cells = self._columns_of(text)
            if len(cells) != self._columns:
                raise DataError(
                    f"{len(cells)} columns instead of {self._columns}: check separator, decimal"
                    " and columns"
                )
            return [cells[field] for field in self._fields if isinstance(field, int)]
        if self._format is Format.PAIRS:
            pairs = self._pairs_of(text)
            return [pairs.get(str(field)) for field in self._fields]
        document = _json_of(text)
        return [_descend(document, field) for field in self._fields]

    def _columns_of(self, text: str) -> list[str]:
        separator = self._separator or ","
        cells = text.split(separator) if separator.strip() or separator == "\t" else text.split()
        return [cell.strip().strip('"').strip() for cell in cells]

    def _pairs_of(self, text: str) -> dict[str, str]:
        pairs: dict[str, str] = {}
        name: str | None = None
        for piece in self._between_pairs.split(_BLANKS_AROUND_MARK.sub(r"\1", text)):
            head, mark, value = _split_pair(piece.strip())
            if mark:
                if head in pairs:
                    raise DataError(f"name {head!a} twice in one line")
                name = head
                pairs[name] = value
            elif name is not None and head in UNITS:  # "t1=106.1 F", separated by blanks
                pairs[name] += f" {head}"
            elif head:
                raise DataError(f"{head[:20]!a} has no name: check separator and decimal")
        return pairs


def _check_options(
    format: Format,
    fields: Sequence[int | str],
    separator: str | None,
    decimal: str,
    columns: int | None,
) -> None:
    if not fields:
        raise DataError("a line decoder needs at least one field")
    if decimal not in {".", ","}:
        raise DataError('decimal must be "." or ","')
    if separator == "" or (separator is None and format is Format.CSV and decimal == ","):
        raise DataError('decimal = "," needs a separator of its own, such as ";"')
    if separator is not None and (separator == decimal or re.search(r"[-+.0-9A-Za-z]", separator)):
        raise DataError("the separator must be a sign that no number or unit contains")
    if format is Format.JSON and decimal != ".":
        raise DataError('JSON writes numbers with ".": leave decimal out')
    if format is Format.CSV:
        for field in fields:
            if not isinstance(field, int) or field < 0:
                raise DataError(f"csv: field {field!a} must be a column number, from 0")
            if columns is not None and field >= columns:
                raise DataError(f"csv: field {field} lies outside {columns} columns")
    if format is Format.PAIRS and any(not isinstance(field, str) for field in fields):
        raise DataError("pairs: each field must be a name")


def _text(line: bytes) -> str:
    """A line as text; `DataError` for bytes that are none (noise, a wrong baud rate)."""
    try:
        text = line.decode("utf-8").strip(" ")
    except UnicodeDecodeError:
        # The degree sign of Latin-1 is the one byte above ASCII that plain firmware sends.
        plain = line.replace(b"\xb0", b"").isascii()
        text = line.decode("latin-1").strip(" ") if plain else "\0"
    if not text.replace("\t", " ").isprintable():
        raise DataError("these bytes are not text: check baud rate, parity and cable")
    return text


def _split_pair(piece: str) -> tuple[str, str, str]:
    match = re.search(r"[=:]", piece)
    if match is None:
        return piece, "", ""
    return piece[: match.start()].strip(), match.group(), piece[match.end() :].strip()


def _json_of(text: str) -> object:
    def unique(pairs: list[tuple[str, object]]) -> dict[str, object]:
        if len(found := dict(pairs)) < len(pairs):
            raise DataError("a key twice in one object")
        return found

    try:  # numbers stay text: one strict pattern reads those of every format
        return json.loads(
            text, parse_float=str, parse_int=str, parse_constant=str, object_pairs_hook=unique
        )
    except (ValueError, RecursionError):
        raise DataError("not JSON: check the format, or a line was cut short") from None


def _descend(document: object, field: int | str) -> str | None:
    """Text of a value in a JSON document, "" for null, None where there is none."""
    steps = [field] if isinstance(document, dict) and field in document else str(field).split(".")
    for step in steps:
        if isinstance(document, dict) and step in document:
            document = document[step]
        elif isinstance(document, list) and re.fullmatch("[0-9]{1,3}", str(step)):
            index = int(step)
            if index >= len(document):
                return None
            document = document[index]
        else:
            return None
    if document is None:
        return ""
    return document if isinstance(document, str) else type(document).__name__
