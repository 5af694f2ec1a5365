"""Units that an instrument writes beside its values, against those of the configuration."""

from collections.abc import Mapping

from logger.errors import DataError
from logger.quantities import Channel, Quantity, Transducer, Unit
from logger.units import Dimension, unit_of

_SPELLINGS = {"kelvin": "K"}  # of a decoder -> of the configuration

_MEASURES: Mapping[str, Quantity | Dimension] = {
    **dict.fromkeys(("degC", "degF", "kelvin"), Quantity.TEMPERATURE),
    **dict.fromkeys(("g", "kg", "oz", "lb"), Quantity.MASS),
    "percent": Quantity.HUMIDITY,
    **dict.fromkeys(("uV", "mV", "V"), Dimension.VOLTAGE),
    **dict.fromkeys(("ohm", "kohm"), Dimension.RESISTANCE),
}
"""What the units that decoders know are units of."""


class WrittenUnits:
    """Values of one channel, brought to its unit."""

    def __init__(self, channel: Channel) -> None:
        self._channel = channel
        self._known: dict[str, Unit] = {}

    def convert(self, value: float, written: str | None) -> float:
        """`value`, which came in the unit `written`, in the channel's unit.

        None: the instrument names no unit, the configuration's holds, and so it does where the
        two are the same. Raises `DataError` for a unit of something else: the wrong field.
        """
        if written is None:
            return value
        unit = self._known.get(written)
        if unit is None:
            unit = self._known[written] = self._look_up(written)
        wanted = self._channel.unit
        if (unit.factor, unit.offset) == (wanted.factor, wanted.offset):
            return value
        return round(wanted.outside(unit.inside(value)), 9)  # of 106.16 degF just 41.2 degC

    def _look_up(self, written: str) -> Unit:
        quantity = measured(self._channel)
        if _MEASURES.get(written) is not quantity:
            raise DataError(
                f"the instrument writes {written}, the channel is in {self._channel.unit.name}: "
                "check field and unit"
            )
        return unit_of(_SPELLINGS.get(written, written), quantity)


def measured(channel: Channel) -> Quantity | Dimension:
    """What the instrument itself measures: of a thermocouple a voltage."""
    match channel.transducer:
        case Transducer.NONE:
            return channel.quantity
        case Transducer.THERMOCOUPLE_K | Transducer.THERMOCOUPLE_T:
            return Dimension.VOLTAGE
        case Transducer.PT100 | Transducer.NTC:
            return Dimension.RESISTANCE
