"""1-Wire files of the kernel: CRC, power-on value, shorted line, a file that changed."""

import math
import random

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from logger.errors import DataError
from logger.instruments.decoders.one_wire_files import crc8, from_slave_file, from_temperature_file
from tests.support.fuzzing import EXAMPLES


def slave_file(
    scratchpad: bytes, t: int, verdict: str = "YES", second: bytes | None = None
) -> bytes:
    """As the kernel's w1_therm driver prints it."""
    first, again = (part.hex(" ") for part in (scratchpad, second or scratchpad))
    return f"{first} : crc={scratchpad[8]:02x} {verdict}\n{again} t={t}\n".encode()


def scratchpad(raw: int, configuration: int = 0x7F) -> bytes:
    body = raw.to_bytes(2, "little", signed=True) + bytes([0x4B, 0x46, configuration, 0xFF, 3, 16])
    return body + bytes([crc8(body)])


def test_temperature_is_that_of_the_sensors_bytes_not_the_kernels_cut_one():
    assert from_slave_file(slave_file(scratchpad(333), 20812)) == 20.8125
    assert from_slave_file(slave_file(scratchpad(-1), -62)) == -0.0625


def test_older_kind_is_taken_by_the_kernels_word():
    assert from_slave_file(slave_file(scratchpad(43, configuration=0xFF), 21312)) == 21.312


def test_wrong_crc_is_refused_whoever_finds_it():
    good = scratchpad(333)
    flipped = bytes([good[0] ^ 1]) + good[1:]
    for data in (slave_file(good, 20812, "NO"), slave_file(flipped, 20750)):
        with pytest.raises(DataError, match="wrong CRC"):
            from_slave_file(data)


def test_last_good_value_behind_a_no_is_not_taken():
    with pytest.raises(DataError, match="wrong CRC"):
        from_slave_file(slave_file(b"\xff" * 9, 20812, "NO", second=scratchpad(333)))


def test_power_on_value_is_a_fault():
    with pytest.raises(DataError, match="power-on value"):
        from_slave_file(slave_file(scratchpad(0x0550), 85000))
    with pytest.raises(DataError, match="power-on value"):
        from_temperature_file(b"85000\n")
    assert from_slave_file(slave_file(scratchpad(0x0551), 85062)) == 85.0625


def test_shorted_line_is_no_zero_degrees():
    with pytest.raises(DataError, match="shorted"):
        from_slave_file(slave_file(bytes(9), 0))
    assert from_slave_file(slave_file(scratchpad(0), 0)) == 0.0


def test_two_reads_mixed_are_refused():
    with pytest.raises(DataError, match="changed while"):
        from_slave_file(slave_file(scratchpad(333), 20812, second=scratchpad(334)))
    with pytest.raises(DataError, match="contradicts"):
        from_slave_file(slave_file(scratchpad(333), 20875))


@pytest.mark.parametrize("thousandths", [-55_001, 125_001, 127_937, -999_999])
def test_outside_the_sensors_range_is_refused(thousandths):
    with pytest.raises(DataError, match="outside"):
        from_temperature_file(f"{thousandths}\n".encode())


@pytest.mark.parametrize("data", [b"", b"\n", b"21.5\n", b"21000 \n", b"+21000", b"1_000", b"\xb2"])
def test_temperature_file_that_is_none_is_refused(data):
    with pytest.raises(DataError, match="not a 1-Wire reading"):
        from_temperature_file(data)


def test_slave_file_cut_short_is_refused_at_every_byte():
    whole = slave_file(scratchpad(333), 20812)
    for length in range(len(whole) - 1):
        with pytest.raises(DataError):
            from_slave_file(whole[:length])
    with pytest.raises(DataError):
        from_slave_file(whole + whole)
    assert from_slave_file(whole[:-1]) == from_slave_file(whole) == 20.8125


@given(st.integers(-55 * 16, 125 * 16), st.sampled_from([0x1F, 0x3F, 0x5F, 0x7F]))
@settings(max_examples=EXAMPLES, derandomize=True, deadline=None)
def test_every_temperature_of_the_sensor_is_read_as_sent(raw, configuration):
    t = math.trunc(raw * 1000 / 16)
    data = slave_file(scratchpad(raw, configuration), t)
    if raw == 0x0550:
        with pytest.raises(DataError):
            from_slave_file(data)
    else:
        assert from_slave_file(data) == raw / 16
        assert from_temperature_file(f"{t}\n".encode()) == t / 1000


def test_20000_random_files_raise_nothing_else_and_yield_nothing_infinite():
    rng = random.Random(7)
    taken, messages = 0, []
    for number in range(20_000):
        if number % 2:
            data = bytes(rng.choices(b"0123456789-\n", k=rng.randrange(8)))
        else:
            raw = rng.randrange(-2000, 2000)
            data = bytearray(slave_file(scratchpad(raw), math.trunc(raw * 1000 / 16)))
            for _ in range(rng.randrange(3)):
                data[rng.randrange(len(data))] = rng.randrange(256)
        for decode in (from_slave_file, from_temperature_file):
            try:
                value = decode(bytes(data))
            except DataError as error:
                messages.append(str(error))
            else:
                taken += 1
                assert -55.0 <= value <= 125.0
    assert all(message.isprintable() for message in messages)
    assert taken > 2000
