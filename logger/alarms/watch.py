"""All alarms of a bench: each finding goes to its alarm, each event comes back once."""

from collections.abc import Callable, Iterable, Mapping
from dataclasses import replace

from logger.alarms import lifecycle, together
from logger.alarms.lifecycle import Alarm, AlarmEvent, AlarmState, Finding, Signal
from logger.alarms.timings import TIMINGS
from logger.burn.entries import Acknowledge, Shelve
from logger.errors import Refused


class Watch:
    """The alarms by key; a rule that has never been on has none."""

    def __init__(self, alarms: Iterable[Alarm] = (), *, run: int | None = None) -> None:
        self._run = run
        self._alarms = {alarm.key: replace(alarm, run=run) for alarm in alarms}

    def adopt(self, alarms: Iterable[Alarm]) -> list[Alarm]:
        """Take those of before that have not been raised anew; which they are."""
        taken = [replace(one, run=self._run) for one in alarms if one.key not in self._alarms]
        self._alarms |= {alarm.key: alarm for alarm in taken}
        return taken

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
            alarm = self._alarms.get(finding.key)
            if alarm is None and finding.signal is not Signal.ON:
                continue
            after, happened = lifecycle.step(
                alarm,
                finding,
                TIMINGS[finding.rule],
                now_s,
                burn_of(finding.station),
                run=self._run,
            )
            if after is not alarm:
                self._alarms[finding.key] = after
                events.extend(happened)
        return events

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
