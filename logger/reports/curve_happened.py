"""[pure] What happened in a burn, for a chart: alarms, looks, photos, entries, in order of time."""

from collections.abc import Iterable
from dataclasses import dataclass
from typing import Literal

from typing_extensions import TypedDict

from logger.reports.burn_history import AlarmStory, DiaryLine
from logger.reports.looks import LookLine

MarkKind = Literal["alarm", "look", "missed", "photo", "entry", "burn"]


@dataclass(frozen=True, slots=True, kw_only=True)
class CurveMark:
    """Something that happened at a moment, or that lasted."""

    at_s: float
    kind: MarkKind
    text: str
    to_s: float | None = None
    priority: str = ""  # of an alarm
    sign: str = ""  # what stands on the curve: an alarm's number
    page: str = ""  # address of a photo, or of a burn


class CurveMarkMessage(TypedDict):
    """Something that happened."""

    at_s: float
    to_s: float | None
    kind: MarkKind
    priority: str
    sign: str
    text: str
    page: str


def curve_marks(
    alarms: Iterable[AlarmStory],
    looks: Iterable[LookLine],
    diary: Iterable[DiaryLine],
    photos: Iterable[CurveMark],
    *,
    lit_s: float,
) -> list[CurveMark]:
    """What happened in a burn, in order of time."""
    found = list(photos)
    found += (
        CurveMark(
            at_s=one.raised_s,
            to_s=one.ended_s,
            kind="alarm",
            text=one.text,
            priority=one.priority.value,
            sign=str(one.number),
        )
        for one in alarms
    )
    for look in looks:
        at_s = lit_s + look.elapsed_s if look.at_s is None else look.at_s
        text = f"mark {look.mark}: {look.text}" if look.mark else f"looked at: {look.text}"
        found.append(CurveMark(at_s=at_s, kind="look" if look.at_s else "missed", text=text))
    found += (CurveMark(at_s=one.at_s, kind="entry", text=_said(one)) for one in diary)
    return sorted(found, key=lambda one: one.at_s)


def marks_messages(marks: Iterable[CurveMark]) -> list[CurveMarkMessage]:
    """As JSON."""
    return [
        {
            "at_s": one.at_s,
            "to_s": one.to_s,
            "kind": one.kind,
            "priority": one.priority,
            "sign": one.sign,
            "text": one.text,
            "page": one.page,
        }
        for one in marks
    ]


def _said(line: DiaryLine) -> str:
    return f"{line.text}, {line.by}" if line.by else line.text
