"""Driver `ble-gatt`: a Bluetooth sensor that is connected to."""

from typing import Annotated, Literal

from pydantic import ValidationInfo, field_validator

from logger.bluetooth import NAMES, full_uuid
from logger.errors import DataError
from logger.settings import forms
from logger.settings.drivers.bluetooth_keys import BluetoothChannelKeys, BluetoothKeys
from logger.settings.drivers.instrument_keys import Channels
from logger.settings.keys import Form, WrongValue, key, nearest


def _characteristic(value: object) -> str:
    """Its UUID at full length."""
    words: str = forms.text('"temperature"').read(value)
    try:
        return NAMES.get(words) or full_uuid(words)
    except DataError:
        raise DataError(
            f'"{words}" is not a characteristic; {nearest(words, NAMES)} Or write a UUID, as "2A6E"'
        ) from None


class BleGattChannelKeys(BluetoothChannelKeys):
    """A value that the device serves."""

    characteristic: Annotated[str, Form(_characteristic, '"temperature"')] = key(
        "what holds it: a name of the Bluetooth SIG, or a UUID beside the number's type"
    )

    @field_validator("characteristic")
    @classmethod
    def _known_or_described(cls, uuid: str, info: ValidationInfo) -> str:
        if uuid not in NAMES.values() and info.data.get("type", "wrong") is None:
            raise WrongValue(
                'holds what only its maker knows; write type = "int16" or another beside it'
            )
        return uuid


class BleGattKeys(BluetoothKeys):
    """Listened to where it notifies, else asked."""

    place = ("characteristic", "sensor", "offset", "type")

    driver: Literal["ble-gatt"] = key("how it is read", "ble-gatt")
    every_s: Annotated[float, forms.duration('"2 s"')] = key(
        "from one question to the next, for what does not notify", "2 s"
    )
    answer_within_s: Annotated[float, forms.duration('"5 s"')] = key(
        "an answer takes no longer than this, in real time", "5 s"
    )
    channel: Channels[BleGattChannelKeys]
