"""What happened in a burn, told in lines: alarms from raising to end, and what people did."""

from collections.abc import Iterable, Iterator
from dataclasses import dataclass, replace
from itertools import groupby

from logger.alarms.lifecycle import OVER, RAISED, AlarmEvent, AlarmEventKind, Priority
from logger.burn.entries import Entry, InSight, Lit, ManualReading
from logger.burn.evidence import Gap
from logger.burn.model import Burn, BurnEvent, BurnEventKind
from logger.conditioning import manual
from logger.pipeline import Event
from logger.quantities import Quantity, Rule
from logger.words import Words

_WATCH = frozenset({BurnEventKind.WHO_WATCHES, BurnEventKind.IN_SIGHT})
_LATE_S = 60.0  # written down this long after it happened is worth a word (our choice)


@dataclass(frozen=True, slots=True, kw_only=True)
class AlarmStory:
    """One alarm from its raising to its end, with what people did."""

    number: int  # as marked on the curve
    rule: Rule
    channel: str | None
    priority: Priority
    text: str
    raised_s: float
    reminders: int = 0
    acknowledged_s: float | None = None
    acknowledged_by: str = ""
    acknowledged_where: str = ""
    ended_s: float | None = None
    superseded: bool = False  # it ended because a graver one told of the same place


@dataclass(frozen=True, slots=True, kw_only=True)
class DiaryLine:
    """Something a person did or saw; `entered_s` where it was written down later."""

    at_s: float
    text: str
    by: str = ""
    entered_s: float | None = None


def silences(events: Iterable[Event], to_s: float) -> dict[str, tuple[Gap, ...]]:
    """When each channel was silent, by its alarms in order of time; one still silent is to `to_s`.

    Silence began the allowed time before the alarm.
    """
    return _spans(Rule.SILENT, events, to_s)


def faults(events: Iterable[Event], to_s: float) -> dict[str, tuple[Gap, ...]]:
    """When each channel's sensor was at fault: from where it began, which was told later."""
    return _spans(Rule.SENSOR_FAULT, events, to_s)


def _spans(rule: Rule, events: Iterable[Event], to_s: float) -> dict[str, tuple[Gap, ...]]:
    found: dict[str, list[Gap]] = {}
    since_s: dict[str, float] = {}
    for event in events:
        if not isinstance(event, AlarmEvent) or event.alarm.finding.rule != rule:
            continue
        channel = event.alarm.finding.channel
        if channel is None:
            continue
        if event.what in RAISED:
            before_s = event.alarm.finding.limit or 0.0 if rule == Rule.SILENT else 0.0
            since_s.setdefault(channel, event.alarm.since_s - before_s)
        elif event.what in OVER and channel in since_s:
            gap = Gap(from_s=since_s.pop(channel), to_s=event.time_s)
            found.setdefault(channel, []).append(gap)
    for channel, began_s in since_s.items():
        found.setdefault(channel, []).append(Gap(from_s=began_s, to_s=to_s))
    return {channel: tuple(spans) for channel, spans in found.items()}


def stories(events: Iterable[Event]) -> tuple[AlarmStory, ...]:
    """Alarm events, in order of time, told as one line for each time an alarm was raised."""
    told: list[AlarmStory] = []
    latest: dict[str, int] = {}  # index in `told` by alarm
    for event in events:
        if not isinstance(event, AlarmEvent):
            continue
        key, finding = event.alarm.key, event.alarm.finding
        if event.what in RAISED:
            latest[key] = len(told)
            told.append(
                AlarmStory(
                    number=len(told) + 1,
                    rule=finding.rule,
                    channel=finding.channel,
                    priority=finding.priority,
                    text=finding.text,
                    raised_s=event.time_s,
                )
            )
        elif key in latest:
            told[latest[key]] = _after(told[latest[key]], event)
    return tuple(told)


def together(told: Iterable[AlarmStory]) -> Iterator[tuple[AlarmStory, ...]]:
    """Alarms of one rule that came and went at the same moments, as when a plug is pulled."""
    for _, same in groupby(told, key=lambda one: (one.rule, one.raised_s, _fate(one))):
        yield tuple(same)


def _fate(story: AlarmStory) -> tuple[object, ...]:
    return (story.priority, story.ended_s, story.acknowledged_s, story.reminders)


def _after(story: AlarmStory, event: AlarmEvent) -> AlarmStory:
    match event.what:
        case AlarmEventKind.REMINDED:
            return replace(story, reminders=story.reminders + 1)
        case AlarmEventKind.ACKNOWLEDGED:
            return replace(
                story,
                acknowledged_s=event.time_s,
                acknowledged_by=event.alarm.acknowledged_by,
                acknowledged_where=event.alarm.acknowledged_where,
            )
        case AlarmEventKind.RETURNED | AlarmEventKind.CLEARED | AlarmEventKind.SUPERSEDED:
            superseded = event.what is AlarmEventKind.SUPERSEDED
            return replace(story, ended_s=event.time_s, superseded=superseded)
        case _:
            return story


def diary(events: Iterable[Event], entries: Iterable[Entry], words: Words) -> tuple[DiaryLine, ...]:
    """What people did and saw, in order of when it happened; readings by hand as `words` has it.

    The questions who watches, and their answers, are one line; looks have a table of their own.
    """
    told = list(events)
    lines = [
        _line(at_s=event.since_s, entered_s=event.time_s, text=event.text, by=event.by)
        for event in told
        if isinstance(event, BurnEvent) and event.event not in (*_WATCH, BurnEventKind.LOOKED)
    ]
    lines += _watch(event for event in told if isinstance(event, BurnEvent))
    for entry in entries:
        if isinstance(entry, ManualReading) and entry.quantity is Quantity.TEMPERATURE:
            used, aside = manual.sorted_out(entry.channel, entry.values, entry.reflected_c)
            text = f"{entry.station}: read by hand, {entry.place}: {words.temperatures(used)}"
            if aside:
                text += f"; set aside, far above the rest: {words.temperatures(aside)}"
            line = _line(at_s=entry.at_s, entered_s=entry.entered_s, text=text, by=entry.by)
            lines.append(line)
    return tuple(sorted(lines, key=lambda line: line.at_s))


def _watch(events: Iterable[BurnEvent]) -> Iterator[DiaryLine]:
    """One line for all the times at which it was asked and said who has the candle in sight."""
    found = [event for event in events if event.event in _WATCH]
    if not found:
        return
    said = [event for event in found if event.event == BurnEventKind.IN_SIGHT]
    asked = max(len(found) - len(said), len(said))  # what was answered counts as asked
    heard = f"answered {times(len(said))}" if said else "never answered"
    text = f"{found[0].station}: who has it in sight: asked {times(asked)}, {heard}"
    names = dict.fromkeys(event.by for event in said if event.by)
    yield DiaryLine(at_s=found[0].since_s, text=text, by=", ".join(names))


def times(count: int) -> str:
    """How often, in words."""
    return {0: "never", 1: "once", 2: "twice"}.get(count, f"{count} times")


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
