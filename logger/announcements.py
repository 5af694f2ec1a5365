"""[pure] What a person is told: one line for each cause, on phone, terminal and by program alike.

What one step of the pipeline raises together is one line (`alarms.together`), gravest first, and so
is what it repeats of one station; that it is over is one line too, once all of it is. A line names
the trial and the code on the vessel, then what to do, then what is so. The phone is spared what
another line covers (`alarms.holding`).
"""

from collections import Counter
from collections.abc import Callable, Collection, Iterable, Mapping, Sequence
from dataclasses import dataclass

from logger.alarms.foresight import ahead
from logger.alarms.holding import OFTEN, THEN_EVERY_S, Holding, Telling
from logger.alarms.lifecycle import (
    OVER,
    REMIND_FIRST_S,
    Alarm,
    AlarmEvent,
    AlarmEventKind,
    Finding,
    Priority,
)
from logger.alarms.together import lines, repeated_alike, told_with
from logger.burn.model import Burn, BurnEvent, BurnEventKind
from logger.burn.safety import shortened
from logger.messages import one_line
from logger.pipeline import Output
from logger.quantities import Rule
from logger.timestamps import clock
from logger.words import Words, duration

NAMES: Mapping[str, str] = {
    Rule.WALL_ALERT: "close to the limit",
    Rule.WALL_LIMIT: "limit reached",
    Rule.WALL_FORECAST: "limit likely to be reached",
    Rule.RISE_RATE: "fast rise",
    Rule.FLAME_OUT: "cooling though recorded lit",
    Rule.HOTTER_AFTER_OUT: "getting hotter after it was out",
    Rule.WARMING_UNLIT: "warming with no burn recorded",
    Rule.STILL_HOT: "still hot after it was out",
    Rule.BURN_ENDING: "burn about to end",
    Rule.BURN_TOO_LONG: "burn too long",
    Rule.RELIT_TOO_SOON: "lit before it had cooled",
    Rule.UNCHECKED: "lit with checks left out",
    Rule.MARK: "time to look",
    Rule.UNWATCHED: "nobody watching",
    Rule.SILENT: "no reading",
    Rule.SENSOR_FAULT: "sensor not reliable",
    Rule.ROOM_OUT_OF_RANGE: "room out of range",
    Rule.BATTERY_LOW: "battery low",
    Rule.DELIVERY: "no delivery",
    Rule.STORAGE: "trouble with the disk",
    Rule.CLOCK: "clock not reliable",
    Rule.PROGRAM: "fault of the program",
    Rule.EMERGENCY: "emergency",
}
"""Rules in a few words, for what is over, acknowledged or repeated; of one priority, the first
here leads a line."""

PHONE = frozenset(
    {
        BurnEventKind.LIT,
        BurnEventKind.OUT,
        BurnEventKind.WHO_WATCHES,
        BurnEventKind.WATCH_RESUMED,
        BurnEventKind.WATCH_ENDED,
    }
)
"""Burn events for the phone; an emergency gets there by its alarm, a note not at all."""

LONGEST_NAME = 40  # characters of a trial or tester in a line; what to do must not be cut off

_DID = {
    AlarmEventKind.ACKNOWLEDGED: "Acknowledged",
    AlarmEventKind.SHELVED: "Set aside",
    AlarmEventKind.UNSHELVED: "No longer set aside",
}


@dataclass(frozen=True, slots=True, kw_only=True)
class Announcement:
    """One line for a person, and the alarm events that it stands for, gravest first."""

    line: str
    short: str = ""  # for the phone, where it differs: what to do, then what is so
    events: tuple[AlarmEvent, ...] = ()
    calls: bool = False  # somebody must go: bell, phone, and the program where nothing gets out
    phone: bool = False

    @property
    def id(self) -> str:
        """Of the first event; empty where no alarm is announced."""
        return self.events[0].id if self.events else ""

    @property
    def priority(self) -> Priority:
        """Of the gravest alarm."""
        return self.events[0].alarm.finding.priority if self.events else Priority.NOTICE


