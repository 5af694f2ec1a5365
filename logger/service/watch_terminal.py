"""The bench on a terminal: drawn over itself, or added line by line where that cannot be."""

import os
import shutil
import sys
from collections.abc import Iterable
from typing import TextIO

from logger.service.watch_text import WIDTH, ScreenLine, calls, news_of, screen
from logger.service.watching import WatchMoment, moments
from logger.settings import Settings

AGAIN_S = 60.0  # so often into a file or pipe though nothing has changed (our choice)

# ECMA-48: cursor home, erase to the end of the line or of the screen, negative image
_HOME, _REST, _BELOW, _LOUD, _PLAIN = "\x1b[H", "\x1b[K", "\x1b[J", "\x1b[7m", "\x1b[0m"


def watch(settings: Settings, *, once: bool = False) -> None:
    """Show the bench until stopped. Raises ServiceUnreachable where no service runs at first."""
    out = sys.stdout
    if hasattr(out, "reconfigure"):
        out.reconfigure(errors="replace")  # over ssh a terminal may know no degree sign
    found = moments(settings)
    if once:
        moment = next(one for one in found if one.shown is not None)
        out.write(_lines(screen(moment, _width())))
    elif out.isatty() and os.environ.get("TERM", "dumb") != "dumb":
        _draw(found, out)
    else:
        _append(found, out)


def _draw(found: Iterable[WatchMoment], out: TextIO) -> None:
    loud = not os.environ.get("NO_COLOR")
    heard: frozenset[str] = frozenset()
    before = ""
    out.write(_HOME + _BELOW)
    for moment in found:
        rows = shutil.get_terminal_size().lines - 1
        lines = screen(moment, _width())
        if len(lines) > rows:
            left_out = len(lines) - rows + 1
            lines = [*lines[: rows - 1], ScreenLine(f"{left_out} more lines: a taller window")]
        drawn = "".join(
            f"{_LOUD if one.loud and loud else ''}{one.text}{_PLAIN if one.loud and loud else ''}"
            f"{_REST}\n"
            for one in lines
        )
        called = calls(moment)
        if drawn != before or called - heard:
            bell = "\a" if called - heard else ""
            out.write(f"{_HOME}{drawn}{_BELOW}{bell}")
            out.flush()
        heard, before = called, drawn


def _append(found: Iterable[WatchMoment], out: TextIO) -> None:
    news, last_s = "", 0.0
    for moment in found:
        if moment.shown is None:
            continue
        if (latest := news_of(moment)) != news or moment.at_s - last_s >= AGAIN_S:
            out.write(_lines(screen(moment, _width())) + "\n")
            out.flush()
            news, last_s = latest, moment.at_s


def _lines(lines: Iterable[ScreenLine]) -> str:
    return "".join(f"{one.text}\n" for one in lines)


def _width() -> int:
    return min(shutil.get_terminal_size((WIDTH, 24)).columns, 100)
