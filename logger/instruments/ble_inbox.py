"""From a callback, which must not wait, to a driver that does."""

import asyncio
from typing import Generic, TypeVar

from logger.errors import InstrumentUnavailable
from logger.instruments.instrument_link import InstrumentLink

# A second of the fastest sensors; what comes faster than it is taken is dropped, the oldest first.
_ROOM = 64

Sent = TypeVar("Sent")


class Inbox(Generic[Sent]):
    """Bounded; what it has no room for it counts on `link`. A lost link comes after what it sent.

    Callbacks that were coroutines would run as tasks of their own, and out of order.
    """

    def __init__(self, link: InstrumentLink) -> None:
        self._link = link
        self._queue: asyncio.Queue[Sent] = asyncio.Queue(_ROOM)
        self._lost: str | None = None
        self._stirred = asyncio.Event()
        self.came = 0

    def put(self, sent: Sent) -> None:
        """Take one, never waiting."""
        self.came += 1
        if self._queue.full():
            self._queue.get_nowait()
            self._link.drop()
        self._queue.put_nowait(sent)
        self._stirred.set()

    def lose(self, reason: str) -> None:
        """Nothing will come any more; the first reason counts."""
        if self._lost is None:
            self._lost = reason
        self._stirred.set()

    async def get(self) -> Sent:
        """The next one. Raises `InstrumentUnavailable` once the link is lost and all is taken."""
        while self._queue.empty():
            if self._lost is not None:
                raise InstrumentUnavailable(self._link.name, self._lost)
            self._stirred.clear()
            await self._stirred.wait()
        return self._queue.get_nowait()
