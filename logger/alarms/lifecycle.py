"""The life of one alarm, after the states of IEC 62682 (from memory; a paid standard).

    NORMAL --raise--> UNACKNOWLEDGED --acknowledge--> ACKNOWLEDGED --return--> NORMAL
                          |    ^                          |
                        return raise                 still on after a while: raised again
                          v    |
                   RETURNED_UNACKNOWLEDGED --acknowledge--> NORMAL
    any --shelve--> SHELVED --time is up--> UNACKNOWLEDGED or NORMAL
                    SHELVED --graver than when it was shelved--> UNACKNOWLEDGED
    any --close--> NORMAL, where nothing can judge it any more, or a graver alarm tells of the same

`step` is called with what a rule found; it changes nothing and returns what happened. `repeat` is
for its own time: all of a station that is to be repeated is repeated at once (`watch.Watch`).
"""

from collections.abc import Callable
from dataclasses import dataclass, field, replace
from enum import StrEnum
from functools import lru_cache

from logger.errors import Refused
from logger.quantities import Rule, event_id


class AlarmState(StrEnum):
    """Present state of an alarm."""

    NORMAL = "normal"
    UNACKNOWLEDGED = "unacknowledged"
    ACKNOWLEDGED = "acknowledged"
    RETURNED_UNACKNOWLEDGED = "returned-unacknowledged"
    SHELVED = "shelved"


class Priority(StrEnum):
    """Signal words after ANSI Z535.6, least first (from memory)."""

    NOTICE = "notice"
    CAUTION = "caution"
    WARNING = "warning"
    DANGER = "danger"

    @property
    def rank(self) -> int:
        """Gravity, for comparison."""
        return _RANKS[self]


_RANKS = {priority: rank for rank, priority in enumerate(Priority)}


class Signal(StrEnum):
    """What a rule says now: on, off, or neither (inside the deadband, or blind)."""

    ON = "on"
    HOLD = "hold"
    OFF = "off"


class AlarmEventKind(StrEnum):
    """What happens to an alarm."""

    RAISED = "raised"
    RAISED_AGAIN = "raised-again"
    REMINDED = "reminded"
    ACKNOWLEDGED = "acknowledged"
    RETURNED = "returned"
    CLEARED = "cleared"
    SUPERSEDED = "superseded"  # by a graver one of the same place: it is not over
    SHELVED = "shelved"
    UNSHELVED = "unshelved"


OVER = frozenset({AlarmEventKind.RETURNED, AlarmEventKind.CLEARED})
RAISED = frozenset({AlarmEventKind.RAISED, AlarmEventKind.RAISED_AGAIN})
_TELLING = RAISED | {AlarmEventKind.REMINDED}


@dataclass(frozen=True, slots=True, kw_only=True)
class Timing:
    """How one rule's alarms live, in seconds; None means never."""

    on_delay_s: float = 0.0
    off_delay_s: float = 0.0
    raise_again_s: float | None = None  # still on this long after acknowledging


REMIND_FIRST_S = 120.0  # a warning or danger that nobody acknowledges is repeated after this
REMIND_EVERY_S = 300.0  # ... and then this often (both our choice)
REMIND_WITH_S = 60.0  # told as long ago, it is repeated along with another (our choice)


def key_of(rule: Rule, subject: str) -> str:
    """Name of the alarm that `rule` raises of `subject`."""
    return rule + "/" + subject  # a rule is text; an f-string would ask it how to be formatted


