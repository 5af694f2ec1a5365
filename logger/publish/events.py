"""Events that are stored and not yet delivered, each to be sent in order and marked once."""

import asyncio
from collections.abc import Sequence
from typing import Protocol

from logger.errors import StoreError
from logger.pipeline import Event

AT_ONCE = 50  # read from the outbox


class EventToDeliver(Protocol):
    """An event that is stored and not yet delivered."""

    @property
    def seq(self) -> int:
        """Its place in the order of events."""
        ...

    @property
    def event(self) -> Event:
        """What happened."""
        ...


class EventStore(Protocol):
    """Where events wait, on disk; both raise StoreError."""

    async def waiting_events(self, limit: int) -> Sequence[EventToDeliver]:
        """The first `limit` that are not marked delivered, in order."""
        ...

    async def mark_delivered(self, seqs: Sequence[int]) -> None:
        """Mark these delivered."""
        ...


class UndeliveredEvents:
    """What the outbox still has, without what went out or cannot go; forgets neither."""

    def __init__(self, outbox: EventStore, patience_s: float) -> None:
        self._outbox = outbox
        self._patience_s = patience_s  # of real time, for an answer of the disk
        self._unmarked: set[int] = set()  # confirmed, and the store could not mark them
        self._set_aside: set[int] = set()  # that no waiting makes fit this broker

    async def next(self) -> list[EventToDeliver]:
        """Some that are to be sent, in order. Raises StoreError."""
        done = self._unmarked | self._set_aside
        try:
            async with asyncio.timeout(self._patience_s):
                waiting = await self._outbox.waiting_events(AT_ONCE + len(done))
        except TimeoutError:
            raise StoreError(f"no answer for {self._patience_s:g} s") from None
        return [event for event in waiting if event.seq not in done]

    def confirm(self, event: EventToDeliver) -> None:
        """Note that `event` is not to be sent again."""
        self._unmarked.add(event.seq)

    def set_aside(self, event: EventToDeliver) -> None:
        """Note that `event` cannot be sent; the next start of the program tries it again."""
        self._set_aside.add(event.seq)

    async def mark(self) -> None:
        """Mark what is confirmed. Raises StoreError; it is kept for the next time then."""
        if self._unmarked:
            await self._outbox.mark_delivered(sorted(self._unmarked))
            self._unmarked.clear()
