from zoneinfo import ZoneInfo

import pytest
from hypothesis import given
from hypothesis import strategies as st

from logger.errors import DataError
from logger.timestamps import daily, parse_at, parse_instant, parse_rfc3339, rfc3339

NOW_S = parse_rfc3339("2031-05-04T09:00:05Z")
BERLIN = ZoneInfo("Europe/Berlin")


@pytest.mark.parametrize(
    ("at_s", "digits", "text"),
    [
        (1_935_651_605.0, None, "2031-05-04T09:00:05Z"),
        (1_935_651_605.25, None, "2031-05-04T09:00:05.250Z"),
        (1_935_651_605.000007, None, "2031-05-04T09:00:05.000007Z"),
        (1_935_651_605.5, 0, "2031-05-04T09:00:06Z"),
        (1_935_651_605.9996, 3, "2031-05-04T09:00:06.000Z"),
        (1_935_651_605.0, 6, "2031-05-04T09:00:05.000000Z"),
        (-0.5, None, "1969-12-31T23:59:59.500Z"),
    ],
)
def test_rfc3339(at_s, digits, text):
    assert rfc3339(at_s, digits=digits) == text


@given(st.integers(min_value=0, max_value=4_102_444_800_000_000))  # to the year 2100
def test_microseconds_survive(micros):
    at_s = round(micros / 1e6, 6)
    assert parse_rfc3339(rfc3339(at_s)) == at_s


@pytest.mark.parametrize(
    ("text", "at_s"),
    [
        ("2031-05-04T11:00:05+02:00", 1_935_651_605.0),
        ("2031-05-04 09:00:05z", 1_935_651_605.0),
        ("2031-05-04T09:00Z", 1_935_651_600.0),
        ("2031-05-04T11:00:05,5+0200", 1_935_651_605.5),
        ("2031-05-04T09:00:05.12345649Z", 1_935_651_605.123456),
        ("1935651605", 1_935_651_605.0),
        ("1935651605.25", 1_935_651_605.25),
    ],
)
def test_instants_of_files(text, at_s):
    assert parse_instant(text) == at_s


@pytest.mark.parametrize(
    ("text", "says"),
    [
        ("2031-05-04T09:00:05", "lacks its zone; write"),
        ("2031-13-04T09:00:05Z", "month must be in 1..12; write"),
        ("2031-05-04T09:60:05Z", "minute must be in 0..59; write"),
        ("2031-05-04T09:00:60Z", "not a leap second; write"),
        ("2031-05-04T09:00:05+02:75", "zone minutes must be in 0..59; write"),
        ("0001-01-01T00:00:00+23:00", "write for example"),
        ("1935651605000", "after the year 9999; write Unix time in seconds"),
        ("nan", "is not a time; write"),
        ("-5", "is not a time; write"),
        ("٢٠٣١-05-04T09:00:05Z", "is not a time; write"),
        ("", "is not a time; write"),
    ],
)
def test_no_instant(text, says):
    with pytest.raises(DataError, match=says):
        parse_instant(text)


@pytest.mark.parametrize(
    ("text", "at"),
    [
        ("now", "2031-05-04T09:00:05Z"),
        ("25 min ago", "2031-05-04T08:35:05Z"),
        ("1 h 20 min ago", "2031-05-04T07:40:05Z"),
        ("2 hours ago", "2031-05-04T07:00:05Z"),
        ("10:45", "2031-05-04T08:45:00Z"),
        ("11:00:05", "2031-05-04T09:00:05Z"),
        ("14:05", "2031-05-03T12:05:00Z"),  # not yet today: yesterday's
        ("2:05pm", "2031-05-03T12:05:00Z"),
        ("10:45 a.m.", "2031-05-04T08:45:00Z"),
        ("9 AM", "2031-05-04T07:00:00Z"),
        ("12:10 am", "2031-05-03T22:10:00Z"),  # ten past midnight
        ("2031-05-04T09:00:00+01:00", "2031-05-04T08:00:00Z"),
        ("1935651600", "2031-05-04T09:00:00Z"),
    ],
)
def test_times_a_person_types(text, at):
    assert rfc3339(parse_at(text, NOW_S, zone=BERLIN)) == at


@pytest.mark.parametrize(
    ("text", "says"),
    [
        ("2031-05-04T09:00:06Z", r"in the future \(it is 2031-05-04T09:00:05Z\); write"),
        ("-5 min ago", "in the future"),
        ("25:00", "hour must be in 0..23; write"),
        ("14:05pm", 'is not a time of day; write for example "14:05" or "2:05 pm"'),
        ("0:05 am", 'write for example "14:05" or "2:05 pm"'),
        ("14", 'write for example "25 min ago", "14:05"'),
        ("yesterday", 'write for example "25 min ago", "14:05"'),
        ("25 m ago", "not a unit of duration; write"),
        ("soon ago", "is no duration; write"),
        ("900000 d ago", "before 1970; write"),
        ("2031-05-04T08:00", "lacks its zone"),
    ],
)
def test_times_that_are_refused(text, says):
    with pytest.raises(DataError, match=says):
        parse_at(text, NOW_S, zone=BERLIN)


def test_the_hour_that_comes_twice_is_the_later_one_that_has_been():
    # Summer time ended in Germany on 2024-10-27 at 03:00 CEST = 01:00 UTC (EU directive 2000/84).
    before_s, after_s = parse_rfc3339("2024-10-27T00:45:00Z"), parse_rfc3339("2024-10-27T03:00:00Z")
    assert rfc3339(parse_at("02:30", before_s, zone=BERLIN)) == "2024-10-27T00:30:00Z"
    assert rfc3339(parse_at("02:30", after_s, zone=BERLIN)) == "2024-10-27T01:30:00Z"


def test_without_a_zone_the_system_s_is_used(monkeypatch):
    import time

    monkeypatch.setenv("TZ", "Asia/Tokyo")
    time.tzset()
    try:
        assert rfc3339(parse_at("14:05", NOW_S)) == "2031-05-04T05:05:00Z"
    finally:
        monkeypatch.undo()
        time.tzset()


def test_hours_of_each_day_go_by_the_clock_on_the_wall():
    """Berlin set its clocks ahead on the last Sunday of March: 30 March 2031."""
    friday_s = parse_rfc3339("2031-03-28T23:30:00Z")  # there it is Saturday already
    found = daily(friday_s, 4, (8 * 3600.0, 24 * 3600.0), {0, 5, 6}, zone=BERLIN)
    assert [tuple(map(rfc3339, one)) for one in found] == [
        ("2031-03-29T07:00:00Z", "2031-03-29T23:00:00Z"),
        ("2031-03-30T06:00:00Z", "2031-03-30T22:00:00Z"),
        ("2031-03-31T06:00:00Z", "2031-03-31T22:00:00Z"),
    ]
