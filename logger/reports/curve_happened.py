"""[pure] What happened in a burn, for a chart: alarms, looks, photos, entries, in order of time."""

from collections.abc import Iterable, Iterator, Sequence
from dataclasses import dataclass
from itertools import groupby
from typing import Literal

from typing_extensions import TypedDict

from logger.reports.burn_history import AlarmStory, DiaryLine
from logger.reports.looks import LookLine

MarkKind = Literal["alarm", "look", "missed", "photo", "entry", "burn"]

MOST_ALARMS = 100  # one by one: a chart has room for some 70 signs (our choice)


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
    found = [*photos, *_alarm_marks(list(alarms))]
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


def _alarm_marks(alarms: Sequence[AlarmStory]) -> Iterator[CurveMark]:
    """Each alarm; where they are too many, those as one that a chart cannot show apart."""
    first_s = min((one.raised_s for one in alarms), default=0.0)
    last_s = max((one.raised_s for one in alarms), default=0.0)
    apart_s = (last_s - first_s) / MOST_ALARMS or 1.0

    def stretch(one: AlarmStory) -> float:
        return (one.raised_s - first_s) // apart_s if len(alarms) > MOST_ALARMS else one.number

    for _, found in groupby(sorted(alarms, key=lambda one: one.raised_s), key=stretch):
        same = list(found)
        gravest = max(same, key=lambda one: one.priority.rank)
        text, sign = gravest.text, f"{gravest.number}"
        if len(same) > 1:
            text = f"{len(same)} alarms too close together to show apart; the gravest: {text}"
            sign = f"{same[0].number}-{same[-1].number}"
        ends_s = [one.ended_s for one in same if one.ended_s is not None]
        yield CurveMark(
            at_s=same[0].raised_s,
            to_s=max(ends_s) if len(ends_s) == len(same) else None,
            kind="alarm",
            text=text,
            priority=gravest.priority.value,
            sign=sign,
        )


def _said(line: DiaryLine) -> str:
    return f"{line.text}, {line.by}" if line.by else line.text
