"""The tables of a data package: what each column is called, holds and means.

The descriptor follows version 1 of the Data Package, Data Resource and Table Schema specifications
(https://specs.frictionlessdata.io): `unit` and `uncertainty` of a column are properties of our own,
which these allow. Cells are CSV after RFC 4180 in UTF-8; an empty one is a missing value.
"""

import json
from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass
from typing import Any

from logger.errors import DataError
from logger.service.readings_csv import meant, plain_text
from logger.timestamps import parse_instant, rfc3339
from logger.units import parse_number

FORMAT = 1  # of the tables below; counted up where an older import would read them wrong
DESCRIPTOR = "datapackage.json"
_TIME = "%Y-%m-%dT%H:%M:%S.%fZ"


def _json(text: str) -> str:
    """`text` where it is an object of JSON. Raises DataError."""
    try:
        found = json.loads(text)
    except ValueError as exc:
        raise DataError(f"is not JSON: {exc}") from None
    if not isinstance(found, dict):
        raise DataError("is not an object of JSON")
    return text


def _integer(text: str) -> int:
    try:
        return int(text)
    except ValueError:
        raise DataError(f'"{text[:40]}" is not a whole number') from None


def _boolean(text: str) -> bool:
    if text not in ("true", "false"):
        raise DataError(f'"{text[:40]}" is neither true nor false')
    return text == "true"


_WRITE: Mapping[str, Callable[[Any], str]] = {
    "string": plain_text,
    "datetime": lambda at_s: rfc3339(at_s, digits=6),
    "number": repr,
    "integer": str,
    "boolean": lambda value: "true" if value else "false",
    "object": str,
}
_READ: Mapping[str, Callable[[str], Any]] = {
    "string": meant,
    "datetime": parse_instant,
    "number": parse_number,
    "integer": _integer,
    "boolean": _boolean,
    "object": _json,
}


@dataclass(frozen=True, slots=True, kw_only=True)
class PackageColumn:
    """One column; `of` is its type of Table Schema, `unit` that of its numbers."""

    name: str
    of: str = "string"
    means: str = ""
    unit: str = ""
    may_be_empty: bool = False
    standard_uncertainty_of: str = ""  # another column of the row

    def message(self) -> dict[str, object]:
        """As a field of Table Schema."""
        found: dict[str, object] = {"name": self.name, "type": self.of}
        if self.of == "datetime":
            found["format"] = _TIME
        if self.means:
            found["description"] = self.means
        if self.unit:
            found["unit"] = self.unit
        if self.standard_uncertainty_of:
            found["uncertainty"] = {
                "of": self.standard_uncertainty_of,
                "kind": "standard",  # JCGM 100:2008, 2.3.1
                "coverageFactor": 1,
            }
        if not self.may_be_empty:
            found["constraints"] = {"required": True}
        return found


@dataclass(frozen=True, slots=True, kw_only=True)
class PackageTable:
    """One table: a file `name`.csv in the folder `data` of the package."""

    name: str
    means: str
    columns: tuple[PackageColumn, ...]
    key: str = ""
    refers: tuple[str, str] | None = None  # a column of it, and the table whose key that is

    @property
    def path(self) -> str:
        """Of its file in the package."""
        return f"data/{self.name}.csv"

    @property
    def header(self) -> list[str]:
        """The first line of its file."""
        return [column.name for column in self.columns]

    def cells(self, values: Sequence[Any]) -> list[str]:
        """A row as it is written; None is a missing value."""
        return [
            "" if value is None else _WRITE[column.of](value)
            for column, value in zip(self.columns, values, strict=True)
        ]

    def values(self, cells: Sequence[str]) -> list[Any]:
        """What `cells` made of a row. Raises DataError with the column that is wrong."""
        if len(cells) != len(self.columns):
            raise DataError(f"{len(cells)} cells, must be {len(self.columns)}")
        return [_value(column, cell) for column, cell in zip(self.columns, cells, strict=True)]

    def resource(self, size: int, sha256: str) -> dict[str, object]:
        """Its description in the package."""
        schema: dict[str, object] = {
            "fields": [column.message() for column in self.columns],
            "missingValues": [""],
        }
        if self.key:
            schema["primaryKey"] = self.key
        if self.refers is not None:
            column, table = self.refers
            schema["foreignKeys"] = [
                {"fields": column, "reference": {"resource": table, "fields": TABLES[table].key}}
            ]
        return {
            "name": self.name,
            "path": self.path,
            "profile": "tabular-data-resource",
            "description": self.means,
            "format": "csv",
            "mediatype": "text/csv",
            "encoding": "utf-8",
            "bytes": size,
            "hash": f"sha256:{sha256}",
            "schema": schema,
        }


def _value(column: PackageColumn, cell: str) -> Any:
    if not cell:
        if column.may_be_empty:
            return None
        if column.of == "string":
            raise DataError(f"column {column.name} is empty")
    try:
        return _READ[column.of](cell)
    except DataError as exc:
        raise DataError(f"column {column.name}: {exc}") from None


_C = PackageColumn
_BODY = "everything that is stored of it; times in Unix seconds, temperatures in degC, masses in g"
_SETTINGS = "those in force, see the table settings"

