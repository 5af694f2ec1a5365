"""Numbers in the bytes of a Bluetooth characteristic or advertisement.

All functions raise `DataError`, and nothing else, for what is not a reading.
"""

import math
import struct
from dataclasses import dataclass
from enum import StrEnum

from logger.errors import DataError

NO_VALUE = "the sensor says that it has no value: check probe and plug"


class NumberType(StrEnum):
    """How a number is laid out; `sfloat` and `float` are those of IEEE 11073, base ten."""

    INT8 = "int8"
    UINT8 = "uint8"
    INT16 = "int16"
    UINT16 = "uint16"
    INT24 = "int24"
    UINT24 = "uint24"
    INT32 = "int32"
    UINT32 = "uint32"
    FLOAT32 = "float32"
    SFLOAT = "sfloat"
    FLOAT = "float"

    @property
    def size(self) -> int:
        """Bytes that it takes."""
        return _SIZES[self]


class ByteOrder(StrEnum):
    """Which byte comes first; Bluetooth itself begins with the lowest."""

    LITTLE = "little"
    BIG = "big"


_SIZES = {
    NumberType.INT8: 1,
    NumberType.UINT8: 1,
    NumberType.INT16: 2,
    NumberType.UINT16: 2,
    NumberType.INT24: 3,
    NumberType.UINT24: 3,
    NumberType.INT32: 4,
    NumberType.UINT32: 4,
    NumberType.FLOAT32: 4,
    NumberType.SFLOAT: 2,
    NumberType.FLOAT: 4,
}
# Bits of the mantissa; the exponent has the rest (ISO/IEEE 11073-20601, FLOAT-Type, SFLOAT-Type).
_MANTISSA_BITS = {NumberType.SFLOAT: 12, NumberType.FLOAT: 24}


@dataclass(frozen=True, slots=True, kw_only=True)
class Number:
    """One number: where it begins, its layout, and what one count of it is worth."""

    type: NumberType
    offset: int = 0
    order: ByteOrder = ByteOrder.LITTLE
    scale: float = 1.0

    def value(self, data: bytes) -> float:
        """The number in `data`.

        The lowest signed and the highest unsigned count stand for "not known" (Bluetooth SIG, GATT
        supplement: 0x8000 of sint16, 0xFFFF of uint16); so do NaN, infinities and what is reserved.
        """
        end = self.offset + self.type.size
        if self.offset < 0 or len(data) < end:
            raise DataError(
                f"{len(data)} bytes came, {self.type} at offset {self.offset} needs {end}: "
                "check offset and type"
            )
        value = self._unscaled(data[self.offset : end]) * self.scale
        if not math.isfinite(value):
            raise DataError(NO_VALUE)
        # 5725 counts of 0.01 are 57.25, not 57.25000000000001: what came is kept as it came.
        return value if self.type is NumberType.FLOAT32 else float(f"{value:.12g}")

    def _unscaled(self, data: bytes) -> float:
        match self.type:
            case NumberType.FLOAT32:
                (number,) = struct.unpack(
                    "<f" if self.order is ByteOrder.LITTLE else ">f",
                    data,
                )
                return float(number)
            case NumberType.SFLOAT | NumberType.FLOAT:
                count = int.from_bytes(data, self.order.value)
                return _base_ten(count, 8 * len(data), _MANTISSA_BITS[self.type])
        signed = self.type.startswith("int")
        count = int.from_bytes(data, self.order.value, signed=signed)
        bits = 8 * len(data)
        if count == (-(1 << bits - 1) if signed else (1 << bits) - 1):
            raise DataError(NO_VALUE)
        return float(count)


def _base_ten(word: int, bits: int, mantissa_bits: int) -> float:
    """IEEE 11073 FLOAT and SFLOAT: mantissa times ten to the exponent, both signed."""
    highest = (1 << mantissa_bits - 1) - 1
    # NaN, +infinity, "not at this resolution", reserved, -infinity, in this order: 0x007FFFFF,
    # 0x007FFFFE, 0x00800000 to 0x00800002; of SFLOAT 0x07FF, 0x07FE, 0x0800 to 0x0802.
    if highest - 1 <= word <= highest + 3:
        raise DataError(NO_VALUE)
    mantissa = _signed(word & (1 << mantissa_bits) - 1, mantissa_bits)
    exponent = _signed(word >> mantissa_bits, bits - mantissa_bits)
    # Division of whole numbers is rounded once: 364 / 10 is 36.4.
    return mantissa / 10**-exponent if exponent < 0 else float(mantissa * 10**exponent)


def _signed(word: int, bits: int) -> int:
    return word - (1 << bits) if word >> bits - 1 else word
