"""A way to a broker on which everything can be lost without a word."""

import asyncio
import contextlib


class Swallower:
    """A way to the broker that can swallow everything, as a lost radio link does."""

    def __init__(self, broker_port: int, *, port: int = 0) -> None:
        self._broker_port = broker_port
        self.port = port
        self.swallows = False
        self._carrying = set()
        self._writers = []

    async def __aenter__(self):
        self._server = await asyncio.start_server(self._carry_both, "127.0.0.1", self.port)
        self.port = self._server.sockets[0].getsockname()[1]
        return self

    async def __aexit__(self, *exc):
        self._server.close()
        for task in self._carrying:
            task.cancel()
        await asyncio.gather(*self._carrying, return_exceptions=True)
        for writer in self._writers:
            writer.transport.abort()
        await asyncio.sleep(0.05)  # turns of the loop in which they are closed

    async def _carry_both(self, reader, writer):
        with contextlib.suppress(OSError):
            self._writers.append(writer)
            there = await asyncio.open_connection("127.0.0.1", self._broker_port)
            self._writers.append(there[1])
            for one, other in ((reader, there[1]), (there[0], writer)):
                task = asyncio.create_task(self._carry(one, other))
                self._carrying.add(task)

    async def _carry(self, reader, writer):
        with contextlib.suppress(OSError):
            while data := await reader.read(4096):
                if not self.swallows:
                    writer.write(data)
                    await writer.drain()
            writer.close()
