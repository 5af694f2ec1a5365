"""A bench without hardware: `python -m simulators --link /tmp/jar-a` prints lines on a port.

Point a bench's instrument at the path it prints; stop it with Ctrl-C. The candle is lit at once
and put out after its burn; the lines go on while it cools.
"""

import argparse
import math
import signal
import sys
import time
from collections.abc import Sequence
from contextlib import suppress
from pathlib import Path

from simulators.candle import Candle
from simulators.jar import WICKS
from simulators.line_formats import LineFormat
from simulators.printing_port import PrintingPort
from simulators.scenarios import SCENARIOS, Scenario


def main(arguments: Sequence[str] | None = None) -> int:
    """Run until interrupted; returns the exit code."""
    options = _parser().parse_args(arguments)
    link: Path = options.link
    if link.exists() and not link.is_symlink():
        sys.stderr.write(f"{link} exists and is no link: choose another --link\n")
        return 2
    if not link.absolute().parent.is_dir():
        sys.stderr.write(f"{link.absolute().parent} is not a folder: make it first\n")
        return 2
    scenario = _scenario(options)
    keys = tuple(channel.name for channel in scenario.channels)
    line_format = LineFormat(
        format=options.format,
        keys=keys,
        separator=" " if options.format == "pairs" else ",",
    )
    # The link goes on every way out. SIGINT is ignored where a script started us behind itself.
    for number in (signal.SIGINT, signal.SIGTERM):
        signal.signal(number, signal.default_int_handler)
    with PrintingPort(link.absolute(), line_format) as port, suppress(KeyboardInterrupt):
        _say(f"port {port.link}")
        _say(f"channels {' '.join(keys)}")
        _run(scenario, port, every_s=options.every, speed=options.speed)
    return 0


def _run(scenario: Scenario, port: PrintingPort, *, every_s: float, speed: float) -> None:
    """Print a line each `every_s` of the candle's time, `speed` times as fast as a real one."""
    scenario.light()
    _say(f"lit, burns {scenario.burn_s / 3600.0:g} h")
    started_s = time.monotonic()
    while True:
        port.write_line(scenario.sample())
        scenario.advance(every_s)
        if scenario.candle.lit and scenario.elapsed_s >= scenario.burn_s:
            scenario.extinguish()
            _say("out, cooling")
        due_s = started_s + scenario.elapsed_s / speed
        time.sleep(max(0.0, due_s - time.monotonic()))


def _scenario(options: argparse.Namespace) -> Scenario:
    if options.wick is None:
        return SCENARIOS[options.scenario](options.seed)
    candle = Candle(WICKS[options.wick], seed=options.seed)
    return Scenario(options.wick, candle=candle, seed=options.seed)


def _positive(text: str) -> float:
    value = float(text)
    if not 0.0 < value < math.inf:
        raise argparse.ArgumentTypeError("must be a number above 0")
    return value


def _parser() -> argparse.ArgumentParser:
    parser = argparse.ArgumentParser(prog="python -m simulators", description=__doc__)
    parser.add_argument(
        "--link", type=Path, required=True, help="path under which the port appears"
    )
    which = parser.add_mutually_exclusive_group()
    which.add_argument("--scenario", choices=sorted(SCENARIOS), default="first-light")
    which.add_argument("--wick", choices=sorted(WICKS), help="a wick on the axis, in a plain room")
    parser.add_argument("--format", choices=("csv", "json", "pairs"), default="csv")
    parser.add_argument("--every", type=_positive, default=1.0, help="seconds between lines")
    parser.add_argument("--speed", type=_positive, default=1.0, help="1: as a real candle")
    parser.add_argument("--seed", type=int, default=0)
    return parser


def _say(text: str) -> None:
    sys.stdout.write(text + "\n")
    sys.stdout.flush()


if __name__ == "__main__":
    sys.exit(main())