@dataclass(frozen=True, slots=True, kw_only=True)
class PhoneLine:
    """A line for the phone, as it waits for the broker in memory and on the disk."""

    id: str  # new for each: the run's number and a count
    at_s: float  # bench time
    text: str
    announces: str = ""  # id of its announcement; empty once a restart has come between


class Announcer:
    """Makes announcements of what a step of the pipeline gave out."""

    def __init__(
        self,
        words: Words,
        burns: Callable[[], Iterable[Burn]],
        alarms: Callable[[], Iterable[Alarm]],
    ) -> None:
        """`burns` and `alarms` are the latest, after the step."""
        self._words = words
        self._burns = burns
        self._alarms = alarms
        self._holding = Holding()
        self._ended: dict[tuple[str, str], list[Alarm]] = {}  # at the limit: by rule and station

    def announce(self, outputs: Iterable[Output]) -> list[Announcement]:
        """What is to be told: first where somebody must go, then what is over, then the rest."""
        happened = [one for one in outputs if isinstance(one, AlarmEvent | BurnEvent)]
        if not happened:
            return []
        alarms = [one for one in happened if isinstance(one, AlarmEvent)]
        telling = _Telling(self._words, {burn.station: burn for burn in self._burns()})
        new = [one for one in alarms if one.tells and one.what != AlarmEventKind.REMINDED]
        reminded = [one for one in alarms if one.what == AlarmEventKind.REMINDED]
        calls = [
            telling.call(group, self._holding.tell(group, self._alarms()))
            for group in (
                *_lines(new),
                *lines(reminded, lambda one: one.alarm.finding, repeated_alike),
            )
        ]
        over = [one for one in alarms if one.what in OVER]
        for one in alarms:
            self._holding.note(one)
        did = [
            telling.did(group)
            for what in _DID
            for group in _lines(one for one in alarms if one.what == what)
        ]
        burns = [one for one in happened if isinstance(one, BurnEvent)]
        out = {one.station for one in burns if one.event == BurnEventKind.OUT}
        return [*calls, *self._over(over, telling, out), *did, *telling.burns(burns)]

    def _over(
        self, events: Sequence[AlarmEvent], telling: "_Telling", out: Collection[str]
    ) -> Iterable[Announcement]:
        """Once all that was raised in one line is over; where it is `out`, nobody need watch."""
        told: set[str] = set()
        alarms = [*self._alarms()] if events else []
        for event in events:
            rule = event.alarm.finding.rule
            others = told_with(event.alarm, alarms)
            if event.alarm.key in told or any(one.stands for one in others):
                continue
            keys = {event.alarm.key, *(one.key for one in others)}
            told |= keys
            now_over = [one for one in events if one.alarm.key in keys]
            line = [one for one in alarms if one.key in keys] or [event.alarm]
            phone = any(one.over and self._holding.was_told(one.alarm) for one in now_over)
            phone = phone and not (rule == Rule.UNWATCHED and event.alarm.finding.station in out)
            if rule == Rule.WALL_LIMIT:  # not while another place there is over its limit
                ended = self._ended.setdefault((rule, event.alarm.finding.station or ""), [])
                ended += line if phone else ()
                ended[:] = filter(telling.is_of_now, ended)
                phone = bool(ended) and not any(_same(one, event.alarm) for one in alarms)
                if phone:
                    line = list({one.key: one for one in (*ended, *line)}.values())
                    ended.clear()
            yield telling.over(now_over, line, phone=phone)


