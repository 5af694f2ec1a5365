"""[pure] Cells of a table kept by hand, as people write them; each fault says what to write."""

import re
from contextlib import suppress
from datetime import UTC, datetime, timedelta, tzinfo

from logger.errors import DataError
from logger.quantities import Quantity
from logger.units import Dimension, parse_number, parse_quantity, short, unit_of

_FIGURE = re.compile(r"\s*+([+-]?[\d.,]++)\s*+(°?\s?[^\W\d]\w*|%)?\s*+")
_HOURS = re.compile(r"(\d{1,2})\s*+(?:h|:)\s*+(\d{1,2})(?:\s*+min)?", re.ASCII | re.IGNORECASE)
_CLOCK = re.compile(r"(\d{1,2}):(\d\d)(?::\d\d)?", re.ASCII)
_SHORT_UNITS = {"f": "degF", "°f": "degF", "c": "degC", "°c": "degC"}


def figures(cell: str, unit: str, quantity: Quantity) -> tuple[tuple[float, ...], str]:
    """The numbers in a cell and their one unit: that in the cell stands above `unit`, the map's.

    Several are separated by a slash, a semicolon or a blank. Raises DataError.
    """
    parts = [one for part in re.split(r"[/;]", short(cell)) for one in _apart(part)]
    values: list[float] = []
    named: dict[str, None] = {}
    for part in parts:
        match = _FIGURE.fullmatch(part)
        if match is None:
            raise DataError(f'"{cell.strip()}" is no {quantity}; write a number, or leave it empty')
        values.append(parse_number(match[1]))
        if match[2]:
            word = match[2].replace(" ", "")
            named[_SHORT_UNITS.get(word.casefold(), word)] = None
    if len(named) > 1:
        raise DataError(f'"{cell.strip()}" mixes units; write all values of a cell in one')
    found = next(iter(named), _SHORT_UNITS.get(unit.casefold(), unit))
    if not found:
        raise DataError(f'"{cell.strip()}" has no unit: write it in the cell, or once in the map')
    unit_of(found, quantity)
    return tuple(values), found


def _apart(text: str) -> list[str]:
    """Numbers that a blank separates, each with the unit behind it."""
    found: list[str] = []
    for word in text.split():
        if found and not word.lstrip("+-.,")[:1].isdigit():
            found[-1] += f" {word}"
        else:
            found.append(word)
    return found


def mass(cell: str, unit: str) -> str:
    """A mass with its unit, as bodies take it. Raises DataError."""
    values, found = figures(cell, unit, Quantity.MASS)
    if len(values) != 1:
        raise DataError(f'"{cell.strip()}" holds {len(values)} masses; write one')
    return f"{values[0]!r} {found}"


def length_s(cell: str, unit: str) -> float:
    """How long something lasted: "4 h", "2 h 10", "2:10", or a number in `unit`; seconds.

    Raises DataError.
    """
    text = short(cell).strip()
    if (parts := _HOURS.fullmatch(text)) is not None:
        return 3600.0 * int(parts[1]) + 60.0 * int(parts[2])
    try:
        number = parse_number(text)
    except DataError:
        return parse_quantity(text, Dimension.DURATION)
    if not unit:
        raise DataError(f'"{text}" has no unit: write "4 h" or "2 h 10", or name it in the map')
    return unit_of(unit, Dimension.DURATION).inside(number)


def moment_s(cell: str, forms: tuple[str, ...], zone: tzinfo | None) -> float:
    """A date with its time, in ISO 8601 or one of `forms`, in `zone` where it states none.

    Raises DataError that says which forms there are.
    """
    text = " ".join(short(cell).split())
    if ":" in text:  # else it is a day alone
        for form in forms:
            with suppress(ValueError):
                return _in_zone(datetime.strptime(text, form), zone)  # noqa: DTZ007 - set there
        with suppress(ValueError):
            return _in_zone(datetime.fromisoformat(text), zone)
    known = " or ".join(["2031-05-04 18:30", *forms])
    raise DataError(
        f'"{text}" is not a date and time; write it as {known}, or add its form to `times` in the '
        "map"
    )


def _in_zone(at: datetime, zone: tzinfo | None) -> float:
    return (at if at.tzinfo is not None else at.replace(tzinfo=zone)).timestamp()


def out_s(cell: str, lit_s: float, forms: tuple[str, ...], zone: tzinfo | None) -> float:
    """When it was out: a date with its time, or the first time after `lit_s` that the clock showed.

    Raises DataError.
    """
    text = short(cell).strip()
    parts = _CLOCK.fullmatch(text)
    if parts is None:
        return moment_s(cell, forms, zone)
    lit = datetime.fromtimestamp(lit_s, UTC).astimezone(zone)
    try:
        out = lit.replace(hour=int(parts[1]), minute=int(parts[2]), second=0, microsecond=0)
    except ValueError:
        raise DataError(f'"{text}" is not a time of day; write for example 22:30') from None
    if out <= lit:
        out += timedelta(days=1)
    return out.timestamp()
