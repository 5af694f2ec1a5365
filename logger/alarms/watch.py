"""All alarms of a bench: each finding goes to its alarm, each event comes back once."""

from collections.abc import Callable, Iterable, Mapping
from dataclasses import replace

from logger.alarms import lifecycle, together
from logger.alarms.holding import hotter
from logger.alarms.lifecycle import (
    REMIND_WITH_S,
    Alarm,
    AlarmEvent,
    AlarmEventKind,
    AlarmState,
    Finding,
    Signal,
    key_of,
    repeats_s,
)
from logger.alarms.timings import TIMINGS
from logger.burn.entries import Acknowledge, Shelve
from logger.errors import Refused
from logger.quantities import Rule

JUDGED_S = 120.0  # no rule looks less often; what none looks at any more is not repeated

SUPERSEDED_BY = {Rule.WALL_ALERT: Rule.WALL_LIMIT}
"""A place over its limit is one alarm, not two; below the limit again, the lower one stands."""


class Watch:
    """The alarms by key; a rule that has never been on has none."""

    def __init__(self, alarms: Iterable[Alarm] = (), *, run: int | None = None) -> None:
        self._run = run
        self._alarms = {alarm.key: replace(alarm, run=run) for alarm in alarms}
        self._latest: dict[str, tuple[Finding, float]] = {}  # and when, of what was ever raised
        self.raised: set[tuple[Rule, str]] = set()
        """Rule and subject of every alarm there is: of any other, only that it is on matters."""
        self._note_raised()

    def adopt(self, alarms: Iterable[Alarm]) -> list[Alarm]:
        """Take those of before that have not been raised anew; which they are."""
        taken = [replace(one, run=self._run) for one in alarms if one.key not in self._alarms]
        self._alarms |= {alarm.key: alarm for alarm in taken}
        self._note_raised()
        return taken

    def _note_raised(self) -> None:
        findings = (alarm.finding for alarm in self._alarms.values())
        self.raised |= {(finding.rule, finding.subject) for finding in findings}

    @property
    def alarms(self) -> tuple[Alarm, ...]:
        """Every alarm that was ever raised, normal ones too."""
        return tuple(self._alarms.values())

    def waits(self, key: str) -> bool:
        """Whether the alarm stands and nobody has acknowledged it."""
        alarm = self._alarms.get(key)
        return alarm is not None and alarm.state is AlarmState.UNACKNOWLEDGED

    def judge(
        self, findings: Iterable[Finding], now_s: float, burn_of: Callable[[str | None], str | None]
    ) -> list[AlarmEvent]:
        """Take what the rules found at `now_s`; `burn_of` names the burn at a station."""
        events: list[AlarmEvent] = []
        for finding in findings:
            key = finding.key
            alarm = self._alarms.get(key)
            if alarm is None and finding.signal is not Signal.ON:
                continue
            if finding.rule in SUPERSEDED_BY and (graver := self._graver(finding)) is not None:
                if alarm is not None and alarm.active:
                    why = f"{finding.station}: {finding.place}: {graver} tells of it now"
                    self._alarms[key], happened = lifecycle.close(
                        alarm, now_s, why, AlarmEventKind.SUPERSEDED
                    )
                    events.extend(happened)
                continue
            after, happened = lifecycle.step(
                alarm,
                finding,
                TIMINGS[finding.rule],
                now_s,
                burn_of(finding.station),
                run=self._run,
            )
            self._latest[key] = finding, now_s
            if alarm is None:
                self.raised.add((finding.rule, finding.subject))
            if after is not alarm:
                self._alarms[key] = after
                events.extend(happened)
        return events

    def _graver(self, finding: Finding) -> str | None:
        """The alarm that stands of the same place and tells more; None where none does."""
        graver = self._alarms.get(key_of(SUPERSEDED_BY[finding.rule], finding.subject))
        return graver.key if graver is not None and graver.stands else None

    def repeat(
        self, station: str | None, now_s: float, burn_of: Callable[[str | None], str | None]
    ) -> list[AlarmEvent]:
        """Tell once more what is due at `station`, and with it what else is to be repeated there.

        None is what belongs to no station. So reminders of one station are one line at one time:
        of one rule that of the first place alone is waited for.
        """
        due_s = {
            key: at_s
            for key, alarm in self._alarms.items()
            if alarm.finding.station == station
            if (at_s := self._repeats_s(alarm, now_s)) is not None
        }
        firsts = {key for key in due_s if not self._follows(key, due_s)}
        due = {key for key in firsts if due_s[key] <= now_s}
        rules = {(self._alarms[key].finding.rule, self._alarms[key].state) for key in due}
        events: list[AlarmEvent] = []
        for key in due_s if due else ():
            alarm = self._alarms[key]
            lately = now_s - (alarm.told_s or 0.0) < REMIND_WITH_S
            along = alarm.state is AlarmState.UNACKNOWLEDGED and not lately
            if key in due or along or (alarm.finding.rule, alarm.state) in rules:
                finding, _ = self._latest[key]
                self._alarms[key], happened = lifecycle.repeat(
                    alarm, finding, now_s, burn_of(station)
                )
                events.extend(happened)
        return events

    def _follows(self, key: str, others: Iterable[str]) -> bool:
        """Whether an alarm of its rule among `others` waited for a person before it did.

        A place that is clearly hotter waits for no other.
        """
        alarm, rivals = self._alarms[key], (self._alarms[other] for other in others)
        return alarm.state is AlarmState.UNACKNOWLEDGED and any(
            (one.finding.rule, one.state) == (alarm.finding.rule, alarm.state)
            and (one.raised_s or 0.0) < (alarm.raised_s or 0.0)
            and not hotter(self._latest[key][0], self._latest[one.key][0].value)
            for one in rivals
        )

    def _repeats_s(self, alarm: Alarm, now_s: float) -> float | None:
        finding, judged_s = self._latest.get(alarm.key, (None, 0.0))
        if finding is None or now_s - judged_s > JUDGED_S:
            return None
        return repeats_s(alarm, finding, TIMINGS[finding.rule])

    def answer(self, entry: Acknowledge | Shelve) -> tuple[AlarmEvent, ...]:
        """A person has seen an alarm, or sets it aside. Raises Refused where that cannot be."""
        alarm = self._find(entry.alarm)
        if isinstance(entry, Shelve):
            after, happened = lifecycle.shelve(alarm, entry.entered_s, entry.until_s)
            self._alarms[entry.alarm] = after
            return happened
        others = together.open_with(alarm, self._alarms.values()) if entry.together else ()
        events: list[AlarmEvent] = []
        for one in (alarm, *others):  # the one that is named first: it may be refused
            self._alarms[one.key], happened = lifecycle.acknowledge(
                one, entry.entered_s, by=entry.by, where=entry.where
            )
            events.extend(happened)
        return tuple(events)

    def close(self, reasons: Mapping[str, str], now_s: float) -> list[AlarmEvent]:
        """End the alarms with these keys that still stand, each for its reason."""
        events: list[AlarmEvent] = []
        for key, reason in reasons.items():
            if self._alarms[key].active:
                self._alarms[key], happened = lifecycle.close(self._alarms[key], now_s, reason)
                events.extend(happened)
        return events

    def _find(self, key: str) -> Alarm:
        alarm = self._alarms.get(key)
        if alarm is None:
            active = sorted(alarm.key for alarm in self._alarms.values() if alarm.active)
            raise Refused(f"no alarm {key}; active are: {', '.join(active) or 'none'}")
        return alarm
