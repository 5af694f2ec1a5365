"""What happened in a burn, told in lines: alarms from raising to end, and what people did.

It is read from the messages of alarm and burn events, as they are stored and published.
"""

from collections.abc import Iterable, Iterator
from dataclasses import dataclass, replace
from itertools import groupby

from logger.alarms.lifecycle import Priority
from logger.alarms.words import Words
from logger.burn.entries import Entry, InSight, Lit, ManualReading
from logger.burn.evidence import Gap
from logger.burn.model import Burn
from logger.conditioning import manual
from logger.messages import Message
from logger.quantities import DEGC, Quantity, Unit
from logger.timestamps import parse_rfc3339

RAISED = frozenset({"raised", "raised-again"})

_ENDED = frozenset({"returned", "cleared"})
_WATCH = frozenset({"who-watches", "in-sight"})
_LATE_S = 60.0  # written down this long after it happened is worth a word (our choice)


@dataclass(frozen=True, slots=True, kw_only=True)
class AlarmStory:
    """One alarm from its raising to its end, with what people did."""

    number: int  # as marked on the curve
    rule: str
    channel: str | None
    priority: Priority
    text: str
    raised_s: float
    reminders: int = 0
    acknowledged_s: float | None = None
    acknowledged_by: str = ""
    acknowledged_where: str = ""
    ended_s: float | None = None


@dataclass(frozen=True, slots=True, kw_only=True)
class DiaryLine:
    """Something a person did or saw; `entered_s` where it was written down later."""

    at_s: float
    text: str
    by: str = ""
    entered_s: float | None = None


def silences(events: Iterable[Message], to_s: float) -> dict[str, tuple[Gap, ...]]:
    """When each channel was silent, by its alarms in order of time; one still silent is to `to_s`.

    Silence began the allowed time before the alarm.
    """
    return _spans("silent", events, to_s)


def faults(events: Iterable[Message], to_s: float) -> dict[str, tuple[Gap, ...]]:
    """When each channel's sensor was at fault: from where it began, which was told later."""
    return _spans("sensor-fault", events, to_s)


def _spans(rule: str, events: Iterable[Message], to_s: float) -> dict[str, tuple[Gap, ...]]:
    found: dict[str, list[Gap]] = {}
    since_s: dict[str, float] = {}
    for event in events:
        channel = event.get("channel")
        if event.get("rule") != rule or channel is None:
            continue
        if event["event"] in RAISED:
            before_s = event["limit"] or 0.0 if rule == "silent" else 0.0
            since_s.setdefault(channel, parse_rfc3339(event["since"]) - before_s)
        elif event["event"] in _ENDED and channel in since_s:
            gap = Gap(from_s=since_s.pop(channel), to_s=parse_rfc3339(event["time"]))
            found.setdefault(channel, []).append(gap)
    for channel, began_s in since_s.items():
        found.setdefault(channel, []).append(Gap(from_s=began_s, to_s=to_s))
    return {channel: tuple(spans) for channel, spans in found.items()}


def stories(events: Iterable[Message]) -> tuple[AlarmStory, ...]:
    """Alarm events, in order of time, told as one line for each time an alarm was raised."""
    told: list[AlarmStory] = []
    latest: dict[str, int] = {}  # index in `told` by alarm
    for event in events:
        if event["kind"] != "alarm":
            continue
        key, at_s = event["alarm"], parse_rfc3339(event["time"])
        if event["event"] in RAISED:
            latest[key] = len(told)
            told.append(
                AlarmStory(
                    number=len(told) + 1,
                    rule=event["rule"],
                    channel=event["channel"],
                    priority=Priority(event["priority"]),
                    text=event["text"],
                    raised_s=at_s,
                )
            )
        elif key in latest:
            told[latest[key]] = _after(told[latest[key]], event, at_s)
    return tuple(told)


