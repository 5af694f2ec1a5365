"""Settings in the core's own terms, and this program's version."""

from importlib.metadata import version

from logger.pipeline import Bench
from logger.settings import Settings

VERSION = version("wickbench")


def bench_of(settings: Settings) -> Bench:
    """What the pipeline must know of the configured bench."""
    return Bench(
        name=settings.bench.name,
        channels=settings.channels,
        stations=settings.stations,
        limits=settings.limits,
        criteria=settings.criteria,
        words=settings.words,
        marks=settings.marks,
        accuracy_by_hand=settings.by_hand.accuracy,
        ask_every_s=settings.alarms.unwatched_s,
        delivery_routes=tuple(
            out.name for out in (settings.mqtt, settings.influx) if out is not None
        ),
    )
