"""A table kept by hand as entries of its burns; every fault with its row and column."""

import hashlib
import json
from collections.abc import Callable, Iterator, Sequence
from dataclasses import replace
from pathlib import Path
from typing import Any, TypeVar

from pydantic import ValidationError

from logger.burn.entries import Entry, Lit
from logger.errors import DataError
from logger.intake import table_cells
from logger.intake.bodies import (
    Body,
    BurnBody,
    LitBody,
    OutBody,
    ReadingBody,
    WeighInBody,
)
from logger.intake.look_bodies import ObservationBody
from logger.intake.refusals import refusal
from logger.intake.table_burn import Table, TableBurn
from logger.intake.table_file import read_cells
from logger.intake.table_map import Columns, ReadingColumn, Source, TableMap
from logger.quantities import Quantity
from logger.timestamps import rfc3339
from logger.units import Dimension, parse_quantity
from logger.words import duration

_AGREE_S = 300.0  # people round to five minutes (our choice)
_LONGEST_S = 24 * 3600.0  # no candle under test burns a whole day at a time (our choice)
_NOT_CLEARED = "burned before it was entered, from a table kept by hand"


T = TypeVar("T")


def read_table(
    path: Path, table_map: TableMap, *, now_s: float, station: str, cool_down_s: float
) -> Table:
    """Read all of `path`; `station` is where a row's burn was that names none.

    A candle that was weighed after a burn is taken to have been weighed when its cool-down was
    over. Raises DataError for what is no such table at all.
    """
    faults: list[str] = []
    burns: list[TableBurn] = []
    header, rows = read_cells(path, table_map.separator)
    missing = [name for name in table_map.used if name not in header]
    if missing:
        raise DataError(
            f"{path}: the map names columns that its header lacks: {', '.join(missing)}; it has "
            f"{', '.join(header)}"
        )
    empty = 0
    for line, cells in rows:
        if not any(cell.strip() for cell in cells):
            empty += 1
            continue
        if len(cells) > len(header):
            faults.append(
                f"{path}:{line}: {len(cells)} cells below {len(header)} columns: put quotes about "
                "a cell that holds the separator"
            )
            continue
        row = _Row(path, line, dict(zip(header, cells, strict=False)), table_map, faults)
        if (burn := row.burn(now_s, station, cool_down_s, path.name)) is not None:
            burns.append(burn)
    return Table(
        burns=tuple(sorted(burns, key=lambda one: (one.lit_s, one.station))),
        faults=tuple(faults),
        empty_rows=empty,
        not_taken=tuple(name for name in header if name and name not in table_map.used),
    )


