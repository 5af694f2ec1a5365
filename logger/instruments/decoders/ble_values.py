"""What the Bluetooth SIG calls temperature, humidity and battery level.

All decoders raise `DataError`, and nothing else, for bytes that are no reading.
"""

from collections.abc import Callable, Mapping
from typing import NamedTuple

from logger.bluetooth import NAMES
from logger.errors import DataError
from logger.instruments.decoders.ble_numbers import Number, NumberType

ABSOLUTE_ZERO_C = -273.15  # SI brochure, 9th ed., 2.3.1


class BleValue(NamedTuple):
    """What was read; `unit` is None where the configuration's holds."""

    value: float
    unit: str | None = None


Decoder = Callable[[bytes], BleValue]

_HUNDREDTHS = Number(type=NumberType.INT16, scale=0.01)
_HUNDREDTHS_UNSIGNED = Number(type=NumberType.UINT16, scale=0.01)
_FLOAT_AFTER_FLAGS = Number(type=NumberType.FLOAT, offset=1)
_PERCENT = Number(type=NumberType.UINT8)


def temperature(data: bytes) -> BleValue:
    """Temperature, 0x2A6E: sint16 of 0.01 degC."""
    return checked(BleValue(_HUNDREDTHS.value(_exactly(data, 2)), "degC"))


def humidity(data: bytes) -> BleValue:
    """Humidity, 0x2A6F: uint16 of 0.01 per cent."""
    return checked(BleValue(_HUNDREDTHS_UNSIGNED.value(_exactly(data, 2)), "percent"))


def temperature_measurement(data: bytes) -> BleValue:
    """Temperature Measurement, 0x2A1C, and Intermediate Temperature, 0x2A1E.

    Flags (bit 0: degF; 1: seven bytes of time follow; 2: a byte of type), FLOAT, and what follows.
    """
    if not data:
        raise DataError("an empty measurement came")
    flags = data[0]
    needed = 5 + (7 if flags & 2 else 0) + (1 if flags & 4 else 0)
    if len(data) < needed:
        raise DataError(f"{len(data)} bytes came, a measurement with flags {flags} needs {needed}")
    unit = "degF" if flags & 1 else "degC"
    return checked(BleValue(_FLOAT_AFTER_FLAGS.value(data), unit))


def battery_level(data: bytes) -> int:
    """Battery Level, 0x2A19: per cent."""
    value = _PERCENT.value(_exactly(data, 1))
    if value > 100:
        raise DataError(f"a battery of {value:g} % came")
    return int(value)


_BELOW_ZERO = "a temperature below absolute zero: check the probe"


def checked(found: BleValue) -> BleValue:
    """`found`, if such a thing can be: a sensor without a probe sends the strangest figures."""
    value, unit = found
    match unit:
        case "degC" if value < ABSOLUTE_ZERO_C:
            raise DataError(_BELOW_ZERO)
        case "degF" if value < ABSOLUTE_ZERO_C * 1.8 + 32.0:
            raise DataError(_BELOW_ZERO)
        case "percent" if not 0.0 <= value <= 100.0:
            raise DataError(f"{value:g} % of humidity is not possible: check the sensor")
    return found


def _exactly(data: bytes, size: int) -> bytes:
    if len(data) != size:
        raise DataError(f"{len(data)} bytes came instead of {size}: another characteristic?")
    return data


DECODERS: Mapping[str, Decoder] = {
    NAMES["temperature"]: temperature,
    NAMES["humidity"]: humidity,
    NAMES["temperature-measurement"]: temperature_measurement,
    NAMES["intermediate-temperature"]: temperature_measurement,
}
"""By UUID: what needs no description of its bytes."""


def presented_number(data: bytes) -> int | None:
    """Which of several, from 1, says the Characteristic Presentation Format 0x2904; None: it
    does not. Its last three bytes are namespace and description; in the SIG's namespace (1) the
    descriptions 1 to 255 are "first" to "two hundred and fifty-fifth" (assigned numbers, memory).
    """
    if len(data) != 7 or data[4] != 1:
        return None
    number = int.from_bytes(data[5:7], "little")
    return number if 1 <= number <= 255 else None
