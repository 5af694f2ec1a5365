"""Settings to instruments.

The driver called `one-wire` is the module `one_wire` here: its `build` makes the instrument from
the keys that its module in `logger.settings.drivers` lays down. It is imported when a bench has
it: its library costs start-up time and memory.
"""

from collections.abc import AsyncIterator
from contextlib import AbstractAsyncContextManager
from importlib import import_module

from logger.errors import DataError, InstrumentRefused
from logger.instruments.instrument import Instrument, Now, SleepUntil
from logger.instruments.instrument_link import InstrumentLink
from logger.quantities import Reading
from logger.settings import InstrumentSettings


def build(
    settings: InstrumentSettings, now: Now, sleep_until: SleepUntil | None = None
) -> Instrument:
    """The instrument of `settings`, not opened.

    `now` gives bench time and `sleep_until` waits for it: instruments that must be asked are
    asked in bench time; without it, in real time. From settings that contradict each other comes
    an instrument that refuses to open, and says why: the others of the bench are read all the same.
    """
    driver = import_module(f"logger.instruments.{settings.driver.replace('-', '_')}")
    try:
        instrument: Instrument = driver.build(settings.keys, settings.channels, now, sleep_until)
    except DataError as error:
        return Misconfigured(settings.name, str(error), now)
    return instrument


class Misconfigured:
    """Takes the place of an instrument that cannot be made."""

    def __init__(self, name: str, reason: str, now: Now) -> None:
        self.name = name
        self.link = InstrumentLink(name, now)
        self._reason = reason

    def open(self) -> AbstractAsyncContextManager[AsyncIterator[Reading]]:
        """Raises `InstrumentRefused`."""
        raise InstrumentRefused(self.name, self._reason)
