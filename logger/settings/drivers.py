"""The drivers that a configuration can name, and the keys that each has of its own.

A new driver is one more entry of `DRIVERS`.
"""

import math
import re
from collections.abc import Callable, Mapping
from dataclasses import dataclass, replace
from enum import StrEnum
from pathlib import Path

from logger.errors import DataError
from logger.settings import forms, ports
from logger.settings.model import (
    AnswerField,
    DeviceField,
    Field,
    InstrumentSettings,
    RegisterField,
)
from logger.settings.table import Form, Table, nearest

_SENSOR = re.compile(r"[0-9a-f]{2}-[0-9a-f]{12}", re.ASCII)  # family and serial number


class LineEnd(StrEnum):
    """What ends a command."""

    CR_LF = "crlf"
    LF = "lf"
    CR = "cr"

    @property
    def sent(self) -> str:
        """The signs themselves."""
        return {"crlf": "\r\n", "lf": "\n", "cr": "\r"}[self.value]


class Registers(StrEnum):
    """Which table of a Modbus device."""

    INPUT = "input"
    HOLDING = "holding"


class NumberType(StrEnum):
    """How a number lies in Modbus registers."""

    INT16 = "int16"
    UINT16 = "uint16"
    INT32 = "int32"
    UINT32 = "uint32"
    FLOAT32 = "float32"


class WordOrder(StrEnum):
    """Which register of two holds the upper half of a number."""

    HIGH_FIRST = "high-first"
    LOW_FIRST = "low-first"


class LineFormat(StrEnum):
    """How the fields of a serial line are told apart."""

    CSV = "csv"
    JSON = "json"
    PAIRS = "pairs"


@dataclass(frozen=True, slots=True, kw_only=True)
class Driver:
    """What a driver adds to an instrument's keys and to those of a channel.

    `field` reads from a channel's table where it is in what the instrument sends, and is None
    where that is wrong; `place` is the key that says so.
    """

    read: Callable[[Table, InstrumentSettings], InstrumentSettings]
    field: Callable[[Table, InstrumentSettings], Field | None]
    place: str = "field"


def _serial_lines(table: Table, common: InstrumentSettings) -> InstrumentSettings:
    format = table.take("format", forms.choice(LineFormat, LineFormat.CSV), LineFormat.CSV)
    decimal = table.take("decimal", Form(read=_decimal, example='"."'), ".")
    separator = None
    columns = None
    if format is LineFormat.JSON:
        for key in ("decimal", "separator"):
            table.never(key, "JSON settles that itself; leave it out")
    else:
        separator = table.take("separator", forms.SEPARATOR, None)
        if separator == decimal or (
            separator is None and decimal == "," and format is LineFormat.CSV
        ):
            table.fault("separator", 'is the decimal sign too; write another such as ";"')
    if format is LineFormat.CSV:
        columns = table.take("columns", forms.whole(1, 1000, "4"), None)
    else:
        table.never("columns", "only csv has columns; leave it out")
    poll = table.take("poll", forms.texts('["READ?"]'), ())
    if not poll:
        for key in ("every", "answer_within"):
            table.never(key, "is for an instrument that is asked; write poll beside it")
    end = table.take("command_end", forms.choice(LineEnd, LineEnd.CR_LF), LineEnd.CR_LF)
    return replace(
        ports.serial(table, common),
        **ports.asked(table, every_s=1.0, within_s=1.0),
        start=table.take("start", forms.texts('["UNIT C"]'), ()),
        poll=poll,
        command_end=end.sent,
        format=format.value,
        separator=separator,
        decimal=decimal,
        columns=columns,
    )


def _line_field(table: Table, instrument: InstrumentSettings) -> Field | None:
    field = table.need("field", _line_form(instrument), instead=None)
    device = table.take("device", forms.text('"A"'), None)
    if device is None or field is None:
        return field
    if instrument.format != LineFormat.CSV:
        table.fault("device", "is for csv, where the first column names it; leave it out")
    if field == 0:
        table.fault("field", "0 is the column that names the device; write 1 or more")
    return DeviceField(device=device, field=field)


def _line_form(instrument: InstrumentSettings) -> Form[int | str]:
    match instrument.format:
        case LineFormat.CSV:
            last = 999 if instrument.columns is None else instrument.columns - 1
            return forms.whole(0, last, "0")
        case LineFormat.PAIRS:
            return forms.text('"t1"')
        case _:
            return Form(read=_json_field, example='"probes.t1"')


