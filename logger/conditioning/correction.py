"""From the number that came to what the place is: transducer, emissivity, calibration."""

from logger.conditioning import infrared, transducers
from logger.conditioning.calibration import Correction
from logger.conditioning.uncertainty import ASSUMED_REFLECTED_C
from logger.quantities import Channel, Transducer


def corrected(
    channel: Channel,
    value: float,
    *,
    reflected_c: float | None = None,
    calibration: Correction | None = None,
) -> float:
    """`value` in the channel's unit as the internal unit, corrected for what is known of it.

    `reflected_c` is what an infrared channel sees mirrored in its surface; a `calibration` takes
    the place of the channel's offset. Raises DataError for what the sensor cannot have sent.
    """
    inside = _transduced(channel, channel.unit.inside(value))
    if channel.emissivity is not None:
        inside = infrared.surface(
            inside,
            emissivity=channel.emissivity,
            emissivity_set=channel.emissivity_set,
            reflected_c=ASSUMED_REFLECTED_C if reflected_c is None else reflected_c,
        ).celsius
    if calibration is not None:
        return calibration.applied(inside)
    return inside + channel.calibration_offset


def _transduced(channel: Channel, signal: float) -> float:
    match channel.transducer:
        case Transducer.NONE:
            return signal
        case Transducer.PT100:
            return transducers.pt100_c(signal)
        case Transducer.NTC:
            return transducers.ntc_c(signal, r25_ohm=channel.ntc_r25_ohm, beta_k=channel.ntc_beta_k)
        case Transducer.THERMOCOUPLE_K | Transducer.THERMOCOUPLE_T as kind:
            cold_c = channel.cold_junction_c
            return transducers.thermocouple_c(
                kind, signal, ASSUMED_REFLECTED_C if cold_c is None else cold_c
            )
