"""Driver `serial-lines`: an instrument that sends lines of text, in one of three formats."""

import re
from collections.abc import Iterator, Mapping
from typing import Annotated, ClassVar, Literal

from pydantic import ValidationInfo, field_validator

from logger.errors import DataError
from logger.settings import forms
from logger.settings.channels import ChannelKeys
from logger.settings.drivers.instrument_keys import Channels, InstrumentKeys
from logger.settings.drivers.wired_keys import SerialKeys
from logger.settings.keys import Form, WrongValue, key
from logger.settings.problems import Mistake
from logger.settings.raw import Table, tables


def _separator(value: object) -> str:
    if not isinstance(value, str) or len(value) != 1 or re.fullmatch(r"[-+.\w\"'\n\r]", value):
        raise DataError(
            f'{forms.seen(value)} is not a separator; write one sign such as "," or ";" or "\\t"'
        )
    return value


def _decimal(value: object) -> str:
    if value not in (".", ","):
        raise DataError('is neither a point nor a comma; write "." or ","')
    return str(value)


def _json_field(value: object) -> int | str:
    if isinstance(value, int) and not isinstance(value, bool) and 0 <= value < 1000:
        return value
    name: str = forms.text('"probes.t1"').read(value)
    return name


class CsvChannelKeys(ChannelKeys):
    """A column of a line, perhaps of one of several devices on the port."""

    device: forms.Text | None = key(
        "where the lines of several devices begin with their names: which one", None
    )
    field: Annotated[int, forms.whole(0, 999, "0")] = key("the column, counted from 0")

    @field_validator("field")
    @classmethod
    def _not_the_name(cls, field: int, info: ValidationInfo) -> int:
        if field == 0 and info.data.get("device") is not None:
            raise WrongValue("0 is the column that names the device; write 1 or more")
        return field


class NamedChannelKeys(ChannelKeys):
    """A named value of a line."""

    misplaced: ClassVar[Mapping[str, str]] = {
        "device": "is for csv, where the first column names it; leave it out"
    }


class PairsChannelKeys(NamedChannelKeys):
    """A pair of name and value."""

    field: Annotated[str, forms.text('"t1"')] = key("the name before the value")


class JsonChannelKeys(NamedChannelKeys):
    """A member of an object, or an element of an array."""

    field: Annotated[int | str, Form(_json_field, '"probes.t1"', forms.TEXT_OR_WHOLE)] = key(
        "name of the member, with points between those of nested ones; of an array the index"
    )


class SerialLinesKeys(SerialKeys):
    """Lines that it sends by itself, or as answers; a class below for each format."""

    place: ClassVar[tuple[str, ...]] = ("field",)

    driver: Literal["serial-lines"] = key("how it is read", "serial-lines")
    format: Literal["csv", "json", "pairs"] = key(
        "csv: columns; json: one object a line; pairs: t1=41.2 t2=40.9", "csv"
    )
    start: forms.Texts = key("commands sent each time the port is opened", ())
    poll: forms.Texts = key(
        "asked again and again, each answered by one line; left out: it speaks unasked", ()
    )
    command_end: Literal["crlf", "lf", "cr"] = key("what ends a command", "crlf")

    @classmethod
    def variant(cls, raw: Table) -> type[InstrumentKeys]:
        """The class for its format."""
        kinds: Mapping[str, type[InstrumentKeys]] = {"pairs": PairsKeys, "json": JsonKeys}
        return kinds.get(str(raw.get("format")), CsvKeys)

    @classmethod
    def disagreements(cls, raw: Table) -> Iterator[Mistake]:
        """Also keys for questions that nobody asks."""
        yield from super().disagreements(raw)
        for name in ("every", "answer_within"):
            if name in raw and not raw.get("poll"):
                yield (name,), "is for an instrument that is asked; write poll beside it"


class SeparatedKeys(SerialLinesKeys):
    """Fields separated by a sign."""

    decimal: Annotated[str, Form(_decimal, '"."', {"enum": [".", ","]})] = key(
        "sign before the decimals", "."
    )
    separator: Annotated[str, Form(_separator, '","', {"maxLength": 1})] | None = key(
        "sign between fields; left out: the format's own", None
    )

    @field_validator("separator")
    @classmethod
    def _not_the_decimal_sign(cls, separator: str | None, info: ValidationInfo) -> str | None:
        own = "," if info.data.get("format") == "csv" else None
        if (separator or own) == info.data.get("decimal", ""):
            raise WrongValue('is the decimal sign too; write another such as ";"')
        return separator


class CsvKeys(SeparatedKeys):
    """Columns."""

    place = ("field", "device")

    columns: Annotated[int, forms.whole(1, 1000, "4")] | None = key(
        "how many a line has; left out: as many as the fields need", None
    )
    channel: Channels[CsvChannelKeys]

    @classmethod
    def disagreements(cls, raw: Table) -> Iterator[Mistake]:
        """Also a field that is no column, and lines of which some have a device and some none."""
        yield from super().disagreements(raw)
        columns = raw.get("columns")
        below = list(tables(raw, "channel"))
        for path, channel in below:
            field = channel.get("field")
            if isinstance(field, int) and isinstance(columns, int) and 0 < columns <= field < 1000:
                what = f"{field} is not a whole number from 0 to {columns - 1}; write 0, say"
                yield (*path, "field"), what
            if "device" not in channel and any("device" in other for _, other in below):
                what = "missing where another channel has it; write which one"
                yield (*path, "device"), what


class PairsKeys(SeparatedKeys):
    """Pairs of name and value."""

    misplaced: ClassVar[Mapping[str, str]] = {"columns": "only csv has columns; leave it out"}

    channel: Channels[PairsChannelKeys]


class JsonKeys(SerialLinesKeys):
    """One object a line."""

    misplaced: ClassVar[Mapping[str, str]] = {
        "columns": "only csv has columns; leave it out",
        "decimal": "JSON settles that itself; leave it out",
        "separator": "JSON settles that itself; leave it out",
    }

    channel: Channels[JsonChannelKeys]
