"""`wickbench run`: the service in a terminal or under a service manager."""

import asyncio
import logging
import signal
import sys

from logger.alarms.lifecycle import AlarmEvent
from logger.burn.model import BurnEvent
from logger.clock import RealClock
from logger.messages import printable
from logger.pipeline import Output
from logger.service.run import Service, run
from logger.settings import Settings

CAUTION = (
    "A burning candle stays in sight whatever this tool says; it does not watch in your place."
)


def run_in_foreground(settings: Settings) -> None:
    """Run until SIGINT or SIGTERM."""
    logging.basicConfig(
        level=logging.INFO, stream=sys.stderr, format="%(levelname)s %(name)s: %(message)s"
    )
    asyncio.run(_until_signal(settings))


async def _until_signal(settings: Settings) -> None:
    stop = asyncio.Event()
    loop = asyncio.get_running_loop()
    for number in (signal.SIGINT, signal.SIGTERM):
        loop.add_signal_handler(number, stop.set)

    async def body(service: Service) -> None:
        say(f"bench {settings.bench.name}: page at {service.url}")
        say(CAUTION)
        if settings.mqtt is None:
            say("no broker is configured: alarms reach this terminal and the page only")
        with service.hub.follow() as follower:
            while not stop.is_set():
                for output in await follower.next(0.5):
                    line = said(output)
                    if line is not None:
                        say(line)

    await run(settings, RealClock(), body)


def say(text: str) -> None:
    """A line to the person at the terminal, at once."""
    sys.stdout.write(text + "\n")
    sys.stdout.flush()


def said(output: Output) -> str | None:
    """An alarm or burn event as a line for the terminal; the bell rings where somebody must go."""
    match output:
        case AlarmEvent(tells=True):
            finding = output.alarm.finding
            return f"\a{finding.priority.value.upper()}  {printable(finding.text)}"
        case AlarmEvent():
            return f"{output.what}  {output.alarm.key}"
        case BurnEvent():
            return printable(output.text)
        case _:
            return None
