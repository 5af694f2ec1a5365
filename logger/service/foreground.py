"""`wickbench run`: the service in a terminal or under a service manager."""

import asyncio
import gc
import logging
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
from logger.service.terminal_lines import LogToTerminal, TerminalLines
from logger.settings import Settings

CAUTION = (
    "A burning candle stays in sight whatever this tool says; it does not watch in your place."
)


def run_in_foreground(settings: Settings) -> None:
    """Run until SIGINT or SIGTERM."""
    terminal = TerminalLines()
    handler = LogToTerminal(terminal)
    handler.setFormatter(OneLine("%(levelname)s %(name)s: %(message)s"))
    logging.basicConfig(level=logging.INFO, handlers=[handler])
    try:
        asyncio.run(_until_signal(settings, terminal))
    finally:
        terminal.close()


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


async def _until_signal(settings: Settings, terminal: TerminalLines) -> None:
    stop = asyncio.Event()
    loop = asyncio.get_running_loop()
    for number in (signal.SIGINT, signal.SIGTERM):
        loop.add_signal_handler(number, stop.set)

    follower: Follower | None = None

    async def body(service: Service) -> None:
        nonlocal follower
        gc.freeze()  # what is there now stays, and is not looked through again
        gc.enable()
        terminal.say(f"bench {settings.bench.name}")
        for line in service.page_access.lines(to_owner=sys.stdout.isatty(), signs=_writes_blocks()):
            terminal.say(line)
        terminal.say(CAUTION)
        for line in looser(
            settings.limits,
            settings.alarms.unwatched_s,
            settings.words,
            criteria=settings.criteria,
        ):
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


def say(text: str) -> None:
    """A line to the person at the terminal, at once."""
    sys.stdout.write(text + "\n")
    sys.stdout.flush()


def said(news: Sequence[Output | Announcement]) -> list[str]:
    """What a terminal shows of `news`; the bell rings where somebody must go."""
    return [("\a" if one.calls else "") + one.line for one in news if isinstance(one, Announcement)]
