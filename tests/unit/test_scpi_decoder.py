"""SCPI answers: numbers are numbers, and what stands in place of one never becomes one."""

import itertools
import math
import random

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from logger.errors import DataError
from logger.instruments.decoders.lines import LineSplitter
from logger.instruments.decoders.scpi_answers import (
    Identity,
    NoNumber,
    QueuedError,
    identity,
    measured,
    queued_error,
)
from tests.support.fuzzing import EXAMPLES


def test_list_in_the_order_of_the_query():
    assert measured(b"+4.12000000E+01,-5,22.5\r\n", 3) == (41.2, -5.0, 22.5)


def test_one_broken_sensor_does_not_silence_the_others():
    assert measured(b"+9.90000000E+37,+4.12E+01\n", 2) == (NoNumber.OVER, 41.2)


@pytest.mark.parametrize("answer", [b"41.2,22.5", b"41.2,22.5,23,24", b"41,2,22,5"])
def test_another_count_of_values_is_refused(answer):
    with pytest.raises(DataError, match="instead of 3"):
        measured(answer, 3)


@pytest.mark.parametrize(
    "answer",
    [
        *(b"", b"\r\n", b"ERROR", b"."),
        *(b"1E400x", b"1_000", b"0x29", b"41.2C", b"- 5", b"1 E3", b"\xb241", b"4\x001"),
    ],
)
def test_what_is_no_number_is_refused(answer):
    with pytest.raises(DataError):
        measured(answer, 1)


@pytest.mark.parametrize("answer", [b"", b" \n", b"MAK\x00ER,MODEL,0,0", b"MAKER,MOD\xe9L,0,0"])
def test_silence_and_noise_are_named_for_what_they_are(answer):
    with pytest.raises(DataError, match="not a SCPI answer: check baud rate and cable"):
        identity(answer)


def test_identity():
    assert identity(b"MAKER,MODEL 3,0,1.2,beta\n") == Identity(
        maker="MAKER", model="MODEL 3", serial=None, firmware="1.2,beta"
    )


@pytest.mark.parametrize("answer", [b"", b"MAKER,MODEL,1", b",,1,2", b"41.2\n", b"\xff,\xff,1,1"])
def test_no_identity_is_refused(answer):
    with pytest.raises(DataError, match="baud rate"):
        identity(answer)


@pytest.mark.parametrize(
    ("answer", "found"),
    [
        (b'0,"No error"\n', None),
        (b'+0,"No error"', None),
        (b'-113,"Undefined header"\r\n', QueuedError(code=-113, text="Undefined header")),
        (b'-222, "Out of range;""RANG"""', QueuedError(code=-222, text='Out of range;"RANG"')),
    ],
)
def test_error_queue(answer, found):
    assert queued_error(answer) == found


@pytest.mark.parametrize("answer", [b"", b"0", b"-113,Undefined header", b'0,"a" b"', b"41.2"])
def test_no_error_answer_is_refused(answer):
    with pytest.raises(DataError, match="is no"):
        queued_error(answer)


NUMBERS = st.one_of(
    st.integers(-(10**6), 10**6).map(lambda n: f"{n:+d}"),  # NR1
    st.floats(-1e6, 1e6).map(lambda x: f"{x:.4f}"),  # NR2
    st.floats(-1e6, 1e6).map(lambda x: f"{x:+.8E}"),  # NR3
)


@given(
    rows=st.lists(st.lists(NUMBERS, min_size=2, max_size=2), min_size=1, max_size=6),
    cuts=st.lists(st.integers(0, 300), max_size=10),
    end=st.sampled_from(["\n", "\r\n"]),
)
@settings(max_examples=EXAMPLES, derandomize=True, deadline=None)
def test_answers_cut_anywhere_are_read_as_written(rows, cuts, end):
    data = "".join(",".join(row) + end for row in rows).encode()
    edges = sorted({0, len(data), *(cut for cut in cuts if cut < len(data))})
    splitter = LineSplitter(drop_head=False)
    answers = [line for a, b in itertools.pairwise(edges) for line in splitter.feed(data[a:b])]
    assert [measured(answer, 2) for answer in answers] == [tuple(map(float, row)) for row in rows]


def test_20000_random_answers_raise_nothing_else_and_yield_nothing_infinite():
    rng = random.Random(5)
    taken, messages = 0, []
    for number in range(20_000):
        if number % 2:
            answer = rng.randbytes(rng.randrange(40))
        else:
            answer = bytes(rng.choices(b'0123456789+-.eE,"NAIF \n', k=rng.randrange(12)))
        for decode in (lambda a: measured(a, 1), identity, queued_error):
            try:
                found = decode(answer)
            except DataError as error:
                messages.append(str(error))
                continue
            if isinstance(found, tuple) and isinstance(found[0], float):
                taken += 1
                assert math.isfinite(found[0])
                assert abs(found[0]) < 9.8e37
    assert all(message.isprintable() for message in messages)
    assert taken > 500  # some of the noise does look like numbers