def together(told: Iterable[AlarmStory]) -> Iterator[tuple[AlarmStory, ...]]:
    """Alarms of one rule that came and went at the same moments, as when a plug is pulled."""
    for _, same in groupby(told, key=lambda one: (one.rule, one.raised_s, _fate(one))):
        yield tuple(same)


def _fate(story: AlarmStory) -> tuple[object, ...]:
    return (story.priority, story.ended_s, story.acknowledged_s, story.reminders)


def _after(story: AlarmStory, event: Message, at_s: float) -> AlarmStory:
    match event["event"]:
        case "reminded":
            return replace(story, reminders=story.reminders + 1)
        case "acknowledged":
            return replace(
                story,
                acknowledged_s=at_s,
                acknowledged_by=event["acknowledged_by"] or "",
                acknowledged_where=event["acknowledged_where"] or "",
            )
        case "returned" | "cleared":
            return replace(story, ended_s=at_s)
        case _:
            return story


def diary(
    events: Iterable[Message], entries: Iterable[Entry], unit: Unit = DEGC
) -> tuple[DiaryLine, ...]:
    """What people did and saw, in order of when it happened; typed readings in `unit`.

    The questions who watches, and their answers, are one line.
    """
    told = list(events)
    lines = [
        _line(
            at_s=parse_rfc3339(event["since"]),
            entered_s=parse_rfc3339(event["time"]),
            text=event["text"],
            by=event["by"] or "",
        )
        for event in told
        if event["kind"] == "burn" and event["event"] not in _WATCH
    ]
    lines += _watch(event for event in told if event["kind"] == "burn")
    for entry in entries:
        if isinstance(entry, ManualReading) and entry.quantity is Quantity.TEMPERATURE:
            used, aside = manual.sorted_out(entry.channel, entry.values, entry.reflected_c)
            text = f"{entry.station}: read by hand, {entry.place}: {_figures(used, unit)}"
            if aside:
                text += f"; set aside, far above the rest: {_figures(aside, unit)}"
            line = _line(at_s=entry.at_s, entered_s=entry.entered_s, text=text, by=entry.by)
            lines.append(line)
    return tuple(sorted(lines, key=lambda line: line.at_s))


def _watch(events: Iterable[Message]) -> Iterator[DiaryLine]:
    """One line for all the times at which it was asked and said who has the candle in sight."""
    found = [event for event in events if event["event"] in _WATCH]
    if not found:
        return
    said = [event for event in found if event["event"] == "in-sight"]
    asked = len(found) - len(said)
    heard = f"answered {_times(len(said))}" if said else "never answered"
    text = f"{found[0]['station']}: who has it in sight: asked {_times(asked)}, {heard}"
    names = dict.fromkeys(event["by"] for event in said if event["by"])
    first_s = parse_rfc3339(found[0]["since"])
    yield DiaryLine(at_s=first_s, text=text, by=", ".join(names))


def _times(count: int) -> str:
    return {0: "never", 1: "once", 2: "twice"}.get(count, f"{count} times")


def _figures(values: Iterable[float], unit: Unit) -> str:
    symbol = Words(temperature=unit).symbol
    return f"{', '.join(f'{unit.outside(value):.1f}' for value in values)} {symbol}"


def watchers(burn: Burn, entries: Iterable[Entry]) -> tuple[str, ...]:
    """Everyone who said they had the candle in sight, first named first."""
    names = [
        entry.watched_by if isinstance(entry, Lit) else entry.by
        for entry in sorted(entries, key=lambda entry: entry.at_s)
        if isinstance(entry, Lit | InSight)
    ]
    return tuple(dict.fromkeys(name for name in (*names, burn.watched_by) if name))


def checks(entries: Iterable[Entry]) -> tuple[str, ...] | None:
    """What was confirmed before lighting."""
    return next((entry.checks for entry in entries if isinstance(entry, Lit)), None)


def _line(*, at_s: float, entered_s: float, text: str, by: str) -> DiaryLine:
    late = entered_s - at_s >= _LATE_S
    return DiaryLine(at_s=at_s, text=text, by=by, entered_s=entered_s if late else None)
