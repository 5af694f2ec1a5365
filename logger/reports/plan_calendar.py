"""[pure] Lightings, marks and outs of a plan as an iCalendar file (RFC 5545)."""

from collections.abc import Iterator
from urllib.parse import quote

from logger.planning.bench_plan import BenchPlan
from logger.planning.maker_plan import Doing, Moment, moments
from logger.timestamps import rfc3339

LONGEST_OCTETS = 75  # of a line without its end (RFC 5545, 3.1)
_NAME = {Doing.LIGHT: "light", Doing.LOOK: "look", Doing.OUT: "out"}


def plan_calendar(plan: BenchPlan, *, bench: str, made_s: float, moment_s: float) -> str:
    """The file's text, each moment an event that lasts `moment_s`; the same plan, the same text."""
    lines = [
        "BEGIN:VCALENDAR",
        "VERSION:2.0",
        "PRODID:-//wickbench//bench plan//EN",
        "CALSCALE:GREGORIAN",
        f"X-WR-CALNAME:{_text(f'Bench {bench}')}",
    ]
    for one in moments(plan.burns):
        lines += _event(one, bench, made_s, moment_s)
    lines.append("END:VCALENDAR")
    return "".join(f"{line}\r\n" for text in lines for line in _folded(text))


def _event(one: Moment, bench: str, made_s: float, moment_s: float) -> Iterator[str]:
    # Named by candle and burn, not by time: a calendar that takes a newer file moves what slipped.
    mark = "" if one.mark_s is None else f"-{one.mark_s:.0f}"
    name = f"{one.burn.trial}-{one.burn.tester or one.burn.station}-{one.burn.number}"
    yield "BEGIN:VEVENT"
    yield f"UID:{quote(f'{name}-{_NAME[one.doing]}{mark}', safe='')}@{bench}.wickbench"
    yield f"DTSTAMP:{_utc(made_s)}"
    yield f"DTSTART:{_utc(one.at_s)}"
    yield f"DTEND:{_utc(one.at_s + moment_s)}"
    yield f"SUMMARY:{_text(one.text[:1].upper() + one.text[1:])}"
    yield f"LOCATION:{_text(one.burn.station)}"
    if one.burn.why:
        yield f"DESCRIPTION:{_text(f'{one.burn.trial}: {one.burn.why}')}"
    yield "END:VEVENT"


def _utc(at_s: float) -> str:
    """Form 2 of a date with time (RFC 5545, 3.3.5): 20310504T090000Z."""
    return rfc3339(at_s, digits=0).replace("-", "").replace(":", "")


def _text(words: str) -> str:
    """A value of type TEXT (RFC 5545, 3.3.11)."""
    for sign in ("\\", ";", ","):
        words = words.replace(sign, f"\\{sign}")
    return words.replace("\r\n", "\\n").replace("\n", "\\n").replace("\r", "\\n")


def _folded(line: str) -> Iterator[str]:
    """`line` in pieces of at most 75 octets, none cut within a character (RFC 5545, 3.1)."""
    piece, octets = "", 0
    for char in line:
        size = len(char.encode())
        if octets + size > LONGEST_OCTETS:
            yield piece
            piece, octets = " ", 1
        piece, octets = piece + char, octets + size
    yield piece
