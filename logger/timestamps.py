"""Times as people and files write them, and back; inside they are Unix seconds, UTC.

RFC 3339 and the wider ISO 8601 are read; RFC 3339 in UTC is written.
"""

import re
from collections.abc import Collection, Iterator
from datetime import UTC, datetime, timedelta, timezone, tzinfo
from datetime import time as time_of_day
from functools import lru_cache

from logger.errors import DataError
from logger.units import Dimension, parse_quantity, short

_EPOCH = datetime(1970, 1, 1, tzinfo=UTC)
_END_S = 253_402_300_800.0  # 10000-01-01: RFC 3339 has four digits for the year
_MICROSECOND = timedelta(microseconds=1)

# RFC 3339 section 5.6, and beyond it ISO 8601's time without seconds and zone without colon.
_INSTANT = re.compile(
    r"(\d{4})-(\d\d)-(\d\d)[Tt ](\d\d):(\d\d)(?::(\d\d)(?:[.,](\d+))?)?"
    r"(?:([Zz])|([+-])(\d\d):?(\d\d))?",
    re.ASCII,
)
_UNIX = re.compile(r"\d+(?:\.\d*)?", re.ASCII)
_UNIX_NOW = re.compile(r"\d{9,}(?:\.\d*)?", re.ASCII)  # a typed "14" means no second of 1970
_CLOCK_TIME = re.compile(r"(\d{1,2}):(\d\d)(?::(\d\d))?", re.ASCII)
_HALF_DAY_TIME = re.compile(  # "2:05pm", "2 p.m."
    r"(\d{1,2})(?::(\d\d)(?::(\d\d))?)?\s*+([ap])\.?m\.?", re.ASCII | re.IGNORECASE
)
_DAY = re.compile(r"(\d{4})-(\d\d)-(\d\d)", re.ASCII)
_AGO = re.compile(r"(.*\S)\s++ago", re.ASCII | re.IGNORECASE)

_INSTANT_EXAMPLE = '"2031-05-04T09:00:05Z" or "2031-05-04T11:00:05+02:00"'


