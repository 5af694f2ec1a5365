"""From the number that came to the temperature of the place: unit, emissivity, calibration."""

from logger.conditioning.uncertainty import ASSUMED_REFLECTED_C
from logger.quantities import ZERO_CELSIUS_K, Channel


def corrected(channel: Channel, value: float, reflected_c: float | None = None) -> float:
    """`value` in the channel's unit as the internal unit, corrected for what is known of it.

    `reflected_c` is what an infrared channel sees mirrored in its surface.
    """
    inside = channel.unit.inside(value)
    if channel.emissivity is not None:
        mirrored_k = (ASSUMED_REFLECTED_C if reflected_c is None else reflected_c) + ZERO_CELSIUS_K
        shown_k = inside + ZERO_CELSIUS_K
        received = channel.emissivity_set * (shown_k**4 - mirrored_k**4)
        inside = (received / channel.emissivity + mirrored_k**4) ** 0.25 - ZERO_CELSIUS_K
    return inside + channel.calibration_offset
