"""Readings typed by a person: what `average` and `emissivity` answer."""

from collections.abc import Sequence
from typing import Any

from logger import messages
from logger.burn.entries import ManualReading
from logger.conditioning import infrared
from logger.errors import DataError, UsageError
from logger.quantities import Place, Position, Quantity
from logger.units import parse_number, parse_quantity, unit_of


def average(
    values: Sequence[str],
    *,
    unit: str,
    emissivity: float | None = None,
    emissivity_set: float | None = None,
    reflected: str | None = None,
) -> dict[str, Any]:
    """Average of typed temperatures of one place, in `unit`; the used and set-aside as typed.

    Raises UsageError that says what to write instead.
    """
    for option, share in (("emissivity", emissivity), ("emissivity-set", emissivity_set)):
        try:
            infrared.checked_emissivity(1.0 if share is None else share)
        except DataError as exc:
            raise UsageError(f"--{option}: {exc}, for example 0.92") from None
    if emissivity is None and emissivity_set is not None:
        raise UsageError(
            "--emissivity-set corrects nothing alone: give the surface's --emissivity too, "
            "0.92 for bare glass"
        )
    try:
        typed_in = unit_of(unit, Quantity.TEMPERATURE)
        reading = ManualReading(
            at_s=0.0,
            entered_s=0.0,
            id="average",
            station="by-hand",
            place=Place(position=Position.WALL),
            values=tuple(typed_in.inside(parse_number(value)) for value in values),
            emissivity=emissivity,
            emissivity_set=1.0 if emissivity_set is None else emissivity_set,
            reflected_c=parse_quantity(reflected, Quantity.TEMPERATURE) if reflected else None,
            typed_in=typed_in,
        )
    except DataError as exc:
        raise UsageError(str(exc)) from None
    answer = messages.typed(reading)
    of_a_bench = ("channel", "quality")
    return {key: value for key, value in answer.items() if key not in of_a_bench}


_LEAST_FOUND = 0.02  # of polished metals (tables); less is a mistake in the readings


def emissivity(
    bare: str, patch: str, *, unit: str, reflected: str, patch_emissivity: float
) -> float:
    """Emissivity of a surface, from what a thermometer shows of it and of a patch on it.

    What the thermometer is set to does not matter, as it is the same for both. Raises UsageError
    that says what to write or measure instead.
    """
    try:
        typed_in = unit_of(unit, Quantity.TEMPERATURE)
        bare_c, shown_c = (typed_in.inside(parse_number(text)) for text in (bare, patch))
        reflected_c = parse_quantity(reflected, Quantity.TEMPERATURE)
        patch_c = infrared.surface(
            shown_c, emissivity=patch_emissivity, reflected_c=reflected_c
        ).celsius
        found = infrared.emissivity_from_patch(bare_c, patch_c=patch_c, reflected_c=reflected_c)
    except DataError as exc:
        raise UsageError(str(exc)) from None
    if found < _LEAST_FOUND:
        raise UsageError(
            f"emissivity {found:.3f} is less than any surface has: measure both again, in turn"
        )
    return found
