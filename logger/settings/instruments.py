"""[[instrument]] and what it delivers."""

from collections.abc import Sequence
from dataclasses import replace

from logger.burn.entries import BY_HAND
from logger.burn.limits import Station
from logger.quantities import Averaging, Channel
from logger.settings import forms, sections
from logger.settings.channels import Channels
from logger.settings.drivers import DRIVERS, NAME, Driver
from logger.settings.model import DeviceField, Field, InstrumentSettings
from logger.settings.table import Table
from logger.units import Dimension


def instruments(
    tables: list[Table],
    stations: Sequence[Station],
    averaging: Averaging,
    *,
    stored: bool = False,
) -> tuple[InstrumentSettings, ...]:
    """Every [[instrument]]; `averaging` is the bench's, `stored` as in `Channels`."""
    channels = Channels(stations, stored=stored)
    lines: dict[str, int] = {}
    ports: dict[str, str] = {}
    found: list[InstrumentSettings] = []
    for table in tables:
        instrument = _instrument(table, channels, averaging, lines)
        if instrument.port and instrument.port in ports:
            table.fault(
                "port",
                f'is read by "{ports[instrument.port]}" already; write the port of this one, or '
                "put both one's channels under one instrument",
            )
        ports.setdefault(instrument.port, instrument.name)
        found.append(instrument)
    channels.check_reflected()
    return tuple(found)


def _instrument(
    table: Table, channels: Channels, averaging: Averaging, lines: dict[str, int]
) -> InstrumentSettings:
    name = sections.unique_name(table, '"probes-a"', lines)
    if name == BY_HAND:
        table.fault("name", f'"{BY_HAND}" is where manual readings come from; write another name')
    silent = forms.more_than_zero(forms.quantity(Dimension.DURATION, '"15 s"'))
    instrument = InstrumentSettings(
        name=name,
        driver=table.need("driver", NAME, instead=""),
        silent_after_s=table.take("silent_after", silent, None),
    )
    driver = DRIVERS.get(instrument.driver)
    averaging = sections.averaging(table.table("averaging"), averaging)
    below = table.tables("channel")
    if not below:
        table.fault("channel", "missing; write at least one [[instrument.channel]] below")
    if driver is not None:
        instrument = driver.read(table, instrument)
        table.done()  # which keys there are is known only with the driver
    delivered = tuple(channels.read(each, instrument, averaging) for each in below)
    fields = _fields(below, delivered, instrument, driver) if driver is not None else ()
    return replace(instrument, fields=fields, channels=delivered)


def _fields(
    tables: list[Table],
    channels: Sequence[Channel],
    instrument: InstrumentSettings,
    driver: Driver,
) -> tuple[Field, ...]:
    """Where each channel is in what the instrument sends: no two at one place."""
    readers: dict[Field, str] = {}
    for table, channel in zip(tables, channels, strict=True):
        field = driver.field(table, instrument)
        if field is not None and field in readers:
            what = f"field {field}" if isinstance(field, int | str) else "the same"
            table.fault(driver.place, f'"{readers[field]}" reads {what} already; write another')
        if field is not None:
            readers.setdefault(field, channel.name)
        table.done()
    if len({isinstance(field, DeviceField) for field in readers}) > 1:
        for table in tables:
            if not table.has("device"):
                table.fault("device", "missing where another channel has it; write which one")
    return tuple(readers)