@dataclass(frozen=True, slots=True, kw_only=True)
class Finding:
    """What a rule says of one subject at one moment."""

    rule: Rule
    subject: str  # the channel, else the station, else the part of the bench
    signal: Signal
    priority: Priority
    text: str = ""  # one line: `station: place`, what is so; after its first ". " what to do
    station: str | None = None
    channel: str | None = None
    place: str = ""  # of the channel, as `text` has it
    value: float | None = None
    limit: float | None = None
    unit: str | None = None
    falls: bool = False  # whether `value` is going down
    read_s: float | None = None  # when a person read `value`: an instrument's is of now
    expected_s: float | None = None  # when what is predicted comes, if anything is
    repeats: bool = True  # whether a person is reminded while nobody acknowledges it
    cause: str | None = None  # which of a rule's causes, where it must be known to end the alarm
    # Makes `text` when it is announced: most findings say that nothing is wrong. Not stored.
    tell: Callable[[], str] = field(
        default=str, compare=False, repr=False, metadata={"exclude": True}
    )

    @property
    def key(self) -> str:
        """Name of the alarm it concerns."""
        return key_of(self.rule, self.subject)

    def told(self) -> "Finding":
        """The same with its text."""
        return self if self.text else replace(self, text=self.tell(), tell=str)


@lru_cache(maxsize=4096)
def off(
    rule: Rule,
    station: str | None,
    priority: Priority,
    signal: Signal = Signal.OFF,
    *,
    subject: str | None = None,
) -> Finding:
    """That nothing is wrong with a station, or a `subject` there; it needs no figures.

    Rules find it each second: it is made once.
    """
    return Finding(
        rule=rule,
        subject=subject or station or "",
        station=station,
        signal=signal,
        priority=priority,
    )


@dataclass(frozen=True, slots=True, kw_only=True)
class Alarm:
    """One alarm: its present state and what is needed to go on with it."""

    finding: Finding  # the latest that mattered
    state: AlarmState = AlarmState.NORMAL
    since_s: float = 0.0  # when the present condition began
    count: int = 0  # events so far, over the life of the bench
    burn: str | None = None
    run: int | None = None  # of the program, in which its latest event came
    on_since_s: float | None = None
    off_since_s: float | None = None
    acknowledged_s: float | None = None
    acknowledged_by: str = ""
    acknowledged_where: str = ""
    told_s: float | None = None  # when a person was last told
    raised_s: float | None = None  # when it was last raised, told for the first time
    raised_value: float | None = None  # of the finding that raised it
    warned: bool = False  # a warning or danger was told, and not yet that it is over
    reminders: int = 0
    shelved_until_s: float | None = None

    @property
    def key(self) -> str:
        """Rule and subject."""
        return self.finding.key

    @property
    def active(self) -> bool:
        """Whether it stands on the page: anything but normal."""
        return self.state is not AlarmState.NORMAL

    @property
    def stands(self) -> bool:
        """Whether what it is about has not ended."""
        return self.active and self.state is not AlarmState.RETURNED_UNACKNOWLEDGED


@dataclass(frozen=True, slots=True, kw_only=True)
class AlarmEvent:
    """One thing that happened to an alarm."""

    id: str
    time_s: float  # when it was known
    what: AlarmEventKind
    alarm: Alarm  # after it
    over: bool = False  # it ends what a person was warned of

    @property
    def burn(self) -> str | None:
        """The burn in which the alarm was raised."""
        return self.alarm.burn

    @property
    def tells(self) -> bool:
        """Whether a person must be told, on the phone too."""
        return self.what in _TELLING


def _happened(
    alarm: Alarm, what: AlarmEventKind, now_s: float
) -> tuple[Alarm, tuple[AlarmEvent, ...]]:
    count = alarm.count + 1
    tells = what in _TELLING
    over = alarm.warned and what in OVER
    grave = alarm.finding.priority.rank >= Priority.WARNING.rank
    alarm = replace(
        alarm,
        count=count,
        told_s=now_s if tells else alarm.told_s,
        warned=(alarm.warned or (tells and grave)) and not over,
    )
    id_ = event_id(alarm.burn, alarm.key, count, alarm.run)
    return alarm, (AlarmEvent(id=id_, time_s=now_s, what=what, alarm=alarm, over=over),)


