"""Files in which the Linux kernel hands over 1-Wire temperature sensors.

All functions raise `DataError` for what is no temperature, and for the two values that a sensor
gives without having measured: 85 degC exactly, its power-on value, and a bus at zero.
"""

import re

from logger.errors import DataError
from logger.instruments.decoders.splitting import excerpt

LOW_C, HIGH_C = -55.0, 125.0  # range of the common digital 1-Wire thermometer (its data sheet)
POWER_ON_C = 85.0  # held until the first conversion ends (data sheet; a public test table)

_SLAVE = re.compile(
    rb"((?:[0-9a-f]{2} ){9}): crc=([0-9a-f]{2}) (YES|NO)\n((?:[0-9a-f]{2} ){9})t=(-?[0-9]{1,6})\n?"
)
_MILLIDEGREES = re.compile(rb"(-?[0-9]{1,6})\n?")
_CONFIGURATIONS = frozenset({0x1F, 0x3F, 0x5F, 0x7F})  # 9 to 12 bit; an older kind has 0xFF there


def from_slave_file(data: bytes) -> float:
    """Temperature in degC out of `w1_slave`: the sensor's nine bytes, the kernel's verdict, t."""
    match = _SLAVE.fullmatch(data)
    if match is None:
        raise DataError(f"'{excerpt(data)}' is not a 1-Wire reading: check that the sensor answers")
    first, _, verdict, second, thousandths = match.groups()
    scratchpad = bytes.fromhex(first.decode())
    if verdict == b"NO" or crc8(scratchpad) != 0:
        raise DataError("1-Wire: wrong CRC: check lead length, pull-up and supply")
    if second != first:
        raise DataError("1-Wire: the file changed while it was read")
    if not any(scratchpad):  # the CRC of nothing but zeros is zero, and so it passes
        raise DataError("1-Wire: nothing but zeros: the data line is shorted to ground")
    celsius = int(thousandths) / 1000.0
    if scratchpad[4] in _CONFIGURATIONS:
        exact_c = int.from_bytes(scratchpad[:2], "little", signed=True) / 16.0
        if abs(celsius - exact_c) >= 0.001:  # the kernel cuts 20.8125 to 20.812
            raise DataError(f"1-Wire: t={celsius:g} contradicts the sensor's bytes, {exact_c:g}")
        celsius = exact_c
    return _measured(celsius)


def from_temperature_file(data: bytes) -> float:
    """Temperature in degC out of `temperature`, which holds thousandths of a degree."""
    match = _MILLIDEGREES.fullmatch(data)
    if match is None:
        raise DataError(f"'{excerpt(data)}' is not a 1-Wire reading: check that the sensor answers")
    return _measured(int(match[1]) / 1000.0)


def crc8(data: bytes) -> int:
    """CRC-8/MAXIM: x^8 + x^5 + x^4 + 1, least significant bit first; 0 over data with its CRC."""
    crc = 0
    for byte in data:
        crc ^= byte
        for _ in range(8):
            crc = crc >> 1 ^ (0x8C if crc & 1 else 0)
    return crc


def _measured(celsius: float) -> float:
    if celsius == POWER_ON_C:
        raise DataError(
            "1-Wire: the power-on value, nothing was measured: check supply and pull-up"
        )
    if not LOW_C <= celsius <= HIGH_C:
        raise DataError("1-Wire: a temperature outside the sensor's range: check supply and wiring")
    return celsius
