"""What sensors that only advertise say in their service data: BTHome v2, Environmental Sensing.

All functions raise `DataError`, and nothing else, for what cannot be read.
"""

from collections.abc import Mapping
from dataclasses import dataclass

from logger.bluetooth import ENVIRONMENTAL_SENSING, full_uuid
from logger.errors import DataError
from logger.instruments.decoders.ble_numbers import Number, NumberType
from logger.instruments.decoders.ble_values import BleValue, checked

BTHOME = full_uuid("FCD2")

# Device information byte of BTHome v2: bit 0 encrypted, bits 5 to 7 version (bthome.io/format).
_ENCRYPTED = 0x01
_VERSION = 2


@dataclass(frozen=True, slots=True, kw_only=True)
class AdvertisedValue:
    """One value of an advertisement, still as bytes: not every one need be a reading."""

    kind: str  # temperature, humidity or mass
    unit: str
    number: Number
    data: bytes

    def value(self) -> BleValue:
        """Raises `DataError` where the sensor says that it has none."""
        return checked(BleValue(self.number.value(self.data), self.unit))


@dataclass(frozen=True, slots=True, kw_only=True)
class Advertised:
    """What one advertisement says."""

    sent: tuple[AdvertisedValue, ...]
    battery_percent: int | None = None
    packet_id: int | None = None  # the same for repetitions of one measurement


def _number(type: NumberType, scale: float) -> Number:
    return Number(type=type, scale=scale)


_MEASURED: Mapping[int, tuple[str, str, Number]] = {
    0x02: ("temperature", "degC", _number(NumberType.INT16, 0.01)),
    0x03: ("humidity", "percent", _number(NumberType.UINT16, 0.01)),
    0x06: ("mass", "kg", _number(NumberType.UINT16, 0.01)),
    0x07: ("mass", "lb", _number(NumberType.UINT16, 0.01)),
    0x2E: ("humidity", "percent", _number(NumberType.UINT8, 1.0)),
    0x45: ("temperature", "degC", _number(NumberType.INT16, 0.1)),
    0x57: ("temperature", "degC", _number(NumberType.INT8, 1.0)),
    0x58: ("temperature", "degC", _number(NumberType.INT8, 0.35)),
}
_PACKET_ID, _BATTERY = 0x00, 0x01

# Bytes behind each object id, from bthome.io/format as published tables repeat it; those from 0x59
# on are from memory. None: the first byte tells how many follow.
_LENGTHS: Mapping[int, int | None] = {
    **dict.fromkeys((0x00, 0x01, 0x09, *range(0x0F, 0x12), *range(0x15, 0x30)), 1),
    **dict.fromkeys((0x02, 0x03, 0x06, 0x07, 0x08, 0x0C, 0x0D, 0x0E, 0x12, 0x13, 0x14), 2),
    **dict.fromkeys((0x04, 0x05, 0x0A, 0x0B), 3),
    0x3A: 1,
    **dict.fromkeys((0x3C, 0x3D, 0x3F, 0x40, 0x41, 0x43, 0x44, 0x45), 2),
    **dict.fromkeys((0x42, 0x4B), 3),
    0x46: 1,
    **dict.fromkeys((0x47, 0x48, 0x49, 0x4A, 0x51, 0x52, 0x56), 2),
    **dict.fromkeys((0x3E, 0x4C, 0x4D, 0x4E, 0x4F, 0x50, 0x55), 4),
    **dict.fromkeys((0x53, 0x54), None),
    **dict.fromkeys((0x57, 0x58, 0x59, 0x60), 1),
    **dict.fromkeys((0x5A, 0x5D, 0x5E, 0x5F, 0x61, 0xF0), 2),
    0xF2: 3,
    **dict.fromkeys((0x5B, 0x5C, 0xF1), 4),
}


def bthome(data: bytes) -> Advertised:
    """The service data of 0xFCD2. An object of an unknown id ends it: its length is not known."""
    if not data:
        raise DataError("BTHome: empty service data came")
    if data[0] & _ENCRYPTED:
        raise DataError(
            "BTHome: the sensor encrypts what it sends, and its key is missing: keys are not "
            "supported; switch the encryption off in the sensor's own settings"
        )
    if data[0] >> 5 != _VERSION:
        raise DataError(f"BTHome: version {data[0] >> 5} came, this is for version {_VERSION}")
    sent: list[AdvertisedValue] = []
    battery: int | None = None
    packet: int | None = None
    place = 1
    while place < len(data) and data[place] in _LENGTHS:
        id, place = data[place], place + 1
        length = _LENGTHS[id]
        if length is None:
            length = data[place] + 1 if place < len(data) else 1
        found, place = data[place : place + length], place + length
        if len(found) < length:
            raise DataError(f"BTHome: object 0x{id:02X} is cut short")
        if id == _PACKET_ID:
            packet = found[0]
        elif id == _BATTERY:
            battery = found[0] if found[0] <= 100 else None  # no reason to lose the rest
        elif id in _MEASURED:
            kind, unit, number = _MEASURED[id]
            sent.append(AdvertisedValue(kind=kind, unit=unit, number=number, data=found))
    return Advertised(sent=tuple(sent), battery_percent=battery, packet_id=packet)


def environmental_sensing(data: bytes) -> Advertised:
    """The service data of 0x181A: Temperature as in 0x2A6E, and perhaps Humidity as in 0x2A6F.

    The SIG gives this service data no layout; two values in their characteristics' own form are
    what small sensors send (common practice). What is longer needs a description of its bytes.
    """
    if len(data) not in (2, 4):
        raise DataError(
            f"Environmental Sensing: {len(data)} bytes of the maker's own came; describe them "
            'with service_data = "181A", offset and type'
        )
    kinds = ("temperature", "degC", 0x02), ("humidity", "percent", 0x03)
    return Advertised(
        sent=tuple(
            AdvertisedValue(
                kind=kind, unit=unit, number=_MEASURED[id][2], data=data[start : start + 2]
            )
            for start, (kind, unit, id) in zip(range(0, len(data), 2), kinds, strict=False)
        )
    )


ADVERTISED = {BTHOME: bthome, ENVIRONMENTAL_SENSING: environmental_sensing}
"""By the UUID of the service data."""
