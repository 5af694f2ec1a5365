"""Keys that the Bluetooth drivers share: which device, and how a number lies in its bytes."""

import re
from typing import Annotated, Any, Literal

from pydantic import ValidationInfo, field_validator

from logger.bluetooth import full_uuid
from logger.errors import DataError
from logger.settings import forms
from logger.settings.channels import ChannelKeys
from logger.settings.drivers.instrument_keys import InstrumentKeys
from logger.settings.keys import Form, WrongValue, key

_ADDRESS = re.compile(r"(?:[0-9A-F]{2}:){5}[0-9A-F]{2}", re.ASCII)
_ADAPTER = re.compile(r"hci[0-9]+", re.ASCII)


def _address(value: object) -> str:
    words: str = forms.text('"AA:BB:CC:DD:EE:FF"').read(value)
    if _ADDRESS.fullmatch(words.upper()) is None:
        raise DataError(f'"{words}" is not a Bluetooth address; write it as "AA:BB:CC:DD:EE:FF"')
    return words.upper()


def _adapter(value: object) -> str:
    words: str = forms.text('"hci0"').read(value)
    if _ADAPTER.fullmatch(words) is None:
        raise DataError(
            f'"{words}" is not an adapter; write the name that the system gives, as "hci0"'
        )
    return words


def _uuid(value: object) -> str:
    return full_uuid(forms.text('"181A"').read(value))


NumberType = Literal[
    "int8", "uint8", "int16", "uint16", "int24", "uint24", "int32", "uint32",
    "float32", "sfloat", "float",
]  # fmt: skip
Uuid = Annotated[str, Form(_uuid, '"181A"')]


class BluetoothKeys(InstrumentKeys):
    """A device by its address, or by a name where it is the only one of that name."""

    address: Annotated[str, Form(_address, '"AA:BB:CC:DD:EE:FF"')] | None = key(
        "of the device; `wickbench find` shows it", None
    )
    device_name: Annotated[str, forms.text('"Ember 3"')] | None = key(
        "that the device advertises, in place of its address; left out too: the instrument's", None
    )
    adapter: Annotated[str, Form(_adapter, '"hci0"')] | None = key(
        "left out: the first that is on", None
    )

    @field_validator("device_name")
    @classmethod
    def _one_of_both(cls, name: str | None, info: ValidationInfo) -> str | None:
        if name is not None and info.data.get("address") is not None:
            raise WrongValue("says the same as address; leave one of them out")
        return name

    @property
    def advertised_name(self) -> str | None:
        """The name to look for, where there is not an address."""
        return None if self.address is not None else self.device_name or self.name


def _sensor(value: object) -> str | int:
    if isinstance(value, str):
        words: str = forms.text('"Probe 2"').read(value)
        return words
    number: int = forms.whole(1, 255, "2").read(value)
    return number


class BluetoothChannelKeys(ChannelKeys):
    """A number described by its place and layout, as the maker's sheet tells it."""

    sensor: Annotated[str | int, Form(_sensor, '"Probe 2"', forms.TEXT_OR_WHOLE)] | None = key(
        "which, where the device has several of a kind: its description, or its number from 1", None
    )
    type: NumberType | None = key(
        "how the number lies in the bytes; sfloat and float are IEEE 11073's", None
    )
    offset: Annotated[int, forms.whole(0, 511, "0")] | None = key(
        "where it begins, counted in bytes; left out: 0", None
    )
    byte_order: Literal["little", "big"] | None = key(
        "little: the lowest byte comes first; left out: little", None
    )
    scale: forms.Scale | None = key("what one count is worth; left out: 1", None)

    @field_validator("offset", "byte_order", "scale")
    @classmethod
    def _beside_a_type(cls, value: Any, info: ValidationInfo) -> Any:
        if value is not None and info.data.get("type", "wrong") is None:
            raise WrongValue('describes a number; write its type beside it, as type = "int16"')
        return value
