"""Register decoding and CRC against frames of the Modbus specification."""

import numpy as np
import pytest
from crccheck.crc import CrcModbus

from logger.instruments.decoders.modbus_registers import RegisterNumber, RegisterType, WordOrder

# Frames of the Modbus specification, as public repositories quote them; the last is computed.
FRAMES = [
    "11 03 00 6B 00 03 76 87",
    "11 03 06 AE 41 56 52 43 40 49 AD",
    "01 03 00 00 00 0A C5 CD",
    "01 03 00 00 00 02 C4 0B",
    "01 83 02 C0 F1",
]


@pytest.mark.parametrize("frame", FRAMES)
def test_frames_carry_the_catalogued_crc(frame):
    data = bytes.fromhex(frame)
    assert CrcModbus.calc(data[:-2]).to_bytes(2, "little") == data[-2:]
    assert CrcModbus.calc(data) == 0
    assert CrcModbus.calc(b"123456789") == 0x4B37  # the catalogue's check value


def test_registers_of_the_specifications_reply():
    data = bytes.fromhex(FRAMES[1])
    words = [int.from_bytes(data[i : i + 2], "big") for i in (3, 5, 7)]
    assert words == [0xAE41, 0x5652, 0x4340]

    def read(kind, order=WordOrder.HIGH_FIRST, n=1):
        return RegisterNumber(type=kind, word_order=order).value(words[:n])

    # numpy reads the same bytes
    def by_numpy(dtype, raw):
        return float(np.frombuffer(raw, dtype=dtype)[0])

    high, swapped = data[3:7], data[5:7] + data[3:5]
    assert read(RegisterType.UINT16) == 44609.0 == by_numpy(">u2", high[:2])
    assert read(RegisterType.INT16) == -20927.0 == by_numpy(">i2", high[:2])
    for kind, dtype in (
        (RegisterType.UINT32, ">u4"),
        (RegisterType.INT32, ">i4"),
        (RegisterType.FLOAT32, ">f4"),
    ):
        assert read(kind, n=2) == by_numpy(dtype, high)
        assert read(kind, WordOrder.LOW_FIRST, n=2) == by_numpy(dtype, swapped)
