"""`wickbench run`: the service in a terminal or under a service manager."""

import asyncio
import gc
import logging
import os
import signal
import sys
from collections.abc import Sequence
from contextlib import ExitStack
from typing import Any

from logger.announcements import Announcement
from logger.clock import RealClock
from logger.hub import Follower
from logger.messages import one_line
from logger.pipeline import Output
from logger.service.looser import looser
from logger.service.run import run
from logger.service.running_service import Service
from logger.settings import Settings

log = logging.getLogger(__name__)

CAUTION = (
    "A burning candle stays in sight whatever this tool says; it does not watch in your place."
)


def run_in_foreground(settings: Settings) -> None:
    """Run until SIGINT or SIGTERM."""
    handler = logging.StreamHandler(sys.stderr)
    handler.setFormatter(OneLine("%(levelname)s %(name)s: %(message)s"))
    logging.basicConfig(level=logging.INFO, handlers=[handler])
    asyncio.run(_until_signal(settings))


class OneLine(logging.Formatter):
    """One record, one line: what others wrote is no line of its own and steers no terminal.

    Tracebacks keep their lines, each set in.
    """

    def formatMessage(self, record: logging.LogRecord) -> str:
        """The record's line."""
        return one_line(super().formatMessage(record))

    def formatException(self, ei: Any) -> str:
        """The traceback."""
        lines = super().formatException(ei).splitlines()
        return "\n".join(f"  | {one_line(line)}" for line in lines)


def _writes_blocks() -> bool:
    try:
        "\u2580\u2584\u2588".encode(sys.stdout.encoding or "ascii")
    except UnicodeEncodeError:
        return False
    return True


async def _until_signal(settings: Settings) -> None:
    stop = asyncio.Event()
    loop = asyncio.get_running_loop()
    for number in (signal.SIGINT, signal.SIGTERM):
        loop.add_signal_handler(number, stop.set)

    follower: Follower | None = None
    terminal = _Terminal()

    async def body(service: Service) -> None:
        nonlocal follower
        gc.freeze()  # what is there now stays, and is not looked through again
        gc.enable()
        terminal.say(f"bench {settings.bench.name}")
        for line in service.page_access.lines(to_owner=sys.stdout.isatty(), signs=_writes_blocks()):
            terminal.say(line)
        terminal.say(CAUTION)
        for line in looser(settings.limits, settings.alarms.unwatched_s, settings.words):
            terminal.say(f"CAUTION: {line}")
        if settings.mqtt is None:
            also = f", and start {settings.alarms.run[0]}" if settings.alarms.run else " only"
            terminal.say(f"no broker is configured: alarms reach this terminal and the page{also}")
        follower = following.enter_context(service.hub.follow())
        while not stop.is_set():
            for line in said(await follower.next(0.5)):
                terminal.say(line)

    with ExitStack() as following:
        await run(settings, RealClock(), body)
        last = follower.take_waiting() if follower else ()  # that nothing watches any more
        for line in said(last):
            terminal.say(line)
        terminal.close()


def say(text: str) -> None:
    """A line to the person at the terminal, at once."""
    sys.stdout.write(text + "\n")
    sys.stdout.flush()


class _Terminal:
    """Where the service says its lines: a terminal, a pipe or a file, none of which it needs.

    A terminal that was closed, a reader that has gone or a full disk ends no watch: the lines go
    to page, phone and alarm program all the same.
    """

    def __init__(self) -> None:
        self._fails = False

    def say(self, text: str) -> None:
        """A line, where that is possible; the first one that is not is in the log."""
        try:
            say(text)
        except OSError as exc:
            if not self._fails:
                log.error("the terminal takes no lines (%s); the watch goes on", exc.strerror)
            self._fails = True
        else:
            self._fails = False

    def close(self) -> None:
        """Discard what it never took: else the end of the program would stumble over it."""
        if self._fails:
            os.dup2(os.open(os.devnull, os.O_WRONLY), sys.stdout.fileno())


def said(news: Sequence[Output | Announcement]) -> list[str]:
    """What a terminal shows of `news`; the bell rings where somebody must go."""
    return [("\a" if one.calls else "") + one.line for one in news if isinstance(one, Announcement)]
