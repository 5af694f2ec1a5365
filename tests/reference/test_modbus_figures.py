"""Register decoding and CRC against frames of the Modbus specification."""

import numpy as np
import pytest
from crccheck.crc import CrcModbus

from logger.errors import DataError
from logger.instruments.decoders.modbus_registers import RegisterNumber, RegisterType, WordOrder
from logger.instruments.modbus_frames import Block, Register, answer_in, question
from logger.quantities import Channel, Place, Position, Quantity

# Read holding registers: the example of the Modbus application protocol specification V1.1b3, 6.3.
# Its PDU is from memory; the address and the CRC are those of the serial line (Modbus over serial
# line V1.02, 2.5.1.2), which crccheck computes.
QUESTION_PDU = bytes.fromhex("03 00 6B 00 03")
ANSWER_PDU = bytes.fromhex("03 06 02 2B 00 00 00 64")
REFUSAL_PDU = bytes.fromhex("83 02")  # exception 2, illegal data address (same, 7)
DEVICE = 1


def frame(pdu):
    data = bytes([DEVICE]) + pdu
    return data + CrcModbus.calc(data).to_bytes(2, "little")


def block():
    """Registers 108 to 110, which go over the line as 107 to 109."""
    channel = Channel(
        name="one",
        instrument="meter",
        quantity=Quantity.TEMPERATURE,
        place=Place(position=Position.ROOM),
    )
    number = RegisterNumber(type=RegisterType.UINT16)
    register = Register(device=DEVICE, function=3, address=0x6B, number=number)
    return Block(device=DEVICE, function=3, address=0x6B, count=3, channels=((channel, register),))


def test_the_crc_is_the_catalogued_one():
    assert CrcModbus.calc(b"123456789") == 0x4B37  # the catalogue's check value


def test_the_specification_s_question_is_what_we_ask():
    assert question(block()) == frame(QUESTION_PDU)


def test_the_specification_s_answer_is_understood_and_a_wrong_crc_is_not():
    assert list(answer_in(frame(ANSWER_PDU), block())) == [0x022B, 0x0000, 0x0064]
    assert answer_in(frame(ANSWER_PDU)[:-1] + b"\x00", block()) is None
    with pytest.raises(DataError, match="exception 2, illegal data address"):
        answer_in(frame(REFUSAL_PDU), block())


def test_registers_are_what_numpy_reads_in_the_same_bytes():
    data = bytes.fromhex("11 03 06 AE 41 56 52 43 40 49 AD")  # made up
    words = [int.from_bytes(data[i : i + 2], "big") for i in (3, 5, 7)]

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
