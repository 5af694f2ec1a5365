"""The maker's own program, started when alarms do not get out by MQTT.

No shell: the words of `[alarms] run` are a program and its arguments. It gets each alarm as one
line of JSON on its standard input, one start an alarm, and may take `PATIENCE_S`.
"""

import asyncio
import json
import logging
from collections.abc import Sequence

from logger import messages
from logger.alarms.lifecycle import AlarmEvent
from logger.pipeline import Input, Output
from logger.quantities import Health, Part

log = logging.getLogger(__name__)

PATIENCE_S = 20.0
MOST_WAITING = 20  # alarms; the oldest go first, the newest says what is so now


class LastResort:
    """Starts `command` for what must be told while the way out is broken."""

    def __init__(
        self, command: Sequence[str], *, alone: bool = False, patience_s: float = PATIENCE_S
    ) -> None:
        """`alone`: no broker is configured, so there is no other way out."""
        self._command = tuple(command)
        self._patience_s = patience_s
        self._broken = {"no broker"} if alone else set[str]()  # ways out that do not work
        self._waiting: asyncio.Queue[AlarmEvent] = asyncio.Queue()

    def take(self, item: Input, outputs: Sequence[Output]) -> None:
        """Note what is to be told; never waits."""
        if isinstance(item, Health) and item.part is Part.DELIVERY:
            (self._broken.discard if item.ok else self._broken.add)(item.name)
        if not self._command or not self._broken:
            return
        for event, _ in messages.told(outputs):
            if self._waiting.qsize() >= MOST_WAITING:
                self._waiting.get_nowait()
            self._waiting.put_nowait(event)

    async def run(self) -> None:
        """Start the program for each, one after the other, until cancelled."""
        while True:
            event = await self._waiting.get()
            try:
                await self._start(json.dumps(messages.alarm_event(event)) + "\n")
            except OSError as exc:
                log.error("[alarms] run: %s cannot be started: %s", self._command[0], exc.strerror)

    async def _start(self, line: str) -> None:
        process = await asyncio.create_subprocess_exec(
            *self._command,
            stdin=asyncio.subprocess.PIPE,
            stdout=asyncio.subprocess.DEVNULL,
            stderr=asyncio.subprocess.DEVNULL,
        )
        try:
            async with asyncio.timeout(self._patience_s):
                await process.communicate(line.encode())
        except TimeoutError:
            log.error("[alarms] run: %s took over %g s", self._command[0], self._patience_s)
        finally:
            if process.returncode is None:
                process.kill()
                await process.wait()
        if process.returncode:
            log.error("[alarms] run: %s ended with %d", self._command[0], process.returncode)
