"""Readings typed by a person: what `average` answers."""

from collections.abc import Sequence
from typing import Any

from logger.conditioning import manual
from logger.conditioning.correction import corrected
from logger.errors import DataError, UsageError
from logger.messages import rounded
from logger.quantities import Channel, Place, Position, Quantity
from logger.units import parse_number, parse_quantity, unit_of


def average(
    values: Sequence[str],
    *,
    unit: str,
    emissivity: float | None = None,
    emissivity_set: float = 1.0,
    reflected: str | None = None,
) -> dict[str, Any]:
    """Average of typed temperatures of one place, in `unit`; the used and set-aside as typed.

    Raises UsageError that says what to write instead.
    """
    for option, share in (("emissivity", emissivity), ("emissivity-set", emissivity_set)):
        if share is not None and not 0.0 < share <= 1.0:
            raise UsageError(f"--{option}: {share} must lie above 0 and up to 1, as 0.92")
    try:
        channel = Channel(
            name="by-hand",
            instrument="by-hand",
            quantity=Quantity.TEMPERATURE,
            place=Place(position=Position.WALL),
            unit=unit_of(unit, Quantity.TEMPERATURE),
            emissivity=emissivity,
            emissivity_set=emissivity_set,
        )
        reflected_c = parse_quantity(reflected, Quantity.TEMPERATURE) if reflected else None
        typed = [parse_number(value) for value in values]
    except DataError as exc:
        raise UsageError(str(exc)) from None
    surface_c = [corrected(channel, value, reflected_c=reflected_c) for value in typed]
    result = manual.average(surface_c)
    typed_of = dict(zip(surface_c, typed, strict=True))
    estimate = manual.estimate(channel, typed, 0.0, reflected_c)
    total_c = estimate.standard_uncertainty
    assert total_c is not None  # an average of at least one value has one
    return {
        "value": rounded(channel.unit.outside(result.value)),
        "unit": unit,
        "standard_uncertainty": rounded(total_c / channel.unit.factor),
        "used": [typed_of[value] for value in result.used],
        "set_aside": [typed_of[value] for value in result.set_aside],
    }
