"""[[instrument]] and its channels; `DRIVERS` says which keys each driver has of its own."""

import re
from collections.abc import Callable, Mapping
from dataclasses import dataclass, replace
from enum import StrEnum

from logger.burn.limits import Station
from logger.errors import DataError
from logger.quantities import (
    VESSEL_POSITIONS,
    Averaging,
    Channel,
    Kind,
    Place,
    Position,
    Quantity,
    Transducer,
    Unit,
)
from logger.settings import forms, sections
from logger.settings.model import InstrumentSettings
from logger.settings.table import Form, Table, nearest
from logger.units import Dimension, unit_of

BY_HAND = "by-hand"  # the instrument that manual readings come from


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


def instruments(
    tables: list[Table], stations: tuple[Station, ...], averaging: Averaging
) -> tuple[InstrumentSettings, ...]:
    """Every [[instrument]]; `averaging` is the bench's."""
    bench = _Bench(station_names=tuple(station.name for station in stations))
    found: list[InstrumentSettings] = []
    lines: dict[str, int] = {}
    ports: dict[str, str] = {}
    for table in tables:
        instrument = _instrument(table, bench, averaging, lines)
        if instrument.port and instrument.port in ports:
            table.fault(
                "port",
                f'is read by "{ports[instrument.port]}" already; write the port of this one, or '
                "put both one's channels under one instrument",
            )
        ports.setdefault(instrument.port, instrument.name)
        found.append(instrument)
    bench.check_reflected([channel for one in found for channel in one.channels])
    return tuple(found)


class _Bench:
    """What the channels of all instruments must agree on."""

    def __init__(self, station_names: tuple[str, ...]) -> None:
        self.station_names = station_names
        self.channel_lines: dict[str, int] = {}
        self.tables: dict[str, Table] = {}

    def check_reflected(self, channels: list[Channel]) -> None:
        """`reflected` may name a channel that comes later, so all must be known first."""
        temperatures = [c.name for c in channels if c.name and c.quantity is Quantity.TEMPERATURE]
        for channel in channels:
            others = [name for name in temperatures if name != channel.name]
            if isinstance(channel.reflected, str) and channel.reflected not in others:
                self.tables[channel.name].fault(
                    "reflected",
                    f'no other temperature channel is called "{channel.reflected}"; '
                    + (nearest(channel.reflected, others) if others else 'write "22 degC"'),
                )


def _instrument(
    table: Table, bench: _Bench, averaging: Averaging, lines: dict[str, int]
) -> InstrumentSettings:
    name = sections.unique_name(table, '"probes-a"', lines)
    if name == BY_HAND:
        table.fault("name", f'"{BY_HAND}" is where manual readings come from; write another name')
    silent = forms.more_than_zero(forms.quantity(Dimension.DURATION, '"15 s"'))
    instrument = InstrumentSettings(
        name=name,
        driver=table.need("driver", Form(read=_driver, example='"serial-lines"'), instead=""),
        silent_after_s=table.take("silent_after", silent, None),
    )
    driver = DRIVERS.get(instrument.driver)
    averaging = sections.averaging(table.table("averaging"), averaging)
    channel_tables = table.tables("channel")
    if not channel_tables:
        table.fault("channel", "missing; write at least one [[instrument.channel]] below")
    if driver is not None:
        instrument = driver.read(table, instrument)
        table.done()  # which keys there are is known only with the driver
    channels: list[Channel] = []
    fields: list[int | str] = []
    taken: dict[int | str, str] = {}
    for channel_table in channel_tables:
        channel = _channel(channel_table, instrument, bench, averaging)
        channels.append(channel)
        if driver is not None:
            field = channel_table.need("field", driver.field(instrument), instead="")
            if field in taken and field != "":
                channel_table.fault(
                    "field", f'"{taken[field]}" reads field {field} already; write another one'
                )
            taken.setdefault(field, channel.name)
            fields.append(field)
            channel_table.done()
    return replace(instrument, fields=tuple(fields), channels=tuple(channels))


