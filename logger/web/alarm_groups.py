"""[pure] Alarms as pages show them: in the order of what to do, those of one errand together."""

from collections.abc import Sequence
from dataclasses import dataclass

from logger.alarms.foresight import ahead
from logger.alarms.lifecycle import Alarm, AlarmState, Priority
from logger.announcements import NAMES, parts, then
from logger.quantities import Estimate, Quality, Rule
from logger.web.bench_service import BenchService
from logger.web.texts import gettext as _
from logger.words import Words

WALL = (Rule.WALL_ALERT, Rule.WALL_LIMIT)
PAST_S = 60.0  # what raised a wall's alarm so long ago is told as what was (our choice)


@dataclass(frozen=True, slots=True, kw_only=True)
class AlarmGroup:
    """Alarms of one rule in one state: a pulled plug silences many places and is one errand."""

    alarms: tuple[Alarm, ...]
    says: str  # of the first: what is so and what to do, or what was so a while ago
    now: str  # what is so at this moment, where that differs

    @property
    def first(self) -> Alarm:
        """The one that stands for all: the earliest."""
        return self.alarms[0]

    @property
    def key(self) -> str:
        """Names the group on the page."""
        finding = self.first.finding
        return f"{finding.rule} {finding.station} {finding.priority} {self.first.state}"

    @property
    def version(self) -> str:
        """Changes with anything that is shown but `now`."""
        return " ".join([*(f"{alarm.key}#{alarm.count}" for alarm in self.alarms), self.says])

    @property
    def name(self) -> str:
        """What it is about, in a few words."""
        return NAMES.get(self.first.finding.rule, self.first.finding.rule.replace("-", " "))

    @property
    def news(self) -> str:
        """Changes when it is raised anew: then it is announced again."""
        return f"{self.key} {self.first.raised_s}"

    def concerns(self, station: str) -> bool:
        """Whether it is of that station, or of the whole bench."""
        return self.first.finding.station in (station, None)

    @property
    def priority(self) -> Priority:
        """Of each of its alarms."""
        return self.first.finding.priority

    @property
    def open(self) -> bool:
        """Whether somebody must still acknowledge it."""
        return self.first.state is AlarmState.UNACKNOWLEDGED

    @property
    def may_be_shelved(self) -> bool:
        """Whether it may be set aside for a while."""
        return self.first.state in (AlarmState.UNACKNOWLEDGED, AlarmState.ACKNOWLEDGED) and (
            self.priority in (Priority.NOTICE, Priority.CAUTION)
        )

    @property
    def words(self) -> str:
        """The state as a person says it."""
        first = self.first
        if first.state is AlarmState.ACKNOWLEDGED:
            by, where = first.acknowledged_by, first.acknowledged_where
            said = _("acknowledged by %(name)s", name=by) if by else _("acknowledged")
            return f"{said} ({where})" if where else said
        return {
            AlarmState.UNACKNOWLEDGED: _("not acknowledged"),
            AlarmState.RETURNED_UNACKNOWLEDGED: _("over; not acknowledged"),
            AlarmState.SHELVED: _("set aside for a while"),
            AlarmState.NORMAL: _("over"),
        }[first.state]


def alarm_groups(bench: BenchService, here: str = "") -> list[AlarmGroup]:
    """Alarms that stand, in the order of what to do: what waits for a person, the gravest first;
    then what was acknowledged; then what was set aside. Of equal ones those of the station `here`
    come first. Stations are never grouped together.
    """
    alike: dict[tuple[object, ...], list[Alarm]] = {}
    for alarm in sorted(bench.hub.alarms.values(), key=lambda one: one.since_s):
        if alarm.active and alarm.state is not AlarmState.RETURNED_UNACKNOWLEDGED:
            finding = alarm.finding
            key = (finding.rule, finding.station, finding.priority, alarm.state)
            alike.setdefault(key, []).append(alarm)
    groups = [_group(bench, tuple(alarms)) for alarms in alike.values()]
    return sorted(
        groups,
        key=lambda one: (
            not one.open,
            one.first.state is AlarmState.SHELVED,
            -one.priority.rank,
            bool(here) and not one.concerns(here),
        ),
    )


def gravest(groups: Sequence[AlarmGroup]) -> AlarmGroup | None:
    """The warning or danger of this moment, whether acknowledged or not; None where none is."""
    grave = (one for one in groups if one.priority.rank >= Priority.WARNING.rank)
    return next(grave, None)


def _group(bench: BenchService, alarms: tuple[Alarm, ...]) -> AlarmGroup:
    first, now_s = alarms[0], bench.now_s()
    finding, says, now = first.finding, first.finding.text, ""
    channel = finding.channel or ""
    estimate = bench.hub.estimates.get(channel)
    if finding.rule == Rule.WALL_FORECAST:
        latest = bench.hub.forecasts.get(channel)
        newer = latest is not None and latest.at_s >= first.since_s
        expected_s = latest.crosses_s if latest is not None and newer else finding.expected_s
        now = "" if expected_s is None else f"{ahead(expected_s, now_s).capitalize()}."
    elif finding.rule in WALL and estimate is not None and now_s - first.since_s >= PAST_S:
        words = bench.settings.words
        says = f"{finding.station}: {then(first, words)}. {parts(finding)[1]}"
        now = _now(estimate, words)
    return AlarmGroup(alarms=alarms, says=says, now=now)


def _now(estimate: Estimate, words: Words) -> str:
    if estimate.value is None or estimate.quality is Quality.LOST:
        return _("Now: no reading.")
    now = words.measured(
        estimate.value,
        estimate.standard_uncertainty or 0.0,
        assumed=estimate.accuracy_assumed,
    )
    return _("Now %(value)s.", value=now)


def alarms_over(bench: BenchService, here: str = "") -> tuple[Alarm, ...]:
    """Alarms that are over and that nobody has acknowledged, of the station `here` or of all."""
    return tuple(
        alarm
        for alarm in sorted(bench.hub.alarms.values(), key=lambda one: one.since_s)
        if alarm.state is AlarmState.RETURNED_UNACKNOWLEDGED
        and (not here or alarm.finding.station in (here, None))
    )