def step(
    alarm: Alarm | None,
    finding: Finding,
    timing: Timing,
    now_s: float,
    burn: str | None = None,
    *,
    run: int | None = None,
) -> tuple[Alarm, tuple[AlarmEvent, ...]]:
    """The alarm after `finding` at `now_s`, and what happened, if anything did."""
    if alarm is None:
        alarm = Alarm(finding=finding, burn=burn, run=run)
    alarm = _remember(alarm, finding, now_s)
    on = alarm.on_since_s is not None and now_s - alarm.on_since_s >= timing.on_delay_s
    off = alarm.off_since_s is not None and now_s - alarm.off_since_s >= timing.off_delay_s
    graver = finding.signal is Signal.ON and (finding.priority.rank > alarm.finding.priority.rank)
    match alarm.state:
        case AlarmState.SHELVED if graver and on:  # a caution was set aside; this is a warning
            return _raise(alarm, finding, burn, now_s, AlarmEventKind.RAISED)
        case AlarmState.SHELVED if _is_past(alarm.shelved_until_s, now_s):
            return _unshelve(alarm, finding, burn, now_s)
        case AlarmState.NORMAL | AlarmState.RETURNED_UNACKNOWLEDGED if on:
            return _raise(alarm, finding, burn, now_s, AlarmEventKind.RAISED)
        case AlarmState.ACKNOWLEDGED | AlarmState.UNACKNOWLEDGED if graver:
            return _raise(alarm, finding, burn, now_s, AlarmEventKind.RAISED_AGAIN)
        case AlarmState.ACKNOWLEDGED if off:
            return _happened(
                replace(alarm, state=AlarmState.NORMAL, since_s=now_s),
                AlarmEventKind.CLEARED,
                now_s,
            )
        case AlarmState.UNACKNOWLEDGED if off:
            # a notice asks for nothing, so nothing remains to be acknowledged
            if finding.priority is Priority.NOTICE:
                cleared = replace(alarm, state=AlarmState.NORMAL, since_s=now_s)
                return _happened(cleared, AlarmEventKind.CLEARED, now_s)
            returned = replace(alarm, state=AlarmState.RETURNED_UNACKNOWLEDGED, since_s=now_s)
            return _happened(returned, AlarmEventKind.RETURNED, now_s)
    return alarm, ()


def repeats_s(alarm: Alarm, finding: Finding, timing: Timing) -> float | None:
    """When it is to be repeated, `finding` being the latest; None for never."""
    match alarm.state:
        case AlarmState.ACKNOWLEDGED if finding.signal is Signal.ON:
            return _after(alarm.acknowledged_s, timing.raise_again_s)
        case AlarmState.UNACKNOWLEDGED if finding.repeats and finding.signal is not Signal.OFF:
            grave = alarm.finding.priority.rank >= Priority.WARNING.rank
            wait_s = REMIND_EVERY_S if alarm.reminders else REMIND_FIRST_S
            return _after(alarm.told_s, wait_s) if grave else None
        case _:
            return None


def repeat(
    alarm: Alarm, finding: Finding, now_s: float, burn: str | None = None
) -> tuple[Alarm, tuple[AlarmEvent, ...]]:
    """Announce it again: nobody has acknowledged it, or it stands though somebody did."""
    if alarm.state is AlarmState.ACKNOWLEDGED:
        return _raise(alarm, finding, burn, now_s, AlarmEventKind.RAISED_AGAIN)
    reminded = replace(alarm, reminders=alarm.reminders + 1, finding=finding.told())
    return _happened(reminded, AlarmEventKind.REMINDED, now_s)


def _remember(alarm: Alarm, finding: Finding, now_s: float) -> Alarm:
    """Since when the rule has said on or off; the text and figure stay those that raised it."""
    match finding.signal:
        case Signal.ON if alarm.on_since_s is None or alarm.off_since_s is not None:
            return replace(alarm, on_since_s=now_s, off_since_s=None)
        case Signal.OFF if alarm.off_since_s is None or alarm.on_since_s is not None:
            return replace(alarm, off_since_s=now_s, on_since_s=None)
        case Signal.HOLD if alarm.on_since_s is not None and alarm.state is AlarmState.NORMAL:
            return replace(alarm, on_since_s=None)  # an interrupted on-delay starts anew
        case _:
            return alarm