@dataclass(frozen=True, slots=True)
class _Telling:
    """Words for one step."""

    words: Words
    by_station: Mapping[str, Burn]

    def is_of_now(self, alarm: Alarm) -> bool:
        """Whether no candle was lit since at its station, which its end would be taken for."""
        burn = self.by_station.get(alarm.finding.station or "")
        return burn is None or alarm.burn in (None, burn.id)

    def call(self, events: Sequence[AlarmEvent], how: Telling) -> Announcement:
        """An alarm that somebody must go for."""
        events = sorted(events, key=_gravest_first)
        first = events[0]
        finding = first.alarm.finding
        says, act = parts(finding)
        repeated = ""
        if first.what == AlarmEventKind.REMINDED:
            repeated = " (repeated)"
            says = self._then_and_now(first.alarm, says)
        if finding.expected_s is not None:
            says += f"; {ahead(finding.expected_s, first.time_s)}"
        says = _of_all([one.alarm.finding for one in events], says)
        sentences = [says, act]
        if finding.priority in (Priority.CAUTION, Priority.WARNING):
            sentences.reverse()
        more = []
        if first.what == AlarmEventKind.REMINDED:
            more.append(_besides([one.alarm.finding for one in events]))
        if how is Telling.COMES_AND_GOES:
            more.append(
                "It comes and goes; the next line follows when it lasts more than "
                f"{duration(REMIND_FIRST_S)}"
            )
        if min(one.alarm.reminders for one in events) == OFTEN:
            sentences.append(f"From now on the phone repeats this every {duration(THEN_EVERY_S)}")
        where = self._where(one.alarm for one in events)
        head = f"{finding.priority.upper()}{repeated}: {where}"
        line = f"{head}{_sentences([*sentences, *more], finding.subject)}"
        two = [[act], [says, *more]]
        if finding.priority is Priority.NOTICE:
            two = [[says, *more], [act]]
        short = f"{head}{_sentences(_two(*two), finding.subject)}"
        told = how is not Telling.HELD
        # a notice of no station, of an engine that is behind, say, sends nobody to a candle
        calls = told and (finding.priority is not Priority.NOTICE or finding.station is not None)
        return Announcement(
            line=one_line(line),
            short=one_line(short),
            events=tuple(events),
            calls=calls,
            phone=told and how is not Telling.BELL,
        )

    def _then_and_now(self, alarm: Alarm, says: str) -> str:
        """What was when it was raised, and what is now."""
        finding = alarm.finding
        if finding.rule == Rule.WALL_LIMIT:
            value = self.words.temperature(finding.value or 0.0)
            now = f"now {value}{' and falling' if finding.falls else ''}"
            if finding.read_s is not None:
                now = f"last read at {clock(finding.read_s)} as {value}"
            says = f"{then(alarm, self.words, f' at {clock(alarm.since_s)}')}, {now}"
        else:
            raised_s = alarm.since_s if alarm.raised_s is None else alarm.raised_s
            says = f"{says}; raised at {clock(raised_s)}"
        burn = self.by_station.get(finding.station or "")
        if burn is not None and burn.out_s is not None:
            says = f"{says}; recorded out at {clock(burn.out_s)}"
        return f"{says}; not acknowledged"

    def over(
        self, events: Sequence[AlarmEvent], alarms: Sequence[Alarm], *, phone: bool
    ) -> Announcement:
        """All of one line is over; the phone hears of it where it heard a warning."""
        line = f"Over: {self._which(alarms)}"
        return Announcement(line=one_line(line), events=tuple(events), phone=phone)

    def did(self, events: Sequence[AlarmEvent]) -> Announcement:
        """A person answered."""
        alarm = events[0].alarm
        by = f" by {alarm.acknowledged_by}" if events[0].what == AlarmEventKind.ACKNOWLEDGED else ""
        by = by if alarm.acknowledged_by else ""
        line = f"{_DID[events[0].what]}{by}: {self._which([one.alarm for one in events])}"
        return Announcement(line=one_line(line), events=tuple(events))

    def burns(self, events: Iterable[BurnEvent]) -> list[Announcement]:
        """What a person did or is asked; the same at several stations is one line."""
        alike: dict[tuple[str, str], list[BurnEvent]] = {}
        for event in events:
            said = event.text.removeprefix(f"{event.station}: ")
            alike.setdefault((event.event, said), []).append(event)
        told = []
        for (what, said), same in alike.items():
            line = one_line(", ".join(self._label(one.station) for one in same) + f": {said}")
            told.append(Announcement(line=line, short=shortened(line), phone=what in PHONE))
        return told

    def _where(self, alarms: Iterable[Alarm]) -> str:
        stations = dict.fromkeys(one.finding.station for one in alarms)
        labels = [self._label(one) for one in stations if one is not None]
        return f"{', '.join(labels)}: " if labels else ""

    def _which(self, alarms: Sequence[Alarm]) -> str:
        """Rule and places of alarms of one line."""
        findings = [one.finding for one in alarms]
        name = NAMES.get(findings[0].rule, findings[0].rule)
        if all(not (one.station or one.place) for one in findings):
            return f"{name}: {', '.join(one.subject for one in findings)}"
        places: dict[str, list[str]] = {}
        for one in findings:
            where = self._label(one.station) if one.station else one.place
            places.setdefault(where, []).append(one.place if one.station else "")
        return f"{name} at " + "; ".join(
            f"{where}, {len(here)} places"
            if len(here) > 1
            else ", ".join(filter(None, (where, *here)))
            for where, here in places.items()
        )

    def _label(self, station: str) -> str:
        """A station with the trial and the code on the vessel of its latest burn."""
        burn = self.by_station.get(station)
        names = [] if burn is None else [burn.trial, burn.tester]
        candle = ", ".join(one_line(name, LONGEST_NAME) for name in names if name.strip())
        return f"{station} ({candle})" if candle else station


