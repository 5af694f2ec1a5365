"""[pure] Which lines the phone is spared for now; page, record and alarm topic have them all.

Common remedies against alarm floods (ISA-18.2 and EEMUA 191, from memory; both are paid): what a
line covered already comes with its repeat, what comes and goes is announced as that, once, and
repeats that nobody answers come further apart. Never held back: the first warning or danger of a
burn, a graver one, a clearly hotter place, and an emergency.
"""

from collections.abc import Iterable, Sequence
from dataclasses import dataclass, replace
from enum import StrEnum

from logger.alarms.lifecycle import (
    OVER,
    REMIND_WITH_S,
    Alarm,
    AlarmEvent,
    AlarmEventKind,
    AlarmState,
    Finding,
    Priority,
)
from logger.alarms.wall import WALL_GAP_K
from logger.quantities import Rule

COVERING = (Rule.WALL_FORECAST, Rule.WALL_ALERT, Rule.WALL_LIMIT)
"""Each is covered by itself, or one further on, at another place of the same burn."""

_QUIET = frozenset({Rule.SILENT, Rule.DELIVERY})  # a loose plug, a broker out of reach
MAY_COME_AND_GO = _QUIET | {Rule.SENSOR_FAULT, Rule.WALL_LIMIT}
LATELY_S = 900.0  # raised again so soon after it was over, it comes and goes (our choice)

OFTEN = 3  # repeats; of what nobody has answered by then ...
THEN_EVERY_S = 600.0  # ... the phone hears this often (both our choice)


def hotter(finding: Finding, value_c: float | None) -> bool:
    """Whether a wall is beyond `value_c` by more than noise and draughts make of it."""
    if finding.rule not in COVERING or finding.value is None or value_c is None:
        return False
    return finding.value > value_c + WALL_GAP_K


def _of(alarm: Alarm) -> tuple[str | None, ...]:
    """What comes and goes: the walls of a vessel as one, else the alarm; within its burn."""
    rule = alarm.finding.rule
    return alarm.burn, *((rule, alarm.finding.station) if rule in COVERING else (alarm.key,))


def _stepped_down(graver: Alarm, event: AlarmEvent) -> bool:
    """Whether a place is announced to be below its limit again, and `event` is the alert there."""
    same = graver.finding.channel == event.alarm.finding.channel
    return same and not graver.stands and graver.since_s == event.time_s


class Telling(StrEnum):
    """How a line is announced."""

    AT_ONCE = "at once"
    COMES_AND_GOES = "comes and goes"  # at once, and for the last time unless it lasts
    BELL = "bell"  # at the bench only, and by program where the phone is out of reach
    HELD = "held"  # by its reminder, if it still stands then


@dataclass(frozen=True, slots=True)
class _Came:
    """An alarm that was told, and came back."""

    times: int
    last_s: float  # raised, or over
    rank: int


class Holding:
    """What was told of late, and what was held back."""

    def __init__(self) -> None:
        self._came: dict[tuple[str | None, ...], _Came] = {}
        self._held: set[str] = set()  # keys of alarms nobody was told of
        self._hottest: dict[tuple[str, str | None], float] = {}  # told of a rule in a burn
        self._called_s: dict[tuple[str | None, Priority], float] = {}  # to a station, by phone

    def tell(self, line: Sequence[AlarmEvent], alarms: Iterable[Alarm]) -> Telling:
        """How to tell of `line`; takes it that it is then told so. `alarms` are as they stand."""
        how = self._judge(line, [*alarms])
        keys = {event.alarm.key for event in line}
        if how in (Telling.HELD, Telling.BELL):
            self._held |= {one.alarm.key for one in line if one.what != AlarmEventKind.REMINDED}
            return how
        self._held -= keys
        for event in line:
            station, priority = event.alarm.finding.station, event.alarm.finding.priority
            self._called_s[station, priority] = event.time_s
            told = event.alarm.finding.rule, event.alarm.burn
            value = event.alarm.finding.value
            if value is not None:
                self._hottest[told] = max(value, self._hottest.get(told, value))
        return how

    def was_told(self, alarm: Alarm) -> bool:
        """Whether a person was told that `alarm` was raised."""
        return alarm.key not in self._held

    def note(self, event: AlarmEvent) -> None:
        """Note that an alarm is over, or that a person has seen it: of a wall the next is news."""
        alarm, key = event.alarm, _of(event.alarm)
        if event.what in OVER and key in self._came:
            self._came[key] = replace(self._came[key], last_s=event.time_s)
        elif event.what == AlarmEventKind.ACKNOWLEDGED and alarm.finding.rule in COVERING:
            self._came.pop(key, None)

    def _judge(self, line: Sequence[AlarmEvent], alarms: Sequence[Alarm]) -> Telling:
        if all(self._was_often_repeated(event) for event in line):
            return Telling.BELL
        if any(event.what != AlarmEventKind.RAISED for event in line):
            return Telling.AT_ONCE
        if all(self._is_covered(event, line, alarms) for event in line):
            return Telling.HELD
        came = {_of(event.alarm): self._count(event) for event in line}
        self._came |= came
        times = min(one.times for one in came.values())
        if times > 2:
            quiet = all(event.alarm.finding.rule in _QUIET for event in line)
            return Telling.HELD if quiet else Telling.BELL
        return Telling.COMES_AND_GOES if times == 2 else Telling.AT_ONCE

    def _was_often_repeated(self, event: AlarmEvent) -> bool:
        """Whether it is one more repeat, soon after a line of the station that was as grave."""
        finding = event.alarm.finding
        if (
            event.what != AlarmEventKind.REMINDED
            or event.alarm.reminders <= OFTEN
            or finding.priority is Priority.DANGER
            or self._is_hotter(event)
        ):
            return False
        called_s = max(
            self._called_s.get((finding.station, one), 0.0)
            for one in Priority
            if one.rank >= finding.priority.rank
        )
        return event.time_s - called_s < THEN_EVERY_S - REMIND_WITH_S

    def _is_hotter(self, event: AlarmEvent) -> bool:
        """Than what was told of its rule in its burn."""
        told = event.alarm.finding.rule, event.alarm.burn
        return hotter(event.alarm.finding, self._hottest.get(told))

    def _count(self, event: AlarmEvent) -> _Came:
        """How often it has come of late, this time with it."""
        rank, last = event.alarm.finding.priority.rank, self._came.get(_of(event.alarm))
        again = (
            event.alarm.finding.rule in MAY_COME_AND_GO
            and last is not None
            and event.time_s - last.last_s < LATELY_S
            and rank <= last.rank
            and not self._is_hotter(event)
        )
        return _Came(last.times + 1 if last and again else 1, event.time_s, rank)

    def _is_covered(
        self, event: AlarmEvent, line: Sequence[AlarmEvent], alarms: Iterable[Alarm]
    ) -> bool:
        """By the line of another place: its repeat names this one too, or it is a caution only."""
        rule = event.alarm.finding.rule
        if rule not in COVERING:
            return False
        beyond = self._is_hotter(event)
        graver = COVERING[COVERING.index(rule) + 1 :]
        states = {AlarmState.UNACKNOWLEDGED}
        if event.alarm.finding.priority.rank <= Priority.CAUTION.rank:
            states.add(AlarmState.ACKNOWLEDGED)
        ours = {one.alarm.key for one in line}
        return any(
            (one.finding.rule in graver or (one.finding.rule == rule and not beyond))
            and one.finding.station == event.alarm.finding.station
            and one.burn == event.alarm.burn
            and (one.state in states or _stepped_down(one, event))
            and one.key not in ours
            and self.was_told(one)
            for one in alarms
        )