def _raise(
    alarm: Alarm, finding: Finding, burn: str | None, now_s: float, what: AlarmEventKind
) -> tuple[Alarm, tuple[AlarmEvent, ...]]:
    since_s = alarm.on_since_s if alarm.on_since_s is not None else now_s
    alarm = replace(
        alarm,
        finding=finding.told(),
        state=AlarmState.UNACKNOWLEDGED,
        since_s=since_s,
        raised_s=now_s,
        raised_value=finding.value,
        burn=burn,
        acknowledged_s=None,
        acknowledged_by="",
        acknowledged_where="",
        reminders=0,
        shelved_until_s=None,
    )
    return _happened(alarm, what, now_s)


def _unshelve(
    alarm: Alarm, finding: Finding, burn: str | None, now_s: float
) -> tuple[Alarm, tuple[AlarmEvent, ...]]:
    if alarm.on_since_s is not None:
        latest = finding if finding.signal is Signal.ON else alarm.finding
        return _raise(alarm, latest, burn, now_s, AlarmEventKind.RAISED)
    alarm = replace(alarm, state=AlarmState.NORMAL, since_s=now_s, shelved_until_s=None)
    return _happened(alarm, AlarmEventKind.UNSHELVED, now_s)


def _is_past(until_s: float | None, now_s: float) -> bool:
    return until_s is not None and now_s >= until_s


def _after(since_s: float | None, wait_s: float | None) -> float | None:
    return None if since_s is None or wait_s is None else since_s + wait_s


def acknowledge(
    alarm: Alarm, now_s: float, *, by: str, where: str
) -> tuple[Alarm, tuple[AlarmEvent, ...]]:
    """A person has seen it. Raises Refused where there is nothing to acknowledge."""
    match alarm.state:
        case AlarmState.UNACKNOWLEDGED:
            state = AlarmState.ACKNOWLEDGED
        case AlarmState.RETURNED_UNACKNOWLEDGED:
            state = AlarmState.NORMAL
        case _:
            raise Refused(f"{alarm.key} is {alarm.state}: nothing to acknowledge")
    alarm = replace(
        alarm, state=state, acknowledged_s=now_s, acknowledged_by=by, acknowledged_where=where
    )
    return _happened(alarm, AlarmEventKind.ACKNOWLEDGED, now_s)


def shelve(alarm: Alarm, now_s: float, until_s: float) -> tuple[Alarm, tuple[AlarmEvent, ...]]:
    """Set it aside until `until_s`. Raises Refused for a warning or danger, or without an end."""
    if alarm.finding.priority in (Priority.WARNING, Priority.DANGER):
        raise Refused(f"{alarm.key} is a {alarm.finding.priority}: it cannot be shelved")
    if until_s <= now_s:
        raise Refused("say until when the alarm is shelved; that time must lie ahead")
    alarm = replace(alarm, state=AlarmState.SHELVED, since_s=now_s, shelved_until_s=until_s)
    return _happened(alarm, AlarmEventKind.SHELVED, now_s)


def close(
    alarm: Alarm, now_s: float, why: str, what: AlarmEventKind = AlarmEventKind.CLEARED
) -> tuple[Alarm, tuple[AlarmEvent, ...]]:
    """End an alarm that nothing judges any more, whatever its state; `why` becomes its text."""
    finding = replace(alarm.finding, signal=Signal.OFF, text=why)
    alarm = replace(
        alarm,
        finding=finding,
        state=AlarmState.NORMAL,
        since_s=now_s,
        on_since_s=None,
        off_since_s=now_s,
        shelved_until_s=None,
    )
    return _happened(alarm, what, now_s)
