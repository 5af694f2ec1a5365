"""An instrument on a pseudo-terminal that speaks when it is asked."""

import asyncio
import os
from abc import abstractmethod
from pathlib import Path

from simulators.printing_port import PrintingPort

_LOOKS_EVERY_S = 0.002  # a question of 8 bytes takes 9 ms at 9600 Bd


class Answering(PrintingPort):
    """Plug, unplug and replug as with `PrintingPort`; `serve` answers until it is cancelled."""

    def __init__(self, link: Path) -> None:
        super().__init__(link)
        self.wedged = False  # hears, and does not answer
        self.questions = 0

    @abstractmethod
    def answers(self, data: bytes) -> bytes:
        """What to send back for `data`, which may hold half a question or several."""

    def receive(self) -> bytes:
        """What a program has written; does not wait."""
        if self._master is None or not self.opened:
            return b""
        try:
            return os.read(self._master, 4096)
        except OSError:  # nothing there, or nobody any more
            return b""

    def serve_once(self) -> None:
        """Answer what has been asked so far."""
        if data := self.receive():
            answer = self.answers(data)
            if answer and not self.wedged:
                self.send_raw(answer)

    async def serve(self) -> None:
        """Answer for as long as the task lives."""
        while True:
            self.serve_once()
            await asyncio.sleep(_LOOKS_EVERY_S)