def rfc3339(at_s: float, *, digits: int | None = None) -> str:
    """`at_s` in UTC: "2031-05-04T09:00:05Z"; rounded to `digits` decimals of the second, 0 to 6.

    Without `digits`: none for whole seconds, else milliseconds or microseconds as needed.
    """
    micros = round(at_s * 1e6)
    if digits is None:
        digits = next((n for n in (0, 3) if micros % 10 ** (6 - n) == 0), 6)
    step = 10 ** (6 - digits)
    seconds, micros = divmod((micros + step // 2) // step * step, 1_000_000)
    whole = _whole_second(seconds)
    return f"{whole}.{micros // step:0{digits}d}Z" if digits else f"{whole}Z"


@lru_cache(maxsize=64)  # what is published together has one time
def _whole_second(seconds: int) -> str:
    return (_EPOCH + timedelta(seconds=seconds)).replace(tzinfo=None).isoformat()


def clock(at_s: float, *, seconds: bool = False) -> str:
    """Time of day where this machine stands, as "16:33", or "16:33:08" with `seconds`."""
    here = (_EPOCH + timedelta(seconds=at_s)).astimezone()
    return here.strftime("%H:%M:%S" if seconds else "%H:%M")


def local_minute(at_s: float) -> str:
    """Day and time of day where this machine stands, as "2031-05-04 16:33"."""
    return (_EPOCH + timedelta(seconds=at_s)).astimezone().strftime("%Y-%m-%d %H:%M")


def day_words(at_s: float) -> str:
    """The day where this machine stands, as "Thu 4 May"."""
    at = (_EPOCH + timedelta(seconds=at_s)).astimezone()
    return f"{at:%a} {at.day} {at:%b}"


def daily(
    from_s: float,
    days: int,
    hours_s: tuple[float, float],
    weekdays: Collection[int],
    *,
    zone: tzinfo | None = None,
) -> Iterator[tuple[float, float]]:
    """A stretch of each day, by the clock on the wall in `zone` or the system's, as Unix seconds.

    `days` days from that of `from_s` on, those of `weekdays` alone (0 is Monday).
    """
    first = (_EPOCH + timedelta(seconds=from_s)).astimezone(zone).date()
    for day in (first + timedelta(days=number) for number in range(days)):
        if day.weekday() in weekdays:
            midnight = datetime.combine(day, time_of_day())
            start_s, end_s = (
                (midnight + timedelta(seconds=one)).replace(tzinfo=zone).timestamp()
                for one in hours_s
            )
            yield start_s, end_s


def parse_rfc3339(text: str) -> float:
    """An instant with its zone, as Unix seconds rounded to microseconds.

    A leap second ("23:59:60Z") is the second after it, as in POSIX. Raises DataError.
    """
    match = _INSTANT.fullmatch(short(text).strip())
    if match is None:
        raise DataError(f'"{text}" is not a time; write for example {_INSTANT_EXAMPLE}')
    year, month, day, hour, minute, second, fraction, utc, sign, zone_h, zone_min = match.groups()
    if utc is None and sign is None:
        raise DataError(f'"{text}" lacks its zone; write for example {_INSTANT_EXAMPLE}')
    try:
        zone = UTC if utc else _offset(sign, int(zone_h), int(zone_min))
        leap = 1 if second == "60" else 0
        at = datetime(
            int(year),
            int(month),
            int(day),
            int(hour),
            int(minute),
            int(second or 0) - leap,
            tzinfo=zone,
        )
        micros = (at.astimezone(UTC) - _EPOCH) // _MICROSECOND
    except (ValueError, OverflowError) as exc:
        raise DataError(
            f'"{text}" is not a time: {exc}; write for example {_INSTANT_EXAMPLE}'
        ) from exc
    if leap and (micros // 1_000_000 + 1) % 86_400 != 0:  # they end a day of UTC
        raise DataError(f'"{text}" is not a leap second; write seconds from 00 to 59')
    micros += leap * 1_000_000
    return round(micros / 1e6 + (float(f"0.{fraction}") if fraction else 0.0), 6)


def parse_instant(text: str) -> float:
    """An instant with its zone or plain Unix seconds, as files hold them. Raises DataError."""
    if _UNIX.fullmatch(short(text).strip()):
        if (at_s := round(float(text), 6)) >= _END_S:
            raise DataError(f'"{text}" lies after the year 9999; write Unix time in seconds')
        return at_s
    return parse_rfc3339(text)


def parse_at(text: str, now_s: float, *, zone: tzinfo | None = None) -> float:
    """A time in the past as a person types it, as Unix seconds.

    "now", "25 min ago", "14:05" or "2:05 pm" (the last time that the clock on the wall, in `zone`
    or else the system's, showed it), an instant with its zone, or Unix seconds. Raises DataError
    for anything else, and for the future.
    """
    words = short(text).strip()
    if words.lower() == "now":
        return now_s
    if ago := _AGO.fullmatch(words):
        at_s = now_s - parse_quantity(ago[1], Dimension.DURATION)
    elif shown := _CLOCK_TIME.fullmatch(words):
        at_s = _last_shown(text, int(shown[1]), shown, now_s, zone)
    elif shown := _HALF_DAY_TIME.fullmatch(words):
        at_s = _last_shown(text, _hour(text, shown), shown, now_s, zone)
    elif _UNIX_NOW.fullmatch(words) or _INSTANT.fullmatch(words):
        at_s = parse_instant(words)
    else:
        raise DataError(
            f'"{text}" is not a time; write for example "25 min ago", "14:05" or {_INSTANT_EXAMPLE}'
        )
    if at_s < 0.0:
        raise DataError(f'"{text}" lies before 1970; write when it happened')
    if at_s > now_s:
        raise DataError(
            f'"{text}" is in the future (it is {rfc3339(now_s, digits=0)}); write when it happened'
        )
    return round(at_s, 6)


def parse_day_or_at(text: str, now_s: float) -> float:
    """As `parse_at`; of a day alone ("2031-05-04") its first moment, in the system's zone."""
    day = _DAY.fullmatch(short(text).strip())
    if day is None:
        return parse_at(text, now_s)
    try:
        began = datetime(int(day[1]), int(day[2]), int(day[3]))  # noqa: DTZ001 - the system's zone
        return parse_at(f"{began.timestamp():f}", now_s)
    except (ValueError, OverflowError) as exc:
        raise DataError(f'"{text}" is not a day: {exc}; write for example "2031-05-04"') from exc


def _offset(sign: str, hours: int, minutes: int) -> timezone:
    if minutes > 59:
        raise ValueError("zone minutes must be in 0..59")
    offset = timedelta(hours=hours, minutes=minutes)
    return timezone(-offset if sign == "-" else offset)


def _hour(text: str, parts: re.Match[str]) -> int:
    """Of 24, from one of 12 and its half of the day: 12 am is midnight."""
    hour = int(parts[1])
    if not 1 <= hour <= 12:
        raise DataError(f'"{text}" is not a time of day; write for example "14:05" or "2:05 pm"')
    return hour % 12 + (12 if parts[4].lower() == "p" else 0)


def _last_shown(
    text: str, hour: int, parts: re.Match[str], now_s: float, zone: tzinfo | None
) -> float:
    """When the clock on the wall last showed `parts`; shown twice when summer time ends."""
    try:
        shown = time_of_day(hour, int(parts[2] or 0), int(parts[3] or 0))
    except ValueError as exc:
        raise DataError(f'"{text}" is not a time of day: {exc}; write for example "14:05"') from exc
    today = (_EPOCH + timedelta(seconds=now_s)).astimezone(zone).date()
    candidates = (
        datetime.combine(today - timedelta(days=days), shown.replace(fold=fold), zone).timestamp()
        for days in (0, 1)
        for fold in (1, 0)
    )
    return next(at_s for at_s in candidates if at_s <= now_s)
