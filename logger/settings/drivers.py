"""The drivers that a configuration can name, and the keys that each has of its own.

A new driver is one more entry of `DRIVERS`.
"""

from collections.abc import Callable, Mapping
from dataclasses import dataclass, replace
from enum import StrEnum

from logger.errors import DataError
from logger.settings import forms
from logger.settings.model import InstrumentSettings
from logger.settings.table import Form, Table, nearest


class LineFormat(StrEnum):
    """How the fields of a serial line are told apart."""

    CSV = "csv"
    JSON = "json"
    PAIRS = "pairs"


@dataclass(frozen=True, slots=True, kw_only=True)
class Driver:
    """What a driver adds to an instrument's keys, and how its channels name their field."""

    read: Callable[[Table, InstrumentSettings], InstrumentSettings]
    field: Callable[[InstrumentSettings], Form[int | str]]


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
    return replace(
        common,
        port=table.need("port", forms.text('"/dev/serial/by-id/usb-probes"'), instead=""),
        baud=table.take("baud", forms.whole(50, 4_000_000, "9600"), 9600),
        format=format.value,
        separator=separator,
        decimal=decimal,
        columns=columns,
    )


def _line_field(instrument: InstrumentSettings) -> Form[int | str]:
    match instrument.format:
        case LineFormat.CSV:
            last = 999 if instrument.columns is None else instrument.columns - 1
            return forms.whole(0, last, "0")
        case LineFormat.PAIRS:
            return forms.text('"t1"')
        case _:
            return Form(read=_json_field, example='"probes.t1"')


DRIVERS: Mapping[str, Driver] = {"serial-lines": Driver(read=_serial_lines, field=_line_field)}

# Drivers that the configuration has words for and that this version does not have yet.
_PLANNED = ("scpi", "modbus-rtu", "ble-gatt", "ble-advert", "one-wire", "replay")


def _name(value: object) -> str:
    known = forms.text('"serial-lines"').read(value)
    if known in _PLANNED:
        built = " or ".join(f'"{name}"' for name in DRIVERS)
        raise DataError(f'"{known}" is not built into this version; write {built}')
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


NAME = Form(read=_name, example='"serial-lines"')