def _channel(
    table: Table, instrument: InstrumentSettings, bench: _Bench, averaging: Averaging
) -> Channel:
    name = sections.unique_name(table, '"jar-a-wall-3"', bench.channel_lines)
    bench.tables.setdefault(name, table)
    quantity = table.need(
        "quantity", forms.choice(Quantity, Quantity.TEMPERATURE), instead=Quantity.TEMPERATURE
    )
    station = table.take("station", forms.text('"jar-a"'), None)
    if station is not None and station not in bench.station_names:
        known = (
            nearest(station, bench.station_names)
            if bench.station_names
            else f'write [[station]] with name = "{station}" above'
        )
        table.fault("station", f'no station is called "{station}"; {known}')
    transducer, unit = _input(table, quantity)
    kind = _kind(table)
    step = forms.difference(quantity, _DIFFERENCES[quantity])
    calibration = table.table("calibration")
    offset = calibration.take("offset", step, 0.0)
    calibration.done()
    return Channel(
        name=name,
        instrument=instrument.name,
        quantity=quantity,
        place=_place(table, station),
        station=station,
        unit=unit,
        transducer=transducer,
        kind=kind,
        coupling=table.take("coupling", forms.more_than_zero(step), None),
        lag_s=table.take("lag", forms.quantity(Dimension.DURATION, '"8 s"'), 0.0),
        emissivity=table.take("emissivity", forms.EMISSIVITY, None),
        emissivity_measured=table.take("emissivity_measured", forms.FLAG, False),
        emissivity_set=table.take("emissivity_set", forms.EMISSIVITY, 1.0),
        reflected=table.take("reflected", Form(read=_reflected, example='"room"'), None),
        accuracy=table.take("accuracy", forms.more_than_zero(step), None),
        calibration_offset=offset,
        resolution=table.take("resolution", forms.more_than_zero(step), None),
        silent_after_s=instrument.silent_after_s,
        averaging=averaging,
    )


_DIFFERENCES = {
    Quantity.TEMPERATURE: '"1.5 delta_degC"',
    Quantity.MASS: '"0.1 g"',
    Quantity.HUMIDITY: '"3 percent"',
}
_UNITS: Mapping[Quantity | Dimension, str] = {
    Quantity.TEMPERATURE: '"degC"',
    Quantity.MASS: '"g"',
    Quantity.HUMIDITY: '"percent"',
    Dimension.VOLTAGE: '"mV"',
    Dimension.RESISTANCE: '"ohm"',
}
_ELECTRICAL = {
    Transducer.THERMOCOUPLE_K: Dimension.VOLTAGE,
    Transducer.THERMOCOUPLE_T: Dimension.VOLTAGE,
    Transducer.PT100: Dimension.RESISTANCE,
    Transducer.NTC: Dimension.RESISTANCE,
}


def _input(table: Table, quantity: Quantity) -> tuple[Transducer, Unit]:
    """What comes over the link, and what makes a temperature of it."""
    transducer = table.take(
        "transducer", forms.choice(Transducer, Transducer.NONE), Transducer.NONE
    )
    if transducer is not Transducer.NONE and quantity is not Quantity.TEMPERATURE:
        table.fault("transducer", f'gives a temperature, not {quantity}; write "none"')
    comes: Quantity | Dimension = _ELECTRICAL.get(transducer, quantity)
    unit = table.need("unit", forms.unit_name(comes, _UNITS[comes]), instead="")
    return transducer, unit_of(unit, comes) if unit else Unit(name="")


def _kind(table: Table) -> Kind:
    """How the instrument meets the surface; whoever states an emissivity says infrared."""
    infrared = table.has("emissivity")
    kind = table.take("kind", forms.choice(Kind, Kind.CONTACT), Kind.UNSTATED)
    if infrared and kind is Kind.CONTACT:
        table.fault("emissivity", "a contact probe has none; leave it out")
    if kind is Kind.INFRARED and not infrared:
        table.fault("emissivity", "missing: infrared needs it; write emissivity = 0.92 for glass")
    if table.has("coupling") and kind is not Kind.CONTACT:
        table.fault("coupling", 'belongs to contact probes; write kind = "contact" beside it')
    for key in ("emissivity_set", "emissivity_measured", "reflected"):
        if table.has(key) and not infrared:
            table.fault(key, "corrects nothing alone; write the surface's emissivity beside it")
    return Kind.INFRARED if infrared and kind is Kind.UNSTATED else kind


def _place(table: Table, station: str | None) -> Place:
    position = table.need("place", forms.choice(Position, Position.WALL), instead=Position.ROOM)
    height = forms.more_than_zero(forms.quantity(Dimension.LENGTH, '"60 mm"'))
    if position is Position.WALL:
        height_mm: float | None = table.need("height", height, instead=1.0)
    else:
        height_mm = table.take("height", height, None)
    clock = table.take("clock", forms.whole(1, 12, "3"), None)
    if station is None and position in VESSEL_POSITIONS | {Position.MELT_POOL}:
        table.fault("station", f'missing: a {position} belongs to one; write station = "jar-a"')
    return Place(position=position, height_mm=height_mm, clock=clock)


def _driver(value: object) -> str:
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


def _reflected(value: object) -> str | float:
    """A channel's name or a temperature; no name looks like a quantity: "22 degC" has a blank."""
    words = forms.text('"room" or "22 degC"').read(value)
    if forms.is_name(words) and re.search("[a-z]", words):
        return words
    return forms.quantity(Quantity.TEMPERATURE, '"22 degC"').read(words)
