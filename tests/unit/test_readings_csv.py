"""CSV of readings: bit for bit there and back, and nothing that a spreadsheet would run.

Which cells a spreadsheet takes for formulas: "CSV Injection", OWASP
(https://owasp.org/www-community/attacks/CSV_Injection): = + - @, tab and carriage return.
"""

import csv
import io
import math

import pytest
from hypothesis import given
from hypothesis import strategies as st

from logger.errors import DataError
from logger.quantities import Reading
from logger.service import readings_csv

FORMULA_SIGNS = "=+-@\t\r"
names = st.text(st.sampled_from("abcxyz-=+@'\t,\"019 é"), min_size=1, max_size=12).filter(
    lambda name: not (name[0] == "'" and name[1:2] in FORMULA_SIGNS)  # no name begins so
)
readings = st.lists(
    st.builds(
        Reading,
        channel=names,
        value=st.floats(allow_nan=False, allow_infinity=False),
        at_s=st.integers(0, 4_000_000_000_000_000).map(lambda us: us / 1e6),
    ),
    max_size=20,
)


def there_and_back(path, given):
    with path.open("w", encoding="utf-8", newline="") as file:
        readings_csv.write(given, file)
    faults = []
    found = [row.reading for row in readings_csv.read(path, faults.append)]
    assert not faults
    return found


@pytest.fixture(scope="module")
def path(tmp_path_factory):
    return tmp_path_factory.mktemp("csv") / "readings.csv"


@given(given=readings)
def test_every_reading_comes_back_bit_for_bit_in_its_order(path, given):
    found = there_and_back(path, given)
    assert [(r.channel, r.at_s.hex(), r.value.hex()) for r in found] == [
        (r.channel, r.at_s.hex(), r.value.hex()) for r in given
    ]


@given(given=readings)
def test_no_text_is_a_formula_and_every_number_is_one(path, given):
    there_and_back(path, given)
    with path.open(encoding="utf-8", newline="") as file:
        rows = list(csv.reader(file))[1:]
    for (time, channel, value), one in zip(rows, given, strict=True):
        assert channel[0] not in FORMULA_SIGNS
        assert time[0].isdigit()
        assert math.isfinite(float(value))
        assert float(value) == one.value


def test_a_number_below_zero_stays_a_number():
    out = io.StringIO()
    readings_csv.write([Reading(channel="-freezer", value=-3.2, at_s=0.25)], out)
    assert out.getvalue() == "time,channel,value\n1970-01-01T00:00:00.250000Z,'-freezer,-3.2\n"


def test_each_wrong_row_is_told_with_its_line_and_the_others_are_read(path):
    path.write_text("time,channel,value\n1,a,x\n1,a,2\n\nsoon,a,2\n1,a\n", encoding="utf-8")
    faults = []
    found = [row.line for row in readings_csv.read(path, faults.append)]
    assert found == [3]
    assert [str(one).split(": ", 1)[0].removeprefix(str(path)) for one in faults] == [
        ":2", ":5", ":6",
    ]  # fmt: skip


@pytest.mark.parametrize(
    "content", [b"", b"when,what\n", b"\xff\xfe\x00", b'time,channel,value\n"']
)
def test_what_is_no_such_file_is_one_error(path, content):
    path.write_bytes(content)
    with pytest.raises(DataError):
        list(readings_csv.read(path, lambda fault: None))
