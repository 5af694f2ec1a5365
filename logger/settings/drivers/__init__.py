"""[[instrument]], by driver: one class of keys each.

A new driver is a module here, one line in `DRIVERS`, and its namesake in `logger.instruments`.
"""

from collections.abc import Mapping
from typing import Annotated, Any

from pydantic import ConfigDict, PlainValidator, ValidationInfo

from logger.errors import DataError
from logger.settings import forms
from logger.settings.channels import ChannelKeys
from logger.settings.drivers.ble_advert_keys import BleAdvertKeys
from logger.settings.drivers.ble_gatt_keys import BleGattKeys
from logger.settings.drivers.instrument_keys import Channels, InstrumentKeys, InstrumentSettings
from logger.settings.drivers.modbus_keys import ModbusRtuKeys
from logger.settings.drivers.one_wire_keys import OneWireKeys
from logger.settings.drivers.scpi_keys import ScpiKeys
from logger.settings.drivers.serial_lines_keys import SerialLinesKeys
from logger.settings.keys import Form, key, nearest

__all__ = [
    "DRIVERS",
    "AnyInstrument",
    "BleAdvertKeys",
    "BleGattKeys",
    "InstrumentKeys",
    "InstrumentSettings",
    "ModbusRtuKeys",
    "OneWireKeys",
    "ScpiKeys",
    "SerialLinesKeys",
    "keys_of",
]

DRIVERS: Mapping[str, type[InstrumentKeys]] = {
    "serial-lines": SerialLinesKeys,
    "scpi": ScpiKeys,
    "modbus-rtu": ModbusRtuKeys,
    "one-wire": OneWireKeys,
    "ble-gatt": BleGattKeys,
    "ble-advert": BleAdvertKeys,
}


def _no_driver(value: object) -> str:
    name = forms.text('"serial-lines"').read(value)
    raise DataError(f'no driver is called "{name}"; {nearest(name, DRIVERS)}')


class DriverlessChannelKeys(ChannelKeys):
    """A channel of an instrument whose driver is missing or wrong."""

    model_config = ConfigDict(extra="ignore")


class DriverlessKeys(InstrumentKeys):
    """An instrument whose driver is missing or wrong: the keys that every one has are checked."""

    model_config = ConfigDict(extra="ignore")

    driver: Annotated[str, Form(_no_driver, '"serial-lines"')] = key("how it is read")
    channel: Channels[DriverlessChannelKeys]


def keys_of(raw: Any) -> type[InstrumentKeys]:
    """The class of keys for an instrument as it is written."""
    if not isinstance(raw, Mapping):
        return DriverlessKeys
    driver = raw.get("driver")
    known = DRIVERS.get(driver) if isinstance(driver, str) else None
    return DriverlessKeys if known is None else known.variant(raw)


def _by_driver(raw: Any, info: ValidationInfo) -> InstrumentKeys:
    return keys_of(raw).model_validate(raw, context=info.context)


AnyInstrument = Annotated[InstrumentKeys, PlainValidator(_by_driver)]
