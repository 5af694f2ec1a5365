"""SCPI's special numbers and answer forms."""

import pytest

from logger.instruments.decoders.scpi_answers import NoNumber, identity, measured, queued_error


@pytest.mark.parametrize(
    ("answer", "meaning"),
    [  # SCPI-99: infinity 9.9E37, its negative, not-a-number 9.91E37 (values from memory, high)
        (b"9.9E+37", NoNumber.OVER),
        (b"+9.90000000E+37", NoNumber.OVER),
        (b"9.90000E37", NoNumber.OVER),
        (b"9.89999E+37", NoNumber.OVER),  # passed through a float32
        (b"-9.9E+37", NoNumber.UNDER),
        (b"-9.90000000E+37", NoNumber.UNDER),
        (b"9.91E+37", NoNumber.NOT_A_NUMBER),
        (b"+9.91000000E+37", NoNumber.NOT_A_NUMBER),
        (b"9.90999E+37", NoNumber.NOT_A_NUMBER),
        (b"NAN", NoNumber.NOT_A_NUMBER),
        (b"INF", NoNumber.OVER),
        (b"-INF", NoNumber.UNDER),
        (b"NINF", NoNumber.UNDER),
        (b"1E400", NoNumber.OVER),
        (b"-1E400", NoNumber.UNDER),
    ],
)
def test_special_numbers_are_never_numbers(answer, meaning):
    assert measured(answer, 1) == (meaning,)
    assert not isinstance(measured(answer, 1)[0], float)


@pytest.mark.parametrize(
    ("answer", "value"),
    [  # the three forms of IEEE 488.2; the first as bench meters print it
        (b"+2.50000000E+01", 25.0),
        (b"-1.00000000E-03", -0.001),
        (b"+25", 25.0),
        (b"25", 25.0),
        (b"25.0", 25.0),
        (b"-.5", -0.5),
        (b"9.7E+37", 9.7e37),
    ],
)
def test_number_forms(answer, value):
    assert measured(answer, 1) == (value,)


def test_four_fields_of_idn():
    # IEEE 488.2, 10.14: four comma-parted fields, "0" where serial or firmware are not known
    found = identity(b"MAKER,MODEL,0,0\n")
    assert (found.maker, found.model, found.serial, found.firmware) == (
        "MAKER",
        "MODEL",
        None,
        None,
    )


def test_end_of_the_error_queue():
    assert queued_error(b'0,"No error"\n') is None  # SCPI-99 (from memory, high)
