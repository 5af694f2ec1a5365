"""How a bench writes figures."""

from logger.alarms.words import Words
from logger.quantities import Quantity
from logger.settings.bench_keys import Settings
from logger.units import Dimension, unit_of


def words_of(settings: Settings) -> Words:
    """Figures as the bench shows them."""
    show = settings.bench.show
    temperature, mass = (
        unit_of(show.get(quantity.value, quantity.unit), quantity)
        for quantity in (Quantity.TEMPERATURE, Quantity.MASS)
    )
    length = unit_of(show.get("length", "mm"), Dimension.LENGTH)
    return Words(temperature=temperature, mass_in=mass, length_in=length)
