"""[pure] Which lines the phone is spared for now; page, record and alarm topic have them all.

Common remedies against alarm floods (ISA-18.2 and EEMUA 191, from memory; both are paid): what a
line that was told covers is told with its repeat, and what comes and goes is told as that, once.
Never held back: the first warning or danger of a burn, a graver one, and a clearly hotter place.
"""

from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from enum import StrEnum

from logger.alarms.lifecycle import (
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

MAY_COME_AND_GO = frozenset({Rule.SILENT, Rule.DELIVERY})  # a loose plug, a broker out of reach
LATELY_S = 900.0  # raised again sooner than this, it comes and goes (our choice)


def hotter(finding: Finding, value_c: float | None) -> bool:
    """Whether a wall is beyond `value_c` by more than noise and draughts make of it."""
    if finding.rule not in COVERING or finding.value is None or value_c is None:
        return False
    return finding.value > value_c + WALL_GAP_K


class Telling(StrEnum):
    """How a line is told."""

    AT_ONCE = "at once"
    COMES_AND_GOES = "comes and goes"  # at once, and for the last time unless it lasts
    HELD = "held"  # by its reminder, if it still stands then


@dataclass(frozen=True, slots=True)
class _Came:
    """An alarm that was raised, and came back."""

    times: int
    last_s: float
    rank: int


class Holding:
    """What was told of late, and what was held back."""

    def __init__(self) -> None:
        self._came: dict[tuple[str, str | None], _Came] = {}  # by key and burn
        self._held: set[str] = set()  # keys of alarms nobody was told of
        self._hottest: dict[tuple[str, str | None], float] = {}  # told of a rule in a burn

    def tell(self, line: Sequence[AlarmEvent], alarms: Iterable[Alarm]) -> Telling:
        """How to tell of `line`; takes it that it is then told so. `alarms` are as they stand."""
        how = self._judge(line, [*alarms])
        keys = {event.alarm.key for event in line}
        if how is Telling.HELD:
            self._held |= keys
            return how
        self._held -= keys
        for event in line:
            told = event.alarm.finding.rule, event.alarm.burn
            value = event.alarm.finding.value
            if value is not None:
                self._hottest[told] = max(value, self._hottest.get(told, value))
        return how

    def was_told(self, alarm: Alarm) -> bool:
        """Whether a person was told that `alarm` was raised."""
        return alarm.key not in self._held

    def _judge(self, line: Sequence[AlarmEvent], alarms: Sequence[Alarm]) -> Telling:
        if any(event.what != AlarmEventKind.RAISED for event in line):
            return Telling.AT_ONCE
        times = min(self._count(event) for event in line)
        if times > 2 or all(self._is_covered(event, line, alarms) for event in line):
            return Telling.HELD
        return Telling.COMES_AND_GOES if times == 2 else Telling.AT_ONCE

    def _count(self, event: AlarmEvent) -> int:
        """How often it has come of late, this time with it."""
        alarm = event.alarm
        if alarm.finding.rule not in MAY_COME_AND_GO:
            return 1
        rank, last = alarm.finding.priority.rank, self._came.get((alarm.key, alarm.burn))
        again = last and event.time_s - last.last_s < LATELY_S and rank <= last.rank
        came = _Came(last.times + 1 if last and again else 1, event.time_s, rank)
        self._came[alarm.key, alarm.burn] = came
        return came.times

    def _is_covered(
        self, event: AlarmEvent, line: Sequence[AlarmEvent], alarms: Iterable[Alarm]
    ) -> bool:
        """By the line of another place: its repeat names this one too, or it is a caution only."""
        rule = event.alarm.finding.rule
        if rule not in COVERING:
            return False
        beyond = hotter(event.alarm.finding, self._hottest.get((rule, event.alarm.burn)))
        graver = COVERING[COVERING.index(rule) + 1 :]
        states = {AlarmState.UNACKNOWLEDGED}
        if event.alarm.finding.priority.rank <= Priority.CAUTION.rank:
            states.add(AlarmState.ACKNOWLEDGED)
        ours = {one.alarm.key for one in line}
        return any(
            (one.finding.rule in graver or (one.finding.rule == rule and not beyond))
            and one.finding.station == event.alarm.finding.station
            and one.burn == event.alarm.burn
            and one.state in states
            and one.key not in ours
            and self.was_told(one)
            for one in alarms
        )
