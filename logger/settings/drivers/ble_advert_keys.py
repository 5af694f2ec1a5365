"""Driver `ble-advert`: Bluetooth sensors that only advertise."""

from typing import Annotated, Literal, Self

from pydantic import model_validator

from logger.settings import forms
from logger.settings.drivers.bluetooth_keys import BluetoothChannelKeys, BluetoothKeys, Uuid
from logger.settings.drivers.instrument_keys import Channels
from logger.settings.keys import WrongValue, key


class BleAdvertChannelKeys(BluetoothChannelKeys):
    """A value that the device advertises: of an open format by its name, else described."""

    characteristic: Literal["temperature", "humidity", "mass"] | None = key(
        "of BTHome v2 or Environmental Sensing, whichever it sends", None
    )
    service_data: Uuid | None = key("of which service, for a number of the maker's own", None)
    manufacturer: Annotated[int, forms.whole(0, 0xFFFF, "0xFFFF")] | None = key(
        "the maker's number, for a number in the manufacturer data", None
    )

    @model_validator(mode="after")
    def _one_source(self) -> Self:
        stated = [
            name
            for name in ("characteristic", "service_data", "manufacturer")
            if getattr(self, name) is not None
        ]
        if len(stated) != 1:
            what = "missing" if not stated else f"stands beside {stated[0]}"
            raise WrongValue(
                f'{what}; write one of characteristic = "temperature", service_data, manufacturer',
                *(stated[1:] or ["characteristic", "name"]),
            )
        if self.characteristic is None and self.type is None:
            raise WrongValue(
                'must be described; write type = "int16" or another beside it', *stated
            )
        if self.characteristic is not None and self.type is not None:
            raise WrongValue("is laid down by the open format; leave it out", "type")
        if self.characteristic is not None and isinstance(self.sensor, str):
            raise WrongValue("is a text; advertised values have none, write its number", "sensor")
        return self


class BleAdvertKeys(BluetoothKeys):
    """Heard, never connected to."""

    place = ("characteristic", "service_data", "manufacturer", "sensor", "offset", "type")

    driver: Literal["ble-advert"] = key("how it is read", "ble-advert")
    channel: Channels[BleAdvertChannelKeys]
