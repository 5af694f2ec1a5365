"""The maker's own program, started when alarms do not get out by MQTT.

No shell: the words of `[alarms] run` are a program and its arguments. It gets each announcement
as one line of JSON on its standard input, one start each, and may take `PATIENCE_S`. It is started
for one whose phone line no broker has confirmed in `UNCONFIRMED_S`, and at once while the broker
is known to be gone; then for what the phone would be spared, too.
"""

import asyncio
import json
import logging
from collections.abc import Iterable, Mapping, Sequence

from logger import messages
from logger.alarms.lifecycle import Alarm, AlarmEvent, AlarmEventKind, Finding, Priority, Signal
from logger.announcements import Announcement
from logger.messages import one_line
from logger.pipeline import Input, Output
from logger.quantities import Health, Part, Rule

log = logging.getLogger(__name__)

PATIENCE_S = 20.0
UNCONFIRMED_S = 6.0  # of real time; the broker is said to be gone after 3 (our choice)
MOST_WAITING = 20  # announcements; of the least grave the oldest go first
AT_ONCE = 8  # programs: one that hangs must not keep the next alarm back


class AlarmProgram:
    """Starts `command` for what must be told while the way out is broken."""

    def __init__(
        self,
        command: Sequence[str],
        *,
        alone: bool = False,
        patience_s: float = PATIENCE_S,
        unconfirmed_s: float = UNCONFIRMED_S,
    ) -> None:
        """`alone`: no broker is configured, so there is no other way out."""
        self._command = tuple(command)
        self._patience_s = patience_s
        self._unconfirmed_s = unconfirmed_s
        self._broken = {"no broker"} if alone else set[str]()  # ways out that do not work
        self._unconfirmed: dict[str, tuple[Announcement, asyncio.TimerHandle]] = {}  # by id
        self._waiting: list[Announcement] = []
        self._news = asyncio.Event()
        self._started: set[asyncio.Task[None]] = set()

    def take(self, item: Input, _outputs: Sequence[Output] = ()) -> None:
        """Note which ways out work; never waits."""
        if isinstance(item, Health) and item.part is Part.DELIVERY:
            (self._broken.discard if item.ok else self._broken.add)(item.name)
            self._ring_if_broken()

    def announce(self, announcements: Iterable[Announcement]) -> None:
        """Note what is to be told; never waits."""
        for one in announcements if self._command else ():
            if one.calls and (one.phone or self._broken):
                timer = asyncio.get_running_loop().call_later(
                    self._unconfirmed_s, self._ring_for, one.id
                )
                self._unconfirmed[one.id] = one, timer
        self._ring_if_broken()

    def note_confirmed(self, announcement_id: str) -> None:
        """A broker has this line."""
        _, timer = self._unconfirmed.pop(announcement_id, (None, None))
        if timer is not None:
            timer.cancel()

    def _ring_if_broken(self) -> None:
        if self._broken:
            for announcement_id in list(self._unconfirmed):
                self._ring_for(announcement_id)

    def _ring_for(self, announcement_id: str) -> None:
        announcement, timer = self._unconfirmed.pop(announcement_id)
        timer.cancel()
        if len(self._waiting) >= MOST_WAITING:
            self._waiting.remove(min(self._waiting, key=_rank))
        self._waiting.append(announcement)
        self._news.set()

    async def run(self) -> None:
        """Start the program for each, the gravest first, until cancelled."""
        try:
            while True:
                await self._news.wait()
                self._news.clear()
                while self._waiting and len(self._started) < AT_ONCE:
                    announcement = max(self._waiting, key=_rank)
                    self._waiting.remove(announcement)
                    task = asyncio.create_task(self._tell(announcement))
                    self._started.add(task)
                    task.add_done_callback(self._ended)
        finally:
            for _, timer in self._unconfirmed.values():
                timer.cancel()
            for task in self._started:
                task.cancel()
            if self._started:
                await asyncio.wait(set(self._started))

    def _ended(self, task: asyncio.Task[None]) -> None:
        self._started.discard(task)
        self._news.set()

    async def _tell(self, announcement: Announcement) -> None:
        trouble = await start(self._command, _message(announcement), self._patience_s)
        if trouble is not None:
            log.error("[alarms] run: %s", trouble)


def _rank(announcement: Announcement) -> int:
    return announcement.priority.rank


def _message(announcement: Announcement) -> Mapping[str, object]:
    """The gravest of its alarm events, with the line that stands for all and who is meant."""
    return {
        **messages.alarm_event(announcement.events[0]),
        "line": announcement.line,
        "alarms": [event.alarm.key for event in announcement.events],
    }


async def start(
    command: Sequence[str], message: Mapping[str, object], patience_s: float
) -> str | None:
    """Run `command` with `message` on its standard input; what went wrong, None for nothing."""
    try:
        process = await asyncio.create_subprocess_exec(
            *command,
            stdin=asyncio.subprocess.PIPE,
            stdout=asyncio.subprocess.DEVNULL,
            stderr=asyncio.subprocess.DEVNULL,
        )
    except (OSError, ValueError) as exc:  # ValueError: a name with a null in it
        return f"{command[0]} cannot be started: {getattr(exc, 'strerror', None) or exc}"
    try:
        async with asyncio.timeout(patience_s):
            await process.communicate((json.dumps(message) + "\n").encode())
    except TimeoutError:
        return f"{one_line(command[0])} took over {patience_s:g} s"
    finally:
        if process.returncode is None:
            process.kill()
            await process.wait()
    return f"{command[0]} ended with {process.returncode}" if process.returncode else None


async def trial(command: Sequence[str], at_s: float) -> str | None:
    """Start `command` once with an alarm that says it is none; what went wrong, None for nothing.

    For `wickbench check`.
    """
    finding = Finding(
        rule=Rule.CHECK,
        subject="check",
        signal=Signal.ON,
        priority=Priority.NOTICE,
        text="A trial by `wickbench check`: nothing is wrong, and this program was reached",
    )
    alarm = Alarm(finding=finding)
    event = AlarmEvent(id="check", time_s=at_s, what=AlarmEventKind.RAISED, alarm=alarm)
    return await start(command, messages.alarm_event(event), PATIENCE_S)
