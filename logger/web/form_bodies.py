"""Forms of the page as the bodies that the JSON side takes, for browsers without scripts."""

from typing import Any
from urllib.parse import parse_qsl

from logger.burn.model import LONGEST_AGO_S
from logger.errors import DataError
from logger.units import parse_number

_MOST_FIELDS = 100  # of one form; ours have at most twenty
_LISTS = ("checks", "alarm", "clear")
_NUMBERS = ("emissivity", "emissivity_set", "clock")

_MEASURED = {"height": "height_unit", "mass": "mass_unit", "wax": "mass_unit"}
"""Fields for a number alone, and the field that tells its unit."""

Fields = dict[str, Any]
Pair = tuple[str, str]


def pairs(raw: bytes) -> list[Pair]:
    """The fields of a posted form, in order. Raises DataError where it cannot be read."""
    try:
        return parse_qsl(raw.decode("utf-8"), max_num_fields=_MOST_FIELDS, errors="strict")
    except ValueError as exc:
        raise DataError(f"the form cannot be read: {exc}") from None


def fields(raw: bytes) -> Fields:
    """A posted form (application/x-www-form-urlencoded) as the body it stands for.

    Empty fields are left out, `values` is parted at spaces, and a height or mass
    gets the unit that the form tells. Raises DataError where it cannot be read.
    """
    found: Fields = {}
    for name, value in pairs(raw):
        if name in _LISTS:
            found.setdefault(name, []).append(value)
        elif name == "values" and name in found:  # a field for each
            found[name] += f" {value}"
        elif value.strip():
            found[name] = value.strip()
    if "values" in found:
        found["values"] = [parse_number(part) for part in found["values"].replace(";", " ").split()]
    for name in _NUMBERS:
        if name in found:
            found[name] = parse_number(found[name])
    for name, unit_field in _MEASURED.items():
        unit = found.get(unit_field)
        if name in found and unit is not None:
            found[name] = f"{parse_number(found[name]):.10g} {unit}"
    for unit_field in _MEASURED.values():
        found.pop(unit_field, None)
    return found


def tapped_s(found: Fields, now_s: float) -> float:
    """When a person sent the form off: `waited_s` ago, where the bench could not be reached.

    Takes that field out of `found`. Raises DataError where it is no such time.
    """
    waited_s = parse_number(found.pop("waited_s", "0"))
    if not 0.0 <= waited_s <= LONGEST_AGO_S:
        raise DataError(f"waited_s: {waited_s:g} s is longer than any page stays open")
    return now_s - waited_s
