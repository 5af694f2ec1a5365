"""How the bench that is configured writes figures."""

from logger.alarms.words import Words
from logger.quantities import Quantity
from logger.settings import Settings
from logger.units import unit_of


def words_of(settings: Settings) -> Words:
    """Figures as the bench shows them."""
    temperature, mass = (
        unit_of(settings.bench.show.get(quantity.value, quantity.unit), quantity)
        for quantity in (Quantity.TEMPERATURE, Quantity.MASS)
    )
    return Words(temperature=temperature, mass_in=mass)
