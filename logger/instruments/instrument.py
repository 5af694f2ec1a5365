"""What every driver offers."""

from collections.abc import AsyncIterator, Awaitable, Callable
from contextlib import AbstractAsyncContextManager
from typing import Protocol

from logger.instruments.instrument_link import InstrumentLink
from logger.quantities import Reading

Now = Callable[[], float]
SleepUntil = Callable[[float], Awaitable[None]]


class Instrument(Protocol):
    """Delivers the readings of its channels while it is open; opened again after each failure."""

    @property
    def name(self) -> str:
        """As in the configuration."""
        ...

    @property
    def link(self) -> InstrumentLink:
        """Its health."""
        ...

    def open(self) -> AbstractAsyncContextManager[AsyncIterator[Reading]]:
        """Connect; release the port on every way out, cancellation included.

        Nothing is awaited between the stamp of a reading and its delivery. Raises
        `InstrumentUnavailable` when trying again may help, `InstrumentRefused` when it cannot;
        the iterator does too.
        """
        ...
