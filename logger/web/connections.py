"""Connections without a request: few of them and not for long, so that they take no descriptors.

They come before any token. The oldest goes when there are too many, never the newest: whoever has
something to ask has asked it within milliseconds, so the page stays within reach.
"""

import asyncio
from typing import Any

from uvicorn.protocols.http.h11_impl import H11Protocol

MOST_WAITING = 64  # connections that have not asked anything yet, or not to its end (our choice)
MOST_AT_ONCE = 256  # connections in all, of which a browser has up to six (our choice)
BACKLOG = 64  # that the loop accepts in one turn, before any of them can be closed again
PATIENCE_S = 10.0  # for a whole request


class WaitingRoom:
    """The connections of one server that have no whole request, the longest waiting first."""

    def __init__(self) -> None:
        self._waiting: dict[Connection, asyncio.TimerHandle] = {}

    def enter(self, connection: "Connection") -> None:
        """`connection` begins to wait; who waits too long, or longest of too many, is closed."""
        self.leave(connection)
        loop = asyncio.get_running_loop()
        self._waiting[connection] = loop.call_later(PATIENCE_S, self._close, connection)
        if len(self._waiting) > MOST_WAITING:
            self._close(next(iter(self._waiting)))

    def leave(self, connection: "Connection") -> None:
        """`connection` waits no longer."""
        timer = self._waiting.pop(connection, None)
        if timer is not None:
            timer.cancel()

    def _close(self, connection: "Connection") -> None:
        self.leave(connection)
        connection.abort()


class Connection(H11Protocol):
    """uvicorn's connection, in the waiting room whenever it has no whole request."""

    def __init__(self, *args: Any, room: WaitingRoom, **more: Any) -> None:
        super().__init__(*args, **more)
        self._room = room

    def connection_made(self, transport: asyncio.Transport) -> None:  # type: ignore[override]
        """It is there, and may ask."""
        super().connection_made(transport)
        self._room.enter(self)

    def data_received(self, data: bytes) -> None:
        """Some of a request, perhaps the last of it."""
        super().data_received(data)
        if self.cycle is not None and not self.cycle.more_body:
            self._room.leave(self)

    def on_response_complete(self) -> None:
        """It is answered, and may ask again."""
        super().on_response_complete()
        unasked = self.cycle.response_complete or self.cycle.more_body  # else one was pipelined
        if unasked and not self.transport.is_closing():
            self._room.enter(self)

    def abort(self) -> None:
        """Close it without a word, and count it no more from now on."""
        self.connections.discard(self)
        self.transport.abort()

    def connection_lost(self, exc: Exception | None) -> None:
        """It is gone."""
        self._room.leave(self)
        super().connection_lost(exc)
