"""Modbus registers: layouts, word order, scale; what is not a number never becomes one."""

import math
import random
import struct

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from logger.errors import DataError
from logger.instruments.decoders.modbus_registers import RegisterNumber, RegisterType, WordOrder
from tests.support.fuzzing import EXAMPLES

LOW_FIRST = WordOrder.LOW_FIRST


@pytest.mark.parametrize(
    ("layout", "words", "value"),
    [
        ({"type": RegisterType.INT16, "scale": 0.1}, [0x019C], 41.2),
        ({"type": RegisterType.INT16, "scale": 0.1}, [0xFFFD], -0.3),
        ({"type": RegisterType.UINT16}, [0xFFFD], 65533.0),
        ({"type": RegisterType.INT32, "scale": 0.001}, [0x0000, 0xA0F0], 41.2),
        ({"type": RegisterType.INT32, "scale": 0.001}, [0xFFFF, 0xFFFF], -0.001),
        ({"type": RegisterType.UINT32}, [0xFFFF, 0xFFFF], 4294967295.0),
        ({"type": RegisterType.UINT32, "word_order": LOW_FIRST}, [0x0001, 0x0000], 1.0),
        ({"type": RegisterType.FLOAT32}, [0x4225, 0x0000], 41.25),
        ({"type": RegisterType.FLOAT32, "word_order": LOW_FIRST}, [0x0000, 0x4225], 41.25),
    ],
)
def test_layouts(layout, words, value):
    number = RegisterNumber(**layout)
    assert number.registers == len(words)
    assert number.value(words) == value


def test_word_order_concerns_only_two_registers():
    assert RegisterNumber(type=RegisterType.UINT16, word_order=LOW_FIRST).value([0x0102]) == 0x0102


@pytest.mark.parametrize(
    "words", [[0x7FC0, 0x0000], [0xFFFF, 0xFFFF], [0x7F80, 0x0000], [0xFF80, 0x0000]]
)
def test_nan_and_infinity_are_refused(words):
    with pytest.raises(DataError, match="check the sensor"):
        RegisterNumber(type=RegisterType.FLOAT32).value(words)


def test_overflow_by_scale_is_refused():
    with pytest.raises(DataError, match="finite"):
        RegisterNumber(type=RegisterType.INT16, scale=1e308).value([1000])


@pytest.mark.parametrize("words", [[], [1], [1, 2, 3], [1, 0x10000], [-1, 2]])
def test_other_counts_and_words_are_refused(words):
    with pytest.raises(DataError, match="registers"):
        RegisterNumber(type=RegisterType.INT32).value(words)


@pytest.mark.parametrize("scale", [0.0, math.nan, math.inf])
def test_scale_must_be_a_number(scale):
    with pytest.raises(DataError, match="scale"):
        RegisterNumber(type=RegisterType.INT16, scale=scale)


FORMATS = {
    RegisterType.INT16: ("h", st.integers(-(2**15), 2**15 - 1)),
    RegisterType.UINT16: ("H", st.integers(0, 2**16 - 1)),
    RegisterType.INT32: ("i", st.integers(-(2**31), 2**31 - 1)),
    RegisterType.UINT32: ("I", st.integers(0, 2**32 - 1)),
    RegisterType.FLOAT32: ("f", st.floats(-(2.0**100), 2.0**100, width=32)),
}


@given(st.data(), st.sampled_from(list(FORMATS)), st.sampled_from(list(WordOrder)))
@settings(max_examples=EXAMPLES, derandomize=True, deadline=None)
def test_what_was_written_is_read(data, kind, word_order):
    code, values = FORMATS[kind]
    value = data.draw(values)
    packed = struct.pack(">" + code, value)
    words = [packed[i] * 256 + packed[i + 1] for i in range(0, len(packed), 2)]
    if word_order is LOW_FIRST:
        words.reverse()
    number = RegisterNumber(type=kind, word_order=word_order)
    assert number.value(words) == value


@pytest.mark.parametrize("kind", list(RegisterType))
def test_20000_random_words_raise_nothing_else_and_yield_nothing_infinite(kind):
    rng = random.Random(6)
    number = RegisterNumber(type=kind, scale=0.1)
    messages = []
    for _ in range(20_000):
        words = [rng.randrange(-1, 0x10001) for _ in range(rng.choice((1, 1, 2, 2, 2, 3)))]
        if rng.random() < 0.1:
            words[0] |= 0x7F80  # an exponent of ones: NaN or infinity
        try:
            assert math.isfinite(number.value(words))
        except DataError as error:
            messages.append(str(error))
    assert all(message.isprintable() for message in messages)
    assert 1000 < len(messages) < 19_000
