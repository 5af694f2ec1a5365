"""Numbers in Modbus registers: the 16-bit words of a read, after frame and CRC are dealt with."""

import math
import struct
from collections.abc import Sequence
from dataclasses import dataclass
from enum import StrEnum

from logger.errors import DataError


class RegisterType(StrEnum):
    """How a number is laid out."""

    INT16 = "int16"
    UINT16 = "uint16"
    INT32 = "int32"
    UINT32 = "uint32"
    FLOAT32 = "float32"


class WordOrder(StrEnum):
    """Which register of two holds the upper half; the standard leaves it to the maker."""

    HIGH_FIRST = "high-first"
    LOW_FIRST = "low-first"


_STRUCT = {
    RegisterType.INT16: ">h",
    RegisterType.UINT16: ">H",
    RegisterType.INT32: ">i",
    RegisterType.UINT32: ">I",
    RegisterType.FLOAT32: ">f",
}


@dataclass(frozen=True, slots=True, kw_only=True)
class RegisterNumber:
    """One number: its layout, and what one count of it is worth."""

    type: RegisterType
    word_order: WordOrder = WordOrder.HIGH_FIRST
    scale: float = 1.0

    def __post_init__(self) -> None:
        if not math.isfinite(self.scale) or self.scale == 0.0:
            raise DataError("Modbus: scale must be a finite number other than 0")

    @property
    def registers(self) -> int:
        """How many registers it takes."""
        return struct.calcsize(_STRUCT[self.type]) // 2

    def value(self, words: Sequence[int]) -> float:
        """The number in `words`, as many as it takes.

        Raises `DataError` for another count, a word that is none, and NaN or infinity, with
        which instruments report a broken sensor.
        """
        if len(words) != self.registers:
            raise DataError(f"Modbus: {len(words)} registers instead of {self.registers}")
        ordered = words if self.word_order is WordOrder.HIGH_FIRST else list(reversed(words))
        try:
            packed = struct.pack(f">{len(ordered)}H", *ordered)
        except struct.error:
            raise DataError(f"Modbus: {list(words)} are not 16-bit registers") from None
        (raw,) = struct.unpack(_STRUCT[self.type], packed)
        value = float(raw) * self.scale
        if not math.isfinite(value):
            raise DataError(
                f"Modbus: registers {packed.hex(' ', 2)} are not a finite number: check the"
                " sensor; if they always are, check type, word order and scale"
            )
        # Three counts of 0.1 are 0.3, not 0.30000000000000004: what came is kept as it came.
        return value if self.type is RegisterType.FLOAT32 else float(f"{value:.12g}")