class _Row:
    """One row while it is read."""

    def __init__(
        self, path: Path, line: int, cells: dict[str, str], table_map: TableMap, faults: list[str]
    ) -> None:
        self._where = f"{path}:{line}"
        self._line = line
        self._cells = cells
        self._map = table_map
        self._faults = faults
        self._wrong = False

    def burn(self, now_s: float, station: str, cool_down_s: float, file: str) -> TableBurn | None:
        """Its burn; None, with its faults noted, where a cell is wrong."""
        columns, forms, zone = self._map.columns, self._map.times, self._map.tzinfo
        lit_s = self._take(columns.lit, lambda cell, _: table_cells.moment_s(cell, forms, zone))
        if lit_s is None:
            self._lacks(columns.lit, "when it was lit is missing")
            return None
        out_s = self._ended(columns, lit_s)
        if out_s is None:
            self._lacks(columns.lasted, "neither how long it burned nor when it was out is there")
            return None
        if out_s <= lit_s or out_s > now_s:
            why = "before it was lit" if out_s <= lit_s else "in the future"
            self._note(f"it would have been out {why}, at {rfc3339(out_s, digits=0)}")
            return None
        station = self._text(columns.station) or station
        self._by = self._text(columns.by)
        made: list[Entry | None] = [self._lit(columns, lit_s, now_s, station)]
        made += self._readings(lit_s, out_s, now_s, station)
        made += self._notes(columns.notes, out_s, now_s, station)
        made.append(self._entry(OutBody, out_s, now_s, station))
        after = self._take(columns.mass_after, table_cells.mass)
        if after is not None:
            weighed_s = min(out_s + cool_down_s, now_s)
            made.append(self._entry(WeighInBody, weighed_s, now_s, station, mass=after))
        entries = [one for one in made if one is not None]
        if self._wrong:
            return None
        lit = entries[0]
        assert isinstance(lit, Lit)
        entries[0] = replace(lit, hand_kept=file, new_trial=self._map.new_trials)
        return TableBurn(
            line=self._line, station=station, lit_s=lit_s, out_s=out_s, entries=tuple(entries)
        )

    def _ended(self, columns: Columns, lit_s: float) -> float | None:
        forms, zone = self._map.times, self._map.tzinfo
        lasted_s = self._take(columns.lasted, table_cells.length_s)
        out_s = self._take(columns.out, lambda cell, _: table_cells.out_s(cell, lit_s, forms, zone))
        if lasted_s is None:
            return out_s
        if out_s is not None and abs(lit_s + lasted_s - out_s) > _AGREE_S:
            told = (
                f"{duration(lasted_s)} of burning do not fit {duration(out_s - lit_s)} to its end"
            )
            self._note(told, " + ".join(columns.lasted.column + columns.out.column))
        if lasted_s > _LONGEST_S:
            self._note(f"it would have burned for {duration(lasted_s)}: check the unit")
        return lit_s + lasted_s

    def _lit(self, columns: Columns, lit_s: float, now_s: float, station: str) -> Entry | None:
        return self._entry(
            LitBody,
            lit_s,
            now_s,
            station,
            trial=self._text(columns.trial) or None,
            tester=self._text(columns.tester),
            mass=self._take(columns.mass_before, table_cells.mass),
            wax=self._take(columns.wax, table_cells.mass),
            reason=_NOT_CLEARED,
        )

    def _readings(
        self, lit_s: float, out_s: float, now_s: float, station: str
    ) -> Iterator[Entry | None]:
        for one in self._map.reading:
            found = self._take(Source(column=(one.column,), unit=one.unit), _temperatures)
            if found is None:
                continue
            at_s = lit_s + parse_quantity(one.after, Dimension.DURATION) if one.after else out_s
            if at_s > out_s:
                self._note(
                    f"it was out before {one.after} had passed: leave this cell empty", one.column
                )
                continue
            values, unit = found
            yield self._entry(
                ReadingBody, at_s, now_s, station, one.column, values=values, unit=unit, **_of(one)
            )

    def _notes(
        self, source: Source, out_s: float, now_s: float, station: str
    ) -> Iterator[Entry | None]:
        for name in source.column:
            if text := self._cells.get(name, "").strip():
                yield self._entry(
                    ObservationBody, out_s, now_s, station, name, text=f"{name}: {text}"
                )

    def _entry(
        self,
        kind: type[Body],
        at_s: float,
        now_s: float,
        station: str,
        column: str = "",
        **fields: Any,
    ) -> Entry | None:
        """An entry with an id of its content, so that the same row again is the same entry."""
        content = {"at": rfc3339(at_s), "by": self._by, **fields}
        if kind is LitBody:
            content["station"] = station
        told = json.dumps([kind.__name__, station, content], sort_keys=True)
        id_ = f"hand-{hashlib.sha256(told.encode()).hexdigest()[:24]}"
        try:
            body = kind.model_validate({"id": id_, **content})
            if isinstance(body, LitBody):
                return body.entry(now_s)
            assert isinstance(body, BurnBody)
            return body.entry(now_s, station)
        except ValidationError as exc:
            self._note(str(refusal(exc)), column)
        except DataError as exc:
            self._note(str(exc), column)
        return None

    def _text(self, source: Source) -> str:
        found = " ".join(self._cells.get(name, "").strip() for name in source.column).strip()
        return found or source.always

    def _take(self, source: Source, parse: Callable[[str, str], T]) -> T | None:
        """What a cell holds; None where it is empty or, with its fault noted, wrong."""
        cell = self._text(source)
        if not cell:
            return None
        try:
            return parse(cell, source.unit)
        except DataError as exc:
            self._note(str(exc), " + ".join(source.column))
            return None

    def _lacks(self, source: Source, what: str) -> None:
        if not self._wrong:
            self._note(what, " + ".join(source.column))

    def _note(self, what: str, column: str = "") -> None:
        self._wrong = True
        self._faults.append(f"{self._where}: {f'column {column}: ' if column else ''}{what}")


def _temperatures(cell: str, unit: str) -> tuple[Sequence[float], str]:
    return table_cells.figures(cell, unit, Quantity.TEMPERATURE)


def _of(column: ReadingColumn) -> dict[str, Any]:
    """The place and thermometer of a column, as a reading's body takes them."""
    shared = column.model_dump(mode="json", exclude={"column", "unit", "after"})
    return {name: value for name, value in shared.items() if value is not None}