def then(alarm: Alarm, words: Words, at: str = "") -> str:
    """What a wall was when its alarm was raised; `at` says when that was."""
    finding = alarm.finding
    line = "your limit" if finding.rule == Rule.WALL_LIMIT else "the alert"
    first = "" if alarm.raised_value is None else f" ({words.temperature(alarm.raised_value)})"
    return f"{finding.place} reached {line} of {words.temperature(finding.limit or 0.0)}{at}{first}"


def _lines(events: Iterable[AlarmEvent]) -> list[list[AlarmEvent]]:
    return lines(events, lambda event: event.alarm.finding)


def _same(one: Alarm, other: Alarm) -> bool:
    """Whether `one` stands of the rule and at the station of `other`."""
    ours, theirs = one.finding, other.finding
    return one.stands and (ours.rule, ours.station) == (theirs.rule, theirs.station)


def _gravest_first(event: AlarmEvent) -> tuple[int, int, float]:
    """For sorting: by priority, then by rule, then walls from the hottest."""
    finding = event.alarm.finding
    names = list(NAMES)
    order = names.index(finding.rule) if finding.rule in names else len(names)
    value = finding.value if finding.rule.startswith("wall-") else None
    return -finding.priority.rank, order, -(value or 0.0)


def _besides(findings: Sequence[Finding]) -> str:
    """What else a line repeats than its first rule."""
    counts = Counter(one.rule for one in findings)
    del counts[findings[0].rule]
    names = [
        NAMES.get(rule, rule) + (f" ({count} places)" if count > 1 else "")
        for rule, count in counts.items()
    ]
    return f"Also not acknowledged: {', '.join(names)}" if names else ""


def parts(finding: Finding) -> tuple[str, str]:
    """What is so, and what to do; without the station."""
    says, _, act = finding.text.removeprefix(f"{finding.station}: ").partition(". ")
    return says, act


def _of_all(findings: Sequence[Finding], says: str) -> str:
    """`says` of the first of `findings`, so that it says it of all."""
    first = findings[0]
    same = [one for one in findings if one.rule == first.rule]
    if len(same) == 1:
        return says
    more = len(same) - 1
    if len({one.station for one in same}) == 1:
        if says.startswith(f"{first.place}: "):
            return f"{len(same)} places{says.removeprefix(first.place)}"
        return f"{says} (and {more} more place{'s' if more > 1 else ''})"
    counts = Counter((one.station is not None, one.station or one.place) for one in same)
    places = ", ".join(
        f"{count} place{'s' if count > 1 else ''} of {where}" if of_station else where
        for (of_station, where), count in counts.items()
    )
    return f"{places}{says.removeprefix(first.place)}"


def _two(*sentences: Sequence[str]) -> list[str]:
    """Each of `sentences` as one, its parts in their short form and joined."""
    joined = ["; ".join(filter(None, parts)) for parts in sentences]
    return [shortened(one).replace(". ", "; ") for one in joined]


def _sentences(parts: Iterable[str], name: str) -> str:
    """Each with a capital, but for the `name` of a device, ended where it has no end."""
    return " ".join(
        f"{part[0] if part.startswith(name) else part[0].upper()}{part[1:]}"
        f"{'' if part[-1] in '.?!' else '.'}"
        for part in parts
        if part
    )
