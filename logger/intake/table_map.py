"""What the columns of a table kept by hand mean: the map that `import --map` takes."""

import tomllib
from pathlib import Path
from typing import Annotated, Any
from zoneinfo import ZoneInfo, ZoneInfoNotFoundError

from pydantic import BaseModel, BeforeValidator, ConfigDict, Field, ValidationError

from logger.errors import DataError
from logger.intake.fields import Emissivity, Whole
from logger.intake.refusals import refusal
from logger.quantities import Position


class Source(BaseModel):
    """Where a figure comes from: columns, joined by a blank, or the same for all rows."""

    model_config = ConfigDict(extra="forbid", frozen=True)

    column: tuple[str, ...] = ()
    unit: str = ""  # of cells that hold a number alone
    always: str = ""


def _source(value: object) -> object:
    """A bare name, or a list of names, are columns."""
    if isinstance(value, str):
        return {"column": (value,)}
    if isinstance(value, list):
        return {"column": tuple(value)}
    if isinstance(value, dict) and isinstance(value.get("column"), str):
        return {**value, "column": (value["column"],)}
    if isinstance(value, dict) and isinstance(value.get("column"), list):
        return {**value, "column": tuple(value["column"])}
    return value


From = Annotated[Source, BeforeValidator(_source)]


class Columns(BaseModel):
    """What is known of each burn; all but `lit` may be missing."""

    model_config = ConfigDict(extra="forbid", frozen=True)

    lit: From  # date and time
    trial: From = Source()
    tester: From = Source()
    station: From = Source()
    lasted: From = Source()  # "4 h", "2 h 10", "2:10"
    out: From = Source()  # date and time, or the time alone
    mass_before: From = Source()  # of the whole candle, cold
    mass_after: From = Source()
    wax: From = Source()  # that it was poured with
    by: From = Source()
    notes: From = Source()  # each column becomes a note that begins with its name


class ReadingColumn(BaseModel):
    """A column of temperatures, each cell with one or several values of one place."""

    model_config = ConfigDict(extra="forbid", frozen=True)

    column: str
    unit: str = ""
    place: Position = Position.WALL
    height: str | None = None
    clock: Annotated[Whole, Field(ge=1, le=12)] | None = None
    after: str = ""  # since lighting, "3 h"; left out: as the burn ended
    emissivity: Emissivity | None = None
    emissivity_set: Emissivity | None = None
    reflected: str | None = None


class TableMap(BaseModel):
    """The whole map."""

    model_config = ConfigDict(extra="forbid", frozen=True)

    columns: Columns
    reading: tuple[ReadingColumn, ...] = ()
    separator: str = Field(default="", max_length=1)  # left out: as the header shows
    times: tuple[str, ...] = ()  # as strptime takes them, besides ISO 8601
    zone: str = ""  # "Europe/Vienna"; left out: this machine's
    sure: bool = False  # what is improbable was looked at, and is right
    new_trials: bool = False  # names that are nearly those of known trials are others indeed

    @property
    def tzinfo(self) -> ZoneInfo | None:
        """The zone that its times are of; None: this machine's."""
        return ZoneInfo(self.zone) if self.zone else None

    @property
    def used(self) -> tuple[str, ...]:
        """The columns that it takes."""
        sources = [getattr(self.columns, name) for name in Columns.model_fields]
        named = [name for source in sources for name in source.column]
        return (*dict.fromkeys([*named, *(one.column for one in self.reading)]),)


def load_map(path: Path) -> TableMap:
    """The map in `path`. Raises DataError with every fault in it."""
    try:
        found: dict[str, Any] = tomllib.loads(path.read_text("utf-8"))
    except FileNotFoundError:
        raise DataError(f"{path}: no such file") from None
    except (OSError, UnicodeDecodeError, tomllib.TOMLDecodeError) as exc:
        raise DataError(f"{path}: cannot be read as TOML: {exc}") from exc
    try:
        table_map = TableMap.model_validate(found)
        _ = table_map.tzinfo
    except ValidationError as exc:
        raise DataError(f"{path}: {refusal(exc)}") from None
    except (ZoneInfoNotFoundError, ValueError):
        raise DataError(
            f'{path}: zone: there is none "{found["zone"]}"; write for example "Europe/Vienna"'
        ) from None
    return table_map
