"""Conversions and time stamps against figures from outside the project."""

import pytest

from logger.quantities import Quantity
from logger.timestamps import parse_rfc3339, rfc3339
from logger.units import parse_quantity, unit_of


@pytest.mark.parametrize(
    ("fahrenheit", "celsius"),
    [(125, 51.67), (130, 54.44), (135, 57.22), (140, 60.00), (150, 65.56), (160, 71.11)],
)
def test_limit_lines_of_the_trade(fahrenheit, celsius):
    # t/degC = (t/degF - 32) / 1.8: NIST SP 811 appendix B.8 (from memory), rounded to two decimals.
    assert parse_quantity(f"{fahrenheit} degF", Quantity.TEMPERATURE) == pytest.approx(
        celsius, abs=0.005
    )
    assert unit_of("degF", Quantity.TEMPERATURE).outside(celsius) == pytest.approx(
        fahrenheit, abs=0.01
    )


@pytest.mark.parametrize(
    ("text", "utc"),
    [
        ("1985-04-12T23:20:50.52Z", "1985-04-12T23:20:50.520Z"),
        ("1996-12-19T16:39:57-08:00", "1996-12-20T00:39:57Z"),  # the RFC states this equality
        ("1990-12-31T23:59:60Z", "1991-01-01T00:00:00Z"),  # leap second: POSIX time has none
        ("1990-12-31T15:59:60-08:00", "1991-01-01T00:00:00Z"),  # the same leap second
        ("1937-01-01T12:00:27.87+00:20", "1937-01-01T11:40:27.870Z"),
    ],
)
def test_rfc_3339_section_5_8(text, utc):
    assert rfc3339(parse_rfc3339(text)) == utc


def test_unix_time_of_a_known_instant():
    # 1,000,000,000 s was 2001-09-09T01:46:40Z (POSIX time, common knowledge).
    assert parse_rfc3339("2001-09-09T01:46:40Z") == 1_000_000_000.0
