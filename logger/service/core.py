"""Settings in the core's own terms, and this program's version."""

from importlib.metadata import version

from logger.alarms.words import Words
from logger.pipeline import Bench
from logger.quantities import Quantity
from logger.settings import Settings
from logger.units import Dimension, unit_of

VERSION = version("wickbench")

NO_ENGINE = "[influx]: this version writes to no time-series engine; leave the table out"


def words_of(settings: Settings) -> Words:
    """Figures as the bench shows them."""
    show = settings.bench.show
    temperature, mass = (
        unit_of(show.get(quantity.value, quantity.unit), quantity)
        for quantity in (Quantity.TEMPERATURE, Quantity.MASS)
    )
    length = unit_of(show.get("length", "mm"), Dimension.LENGTH)
    return Words(temperature=temperature, mass_in=mass, length_in=length)


def bench_of(settings: Settings) -> Bench:
    """What the pipeline must know of the configured bench."""
    return Bench(
        name=settings.bench.name,
        channels=settings.channels,
        stations=settings.stations,
        limits=settings.limits,
        words=words_of(settings),
        ask_every_s=settings.alarms.unwatched_s,
        ways_out=() if settings.mqtt is None else (settings.mqtt.name,),
    )