def _scpi(table: Table, common: InstrumentSettings) -> InstrumentSettings:
    return replace(
        ports.serial(table, common),
        **ports.asked(table, every_s=1.0, within_s=2.0),
        start=table.take("start", forms.texts('["UNIT:TEMP C"]'), ()),
    )


def _answer_field(table: Table, _: InstrumentSettings) -> Field | None:
    query = table.need("query", Form(read=_query, example='"MEAS:TEMP? (@101)"'), instead=None)
    field = table.take("field", forms.whole(0, 999, "0"), 0)
    return None if query is None else AnswerField(query=query, field=field)


def _modbus(table: Table, common: InstrumentSettings) -> InstrumentSettings:
    # 19200 Bd and even parity are the defaults of Modbus over serial line V1.02, 2.5.1.
    instrument = ports.serial(table, common, baud=19_200, parity=ports.Parity.EVEN)
    return replace(instrument, **ports.asked(table, every_s=1.0, within_s=0.5))


def _register(table: Table, _: InstrumentSettings) -> Field | None:
    device = table.need("device", forms.whole(1, 247, "1"), instead=None)
    address = table.need("address", forms.whole(0, 65_535, "0"), instead=None)
    type = table.take("type", forms.choice(NumberType, NumberType.INT16), NumberType.INT16)
    order = table.take("word_order", forms.choice(WordOrder, WordOrder.HIGH_FIRST), None)
    if order is not None and type in {NumberType.INT16, NumberType.UINT16}:
        table.fault("word_order", f"{type} has only one word; leave it out")
    registers = table.take("table", forms.choice(Registers, Registers.INPUT), Registers.INPUT)
    scale = table.take("scale", Form(read=_scale, example="0.1"), 1.0)
    if device is None or address is None:
        return None
    return RegisterField(
        device=device,
        table=registers.value,
        address=address,
        type=type.value,
        word_order=(order or WordOrder.HIGH_FIRST).value,
        scale=scale,
    )


def _one_wire(table: Table, common: InstrumentSettings) -> InstrumentSettings:
    return replace(
        common,
        **ports.asked(table, every_s=1.0, within_s=5.0),
        folder=table.take("folder", forms.path(Path("/"), '"/sys/bus/w1/devices"'), None),
    )


def _sensor_field(table: Table, _: InstrumentSettings) -> Field | None:
    return table.need("field", Form(read=_sensor, example='"28-0316a2795cff"'), instead=None)


DRIVERS: Mapping[str, Driver] = {
    "serial-lines": Driver(read=_serial_lines, field=_line_field),
    "scpi": Driver(read=_scpi, field=_answer_field, place="query"),
    "modbus-rtu": Driver(read=_modbus, field=_register, place="address"),
    "one-wire": Driver(read=_one_wire, field=_sensor_field),
}

# Drivers that the configuration has words for and that this version does not have yet.
_PLANNED = ("ble-gatt", "ble-advert", "replay")


def _name(value: object) -> str:
    known = forms.text('"serial-lines"').read(value)
    if known in _PLANNED:
        built = ", ".join(f'"{name}"' for name in DRIVERS)
        raise DataError(f'"{known}" is not built into this version; write one of {built}')
    if known not in DRIVERS:
        raise DataError(f'no driver is called "{known}"; {nearest(known, DRIVERS)}')
    return known


def _decimal(value: object) -> str:
    if value not in (".", ","):
        raise DataError('is neither a point nor a comma; write "." or ","')
    return str(value)


def _json_field(value: object) -> int | str:
    if isinstance(value, int) and not isinstance(value, bool) and 0 <= value < 1000:
        return value
    return forms.text('"probes.t1"').read(value)


def _query(value: object) -> str:
    words = forms.text('"MEAS:TEMP? (@101)"').read(value)
    if "?" not in words or not words.isascii():
        raise DataError(f'"{words}" is no question; write one as "MEAS:TEMP? (@101)"')
    return words


def _scale(value: object) -> float:
    number = float(value) if isinstance(value, int | float) else math.nan
    if isinstance(value, bool) or not math.isfinite(number) or number == 0.0:
        raise DataError("is no number other than zero; write what one count is worth, as 0.1")
    return number


def _sensor(value: object) -> str:
    words = forms.text('"28-0316a2795cff"').read(value)
    if _SENSOR.fullmatch(words) is None:
        raise DataError(
            f'"{words}" is no 1-Wire sensor; write its folder\'s name, as "28-0316a2795cff"'
        )
    return words


NAME = Form(read=_name, example='"serial-lines"')
