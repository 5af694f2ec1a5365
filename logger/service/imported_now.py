"""What an import is stored as: a run of the program in which nothing was watched."""

from logger.service.core import VERSION, bench_of
from logger.settings import Settings
from logger.store.runs import Beginning


def imported_now(settings: Settings, now_s: float) -> Beginning:
    """The beginning of such a run at `now_s`."""
    return Beginning(
        settings_text=settings.text,
        bench=bench_of(settings),
        started_s=now_s,
        version=VERSION,
        watching=False,
        broker=settings.mqtt is not None,
    )