TABLES: Mapping[str, PackageTable] = {
    table.name: table
    for table in (
        PackageTable(
            name="settings",
            means="Configurations of the bench, each as it stood when burns were lit.",
            columns=(
                _C(name="settings", means="SHA-256 of both"),
                _C(name="text", means="as a person wrote it", may_be_empty=True),
                _C(name="bench", of="object", means="what it said, limits included"),
            ),
            key="settings",
        ),
        PackageTable(
            name="channels",
            means="What each channel measured, where and how, in the words of its settings.",
            columns=(
                _C(name="settings"),
                _C(name="channel"),
                _C(name="instrument"),
                _C(name="station", may_be_empty=True, means="empty: it serves the whole bench"),
                _C(name="quantity"),
                _C(name="place"),
                _C(name="height_mm", of="number", unit="mm", may_be_empty=True),
                _C(name="clock", of="integer", may_be_empty=True, means="1 to 12, seen from above"),
                _C(name="unit", means="of its readings"),
                _C(name="estimated_in", means="unit of its estimates and of its accuracy"),
                _C(name="kind", means="contact, infrared or unstated"),
                _C(
                    name="accuracy",
                    of="number",
                    may_be_empty=True,
                    means="limit of error that its maker states; empty: nobody stated one",
                ),
                _C(name="emissivity", of="number", may_be_empty=True),
            ),
            refers=("settings", "settings"),
        ),
        PackageTable(
            name="provenance",
            means="Where readings of a time came from.",
            columns=(
                _C(name="from", of="datetime"),
                _C(name="to", of="datetime"),
                _C(name="source"),
            ),
        ),
        PackageTable(
            name="records",
            means="Vessels, formulas, pours, wicks, testers, trials: every version of each.",
            columns=(
                _C(name="id"),
                _C(name="kind"),
                _C(name="name"),
                _C(name="version", of="integer"),
                _C(name="at", of="datetime", means="when it was entered"),
                _C(name="by", may_be_empty=True),
                _C(name="why", may_be_empty=True),
                _C(name="withdrawn", of="boolean"),
                _C(name="fields", of="object", means="as a person wrote them, with their units"),
            ),
            key="id",
        ),
        PackageTable(
            name="burns",
            means="Burns, each from lighting to extinguishing.",
            columns=(
                _C(name="burn"),
                _C(name="number", of="integer", may_be_empty=True, means="of the bench"),
                _C(name="station"),
                _C(name="trial"),
                _C(name="tester", may_be_empty=True, means="code on the vessel"),
                _C(name="lit", of="datetime"),
                _C(name="out", of="datetime"),
                _C(name="withdrawn", of="boolean", means="recorded by mistake"),
                _C(name="settings", means=_SETTINGS),
                _C(name="body", of="object", means=_BODY),
            ),
            key="burn",
            refers=("settings", "settings"),
        ),
        PackageTable(
            name="entries",
            means="What people entered, in order of entry: nothing is overwritten.",
            columns=(
                _C(name="entry"),
                _C(name="kind"),
                _C(name="burn", may_be_empty=True, means="that it was entered at"),
                _C(name="at", of="datetime", means="when it happened"),
                _C(name="entered", of="datetime", means="when it was typed"),
                _C(name="by", may_be_empty=True),
                _C(name="text", may_be_empty=True, means="what was answered"),
                _C(name="body", of="object", means=_BODY),
            ),
            key="entry",
        ),
        PackageTable(
            name="events",
            means="Alarms and what happened in burns, in order.",
            columns=(
                _C(name="event"),
                _C(name="kind", means="alarm or burn"),
                _C(name="burn", may_be_empty=True),
                _C(name="time", of="datetime"),
                _C(name="body", of="object", means=_BODY),
            ),
            key="event",
        ),
        PackageTable(
            name="photos",
            means="Photos of candles, each a file of the package.",
            columns=(
                _C(name="photo", means="SHA-256 of the file"),
                _C(name="path", means="in this package"),
                _C(name="entry", means="see the table entries"),
            ),
            refers=("entry", "entries"),
        ),
        PackageTable(
            name="readings",
            means="What came from instruments, raw, in order of arrival.",
            columns=(
                _C(name="time", of="datetime"),
                _C(name="channel"),
                _C(name="value", of="number", means="in the channel's unit"),
            ),
        ),
        PackageTable(
            name="estimates",
            means="What each channel was at a time, computed of readings or of values by hand.",
            columns=(
                _C(name="time", of="datetime"),
                _C(name="channel"),
                _C(
                    name="value",
                    of="number",
                    means="in degC, g or percent",
                    may_be_empty=True,
                ),
                _C(
                    name="standard_uncertainty",
                    of="number",
                    means="all components, in the unit of the value (JCGM 100:2008, 5.1.2)",
                    may_be_empty=True,
                    standard_uncertainty_of="value",
                ),
                _C(
                    name="repeatability",
                    of="number",
                    means="its random part alone",
                    may_be_empty=True,
                ),
                _C(name="used", of="integer", means="readings that it rests on"),
                _C(name="rejected", of="integer", means="readings set aside as hits of the flame"),
                _C(name="quality", means="good, doubtful or lost"),
            ),
        ),
    )
}
