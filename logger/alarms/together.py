"""Which alarms of one moment have one cause: they are told in one line, and are one errand."""

from collections.abc import Callable, Iterable
from typing import TypeVar

from logger.alarms.lifecycle import Alarm, AlarmState, Finding
from logger.quantities import Rule

T = TypeVar("T")

_OPEN = (AlarmState.UNACKNOWLEDGED, AlarmState.RETURNED_UNACKNOWLEDGED)


def alike(one: Finding, other: Finding) -> bool:
    """Whether two findings of one moment make one line.

    A pulled plug silences places of several stations. Otherwise one rule at one station.
    """
    return one.rule == other.rule and (one.rule == Rule.SILENT or one.station == other.station)


def repeated_alike(one: Finding, other: Finding) -> bool:
    """Whether two findings are repeated in one line: all of a station are."""
    return one.station == other.station or alike(one, other)


def lines(
    items: Iterable[T],
    finding_of: Callable[[T], Finding],
    alike: Callable[[Finding, Finding], bool] = alike,
) -> list[list[T]]:
    """`items` of one moment, in their order, by the line that each belongs to."""
    found: list[list[T]] = []
    for item in items:
        apart: list[list[T]] = []
        line: list[T] = []
        for one in found:
            same = any(alike(finding_of(item), finding_of(other)) for other in one)
            if same:
                line.extend(one)
            else:
                apart.append(one)
        found = [*apart, [*line, item]]
    return found


def told_with(alarm: Alarm, alarms: Iterable[Alarm]) -> list[Alarm]:
    """The other alarms that were raised in the same line as `alarm`."""
    at_once = [one for one in alarms if one.raised_s == alarm.raised_s and one.key != alarm.key]
    line = lines([alarm, *at_once], lambda one: one.finding)
    return [one for one in next(each for each in line if alarm in each) if one is not alarm]


def open_with(alarm: Alarm, alarms: Iterable[Alarm]) -> list[Alarm]:
    """Those of them that a person has yet to acknowledge."""
    return [other for other in told_with(alarm, alarms) if other.state in _OPEN]
