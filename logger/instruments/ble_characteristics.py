"""Which characteristic of a connected device a channel reads."""

from dataclasses import dataclass

from bleak import BleakClient
from bleak.backends.characteristic import BleakGATTCharacteristic

from logger.bluetooth import NAMES, PRESENTATION_FORMAT, USER_DESCRIPTION
from logger.errors import InstrumentRefused, InstrumentUnavailable
from logger.instruments.decoders.ble_values import Decoder, presented_number

_NAMES = {uuid: name for name, uuid in NAMES.items()}


@dataclass(frozen=True, slots=True, kw_only=True)
class Wanted:
    """A characteristic, what makes a value of its bytes, and which of several it is.

    `sensor`: the text of its User Description, or its number: that of its Presentation Format
    where the device has any, else its place in the order of handles, from 1.
    """

    uuid: str
    decode: Decoder
    sensor: str | int | None = None


async def find(client: BleakClient, wanted: Wanted, instrument: str) -> BleakGATTCharacteristic:
    """The one meant. Raises `InstrumentUnavailable`, or `InstrumentRefused` for several."""
    known = sorted(client.services.characteristics.values(), key=lambda one: one.handle)
    those = [one for one in known if one.uuid == wanted.uuid]
    called = _NAMES.get(wanted.uuid, wanted.uuid)
    if not those:
        has = ", ".join(sorted({_NAMES.get(one.uuid, one.uuid) for one in known})) or "none"
        raise InstrumentUnavailable(instrument, f"it has no characteristic {called}; it has {has}")
    if wanted.sensor is None:
        if len(those) == 1:
            return those[0]
        ways = ", ".join([_quoted(await description(client, one)) for one in those])
        reason = (
            f"it has {len(those)} of {called}: write sensor = 1 to {len(those)}, or one of {ways}"
        )
        raise InstrumentRefused(instrument, reason)
    if isinstance(wanted.sensor, str):
        descriptions = [await description(client, one) for one in those]
        for one, text in zip(those, descriptions, strict=True):
            if text.casefold() == wanted.sensor.casefold():
                return one
        ways = ", ".join(map(_quoted, descriptions))
        reason = f'none of its sensors is described as "{wanted.sensor}"; they are {ways}'
        raise InstrumentUnavailable(instrument, reason)
    numbers = [await _number(client, one) for one in those]
    if not any(numbers):
        numbers = list(range(1, len(those) + 1))
    for one, number in zip(those, numbers, strict=True):
        if number == wanted.sensor:
            return one
    reason = f"it has no sensor {wanted.sensor} of {called}, it has {len(those)}"
    raise InstrumentUnavailable(instrument, reason)


async def description(client: BleakClient, characteristic: BleakGATTCharacteristic) -> str:
    """Its User Description; empty where it has none."""
    data = await _descriptor(client, characteristic, USER_DESCRIPTION)
    return data.decode("utf-8", "replace").rstrip("\0").strip()


async def _number(client: BleakClient, characteristic: BleakGATTCharacteristic) -> int | None:
    return presented_number(await _descriptor(client, characteristic, PRESENTATION_FORMAT))


async def _descriptor(
    client: BleakClient, characteristic: BleakGATTCharacteristic, uuid: str
) -> bytes:
    descriptor = characteristic.get_descriptor(uuid)
    return b"" if descriptor is None else bytes(await client.read_gatt_descriptor(descriptor))


def _quoted(text: str) -> str:
    return f'"{text}"'
