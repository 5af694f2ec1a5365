"""Columns through compressed bytes and back: every bit, whatever came."""

import math
import random
import struct
import zlib

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from logger.store import chunks

WHOLE = st.integers(-(2**63), 2**63 - 1)
NUMBERS = st.floats(allow_nan=False, allow_infinity=False)  # with -0.0 and the smallest
DECIMALS = st.decimals(-1000, 1000, places=2).map(float)


def bits(value):
    return value if value is None else struct.pack("<d", value)


def floats(column):
    return [None if math.isnan(value) else value for value in column.tolist()]


def columns(*kinds):
    return st.integers(1, 60).flatmap(
        lambda rows: st.tuples(*(st.lists(kind, min_size=rows, max_size=rows) for kind in kinds))
    )


@settings(deadline=None)
@given(st.lists(WHOLE, min_size=1))
def test_any_integers_come_back(column):
    (back,) = chunks.unpack(chunks.pack([column], "i"), "i")
    assert back.tolist() == column


@settings(deadline=None)
@given(st.lists(st.none() | NUMBERS | DECIMALS, min_size=1))
def test_any_numbers_come_back_with_every_bit_and_missing_ones_missing(column):
    (back,) = chunks.unpack(chunks.pack([column], "f"), "f")
    assert [bits(value) for value in floats(back)] == [bits(value) for value in column]


@settings(deadline=None)
@given(columns(st.none() | NUMBERS, st.none() | NUMBERS))
def test_a_column_that_may_follow_from_the_one_before_comes_back(pair):
    _, back = chunks.unpack(chunks.pack(pair, "fr"), "fr")
    assert [bits(value) for value in floats(back)] == [bits(value) for value in pair[1]]


@settings(deadline=None)
@given(columns(st.text(st.characters(exclude_characters="\0", exclude_categories=["Cs"])), WHOLE))
def test_texts_come_back_and_the_first_columns_can_be_had_alone(pair):
    body = chunks.pack(pair, "ti")
    assert chunks.unpack(body, "t")[0].tolist() == pair[0]
    assert chunks.unpack(body, "ti")[1].tolist() == pair[1]


@pytest.mark.parametrize(
    ("column", "kind"),
    [
        pytest.param([1.0], "i", id="number-for-integer"),
        pytest.param([2**63], "i", id="too-large"),
        pytest.param([True], "i", id="truth"),
        pytest.param(["warm"], "f", id="text-for-number"),
        pytest.param([math.inf], "f", id="infinite"),
        pytest.param([math.nan], "f", id="nan"),
        pytest.param([None], "t", id="none-for-text"),
        pytest.param([b"good"], "t", id="bytes-for-text"),
        pytest.param(["good\0"], "t", id="character-0"),
    ],
)
def test_what_a_column_cannot_hold_is_refused(column, kind):
    with pytest.raises((ValueError, TypeError, OverflowError)):
        chunks.pack([column], kind)


def test_a_jittered_noisy_reading_takes_little_more_than_its_entropy():
    # 5 ms and 1 K are 14.3 and 8.7 bits of entropy (log2 of the spread in microseconds and in
    # hundredths of a kelvin, times sqrt(2 pi e)): no code takes less than 2.9 bytes.
    generator = random.Random(1)
    rows = 1024
    ids = [1 + 16 * row for row in range(rows)]
    stamps = [
        1_940_000_000_000_000 + round(1e6 * (s + generator.gauss(0.0, 0.005))) for s in range(rows)
    ]
    values = [round(generator.gauss(45.0 + 0.003 * s, 1.0), 2) for s in range(rows)]  # it warms
    size = len(chunks.pack([stamps, values, ids], "ifi")) / rows
    assert 2.9 < size < 3.15


def test_an_uncertainty_takes_little_beside_its_random_part():
    generator = random.Random(2)
    random_part = [abs(generator.gauss(0.1, 0.01)) for _ in range(1024)]
    combined = [math.sqrt(part * part + 2.0833) for part in random_part]
    alone = len(chunks.pack([combined], "f"))
    beside = len(chunks.pack([random_part, combined], "fr")) - len(chunks.pack([random_part], "f"))
    assert beside < alone / 5


def test_noise_is_packed_by_the_frequencies_of_its_bytes():
    generator = random.Random(5)
    noise = bytes(round(generator.gauss(128.0, 12.0)) for _ in range(1024))
    repeated = bytes(range(16)) * 64
    by_default = zlib.compressobj(6, wbits=-15)
    assert len(chunks._deflated(noise)) < len(by_default.compress(noise) + by_default.flush())
    assert len(chunks._deflated(repeated)) < 64
    for plain in (noise, repeated):
        assert zlib.decompress(chunks._deflated(plain), wbits=-15) == plain
    incompressible = generator.randbytes(64)
    assert chunks._deflated(incompressible) == incompressible
