"""Digital 1-Wire thermometers: the data sheet's table, real scratchpads, the CRC catalogue."""

import random

import pytest
from crccheck.crc import Crc8Maxim

from logger.errors import DataError
from logger.instruments.decoders.one_wire_files import crc8, from_slave_file

# Data sheet table as a public test file carries it; 0550 is also the power-on value.
TABLE = [
    ("07D0", 125.0), ("0550", 85.0), ("0191", 25.0625), ("00A2", 10.125), ("0008", 0.5),
    ("0000", 0.0), ("FFF8", -0.5), ("FE6F", -25.0625), ("FC90", -55.0),
]  # fmt: skip

# Scratchpads of real sensors with their CRC and temperature (CRC computed again).
REAL = [
    ("4D 01 4B 46 7F FF 03 10", 0xD8, 20.8125),
    ("50 01 4B 46 7F FF 10 10", 0x49, 21.0),
]


def file_of(body: bytes, t: int) -> bytes:
    crc = Crc8Maxim.calc(body)  # the package's, not the decoder's own
    line = (body + bytes([crc])).hex(" ")
    return f"{line} : crc={crc:02x} YES\n{line} t={t}\n".encode()


@pytest.mark.parametrize(("register", "celsius"), TABLE)
def test_table(register, celsius):
    body = bytes.fromhex(register)[::-1] + bytes.fromhex("4B 46 7F FF 0C 10")
    data = file_of(body, int(celsius * 1000))
    if celsius == 85.0:
        with pytest.raises(DataError, match="power-on"):
            from_slave_file(data)
    else:
        assert from_slave_file(data) == celsius


@pytest.mark.parametrize(("scratchpad", "crc", "celsius"), REAL)
def test_real_scratchpads(scratchpad, crc, celsius):
    body = bytes.fromhex(scratchpad)
    assert crc8(body) == crc
    assert from_slave_file(file_of(body, int(celsius * 1000))) == celsius


def test_crc():
    assert crc8(bytes.fromhex("28 DC 66 74 05 00 00")) == 0xB9  # a real sensor's address
    assert crc8(b"123456789") == 0xA1  # the CRC catalogue's check value of CRC-8/MAXIM
    rng = random.Random(8)
    for length in range(64):
        data = rng.randbytes(length)
        assert crc8(data) == Crc8Maxim.calc(data)
        assert crc8(data + bytes([crc8(data)])) == 0
