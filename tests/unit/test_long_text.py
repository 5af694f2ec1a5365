"""Text that is longer than anybody writes: refused before a pattern goes through it."""

import time

import pytest

from logger.errors import DataError, SettingsError
from logger.quantities import Quantity
from logger.settings import config_file
from logger.timestamps import parse_at, parse_day_or_at, parse_instant
from logger.units import LONGEST, Dimension, parse_number, parse_quantity, unit_of

NOW_S = 1_935_000_000.0

KINDS = {
    "digits": "9" * 60_000,
    "points": "9." * 30_000,
    "blanks": "9" + " " * 60_000 + "x",
    "parts": "1 h " * 15_000,
    "exponents": "1e9" * 20_000,
    "letters": "a" * 60_000,
    "ago": "9 ago " * 10_000,
}
READERS = {
    "duration": lambda text: parse_quantity(text, Dimension.DURATION),
    "length": lambda text: parse_quantity(text, Dimension.LENGTH),
    "temperature": lambda text: parse_quantity(text, Quantity.TEMPERATURE),
    "unit": lambda text: unit_of(text, Quantity.MASS),
    "number": parse_number,
    "instant": parse_instant,
    "at": lambda text: parse_at(text, NOW_S),
    "day": lambda text: parse_day_or_at(text, NOW_S),
}


@pytest.mark.parametrize("text", KINDS.values(), ids=KINDS)
@pytest.mark.parametrize("read", READERS.values(), ids=READERS)
def test_it_is_refused_at_once_and_not_repeated(read, text):
    began_s = time.process_time()
    assert len([letter for letter in text * 10 if letter]) == 10 * len(text)
    looked_at_s = time.process_time() - began_s
    with pytest.raises(DataError, match="too long") as refusal:
        read(text)
    # A pattern that went through it would look at each letter thousands of times.
    assert time.process_time() - began_s < 10.0 * looked_at_s
    assert len(str(refusal.value)) < 200


@pytest.mark.parametrize("text", ["1 h 20 min", "  1 h  20 min ", "+.5h", "3e1 min", "4. h"])
def test_what_people_write_is_read_as_before(text):
    assert parse_quantity(text, Dimension.DURATION) in {4800.0, 1800.0, 14400.0}


def test_the_longest_that_is_read():
    assert parse_number("0" * (LONGEST - 1) + "7") == 7.0


def faults(tmp_path, text):
    path = tmp_path / "bench.toml"
    path.write_text(text)
    began_s = time.perf_counter()
    with pytest.raises(SettingsError) as refusal:
        config_file.load(path)
    assert time.perf_counter() - began_s < 2.0
    return refusal.value.problems


@pytest.mark.parametrize(
    ("text", "line"),
    [
        pytest.param('[bench]\nname = "a"\nkey = ' + "[" * 5000, 3, id="brackets"),
        pytest.param("key = " + "[\n" * 5000 + "]\n" * 5000, 21, id="brackets of many lines"),
        pytest.param("\nkey = " + "{a = " * 3000 + "1" + "}" * 3000, 2, id="tables"),
        pytest.param("\n\n" + "a." * 30_000 + "b = 1", 3, id="dots"),
        pytest.param("\nkey = " + "9" * 5000, 2, id="number"),
        pytest.param("# a remark\n" * 200_000, 1, id="huge"),
    ],
)
def test_a_huge_or_nested_configuration_is_refused_with_its_line(tmp_path, text, line):
    (problem,) = faults(tmp_path, text)
    assert problem.startswith(f"bench.toml:{line}: ")
    assert len(problem) < 200


@pytest.mark.parametrize("sign", ["9", "a", " ", "9 h "])
def test_a_long_value_of_a_configuration_is_refused(tmp_path, sign):
    long = sign * (8000 // len(sign))
    problems = faults(tmp_path, f'[bench]\nname = "a"\n[limits]\nburn_length = "{long}"\n')
    assert any("bench.toml:4: limits.burn_length" in problem for problem in problems)
    assert all(len(problem) < 300 for problem in problems)
