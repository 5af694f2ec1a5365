"""Lines for the terminal."""

import json
from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from logger.service.check_items import Report

FOUND_FAULTS = 4


def print_report(report: "Report", *, as_json: bool) -> int:
    """What was tried and what came of it; returns the exit code."""
    from logger.service.check_text import lines

    print(json.dumps(report.message()) if as_json else "\n".join(lines(report)))
    return 0 if report.ok else FOUND_FAULTS


def local(at: str) -> str:
    """A time of a message where this machine stands, as "2031-05-04 16:33"."""
    from logger.timestamps import local_minute, parse_rfc3339

    return local_minute(parse_rfc3339(at))


def print_line(text: str) -> None:
    """Print `text` on one line, at once; nothing in it steers the terminal."""
    from logger.messages import one_line  # brings in what every message is made of

    print(one_line(text), flush=True)
