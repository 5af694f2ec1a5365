"""[pure] What is to be done next: at one station, and which station needs a person first."""

from collections.abc import Iterable, Iterator, Sequence
from dataclasses import dataclass
from enum import IntEnum, auto

from logger.alarms.lifecycle import Priority
from logger.burn import safety
from logger.burn.model import BurnPhase
from logger.web.ahead import to_weigh
from logger.web.alarm_groups import AlarmGroup
from logger.web.station import StationView
from logger.web.texts import gettext as _
from logger.words import duration


class Urgency(IntEnum):
    """Why a person is needed, the most urgent first (our order)."""

    EMERGENCY = auto()
    WARNING = auto()  # and nobody has acknowledged it; so the caution
    OVER = auto()  # it burns longer than it may
    CAUTION = auto()
    STILL_SO = auto()  # a warning that was acknowledged and has not ended
    DUE = auto()  # a look or a round
    BURNING = auto()
    COLD = auto()  # to be weighed
    COOLING = auto()
    FREE = auto()


@dataclass(frozen=True, slots=True, kw_only=True)
class NextThing:
    """What is to be done at a station, and when."""

    station: str
    urgency: Urgency
    words: str  # an instruction, or what comes
    at_s: float | None = None  # None: now, or nothing is to be done

    @property
    def now(self) -> bool:
        """Whether somebody is needed at this moment."""
        return self.urgency <= Urgency.DUE

    @property
    def order(self) -> tuple[int, float]:
        """What needs a person first comes first."""
        return self.urgency, self.at_s or 0.0

    def ahead(self, now_s: float) -> str:
        """How long until then."""
        if self.at_s is None:
            return ""
        return _("in %(time)s", time=duration(max(self.at_s - now_s, 0.0)))


def next_thing(view: StationView, alarms: Sequence[AlarmGroup]) -> NextThing:
    """What is to be done next at one station; `alarms` are all that stand."""
    mine = [one for one in alarms if one.first.finding.station == view.name]
    return min(_things(view, mine), key=lambda one: one.order)


def next_of_all(found: Iterable[NextThing], alarms: Sequence[AlarmGroup]) -> NextThing | None:
    """The first of all stations and of what concerns the whole bench; None: nothing lies ahead."""
    whole = [one for one in alarms if one.first.finding.station is None]
    first = min(
        (*found, *_of_alarms(_("the bench"), whole)), key=lambda one: one.order, default=None
    )
    return None if first is None or first.urgency is Urgency.FREE else first


def _things(view: StationView, mine: Sequence[AlarmGroup]) -> Iterator[NextThing]:
    def thing(urgency: Urgency, words: str, at_s: float | None = None) -> NextThing:
        return NextThing(station=view.name, urgency=urgency, words=words, at_s=at_s)

    burn, status = view.burn, view.status
    if burn is not None and burn.danger is not None and burn.in_danger:
        yield thing(Urgency.EMERGENCY, _("EMERGENCY, %(danger)s", danger=burn.danger.words))
    yield from _of_alarms(view.name, mine)
    if view.lit:
        if (status.remaining_s or 0.0) <= 0.0:
            yield thing(Urgency.OVER, _("its time is over: put it out"))
        mark = view.next_mark
        if mark is not None and status.lit_s is not None:
            look = _("look at it, the mark of %(elapsed)s", elapsed=duration(mark.mark_s))
            due = view.due_mark is not None
            at_s = status.lit_s + mark.mark_s
            yield thing(Urgency.DUE if due else Urgency.BURNING, look, None if due else at_s)
        if view.round_due_s is not None:
            overdue = view.round_due_s <= status.at_s
            urgency = Urgency.DUE if overdue else Urgency.BURNING
            yield thing(urgency, _("read the wall by hand"), None if overdue else view.round_due_s)
        for one in view.coming:
            yield thing(Urgency.BURNING, one.words, one.at_s)
    elif status.phase is BurnPhase.COOLING:
        for one in view.coming:
            yield thing(Urgency.COOLING, one.words, one.at_s)
    elif burn is not None and to_weigh(burn):
        yield thing(Urgency.COLD, _("if glass and wax are cold, weigh it"))
    yield thing(Urgency.FREE, _("nothing to do"))


def _of_alarms(station: str, alarms: Iterable[AlarmGroup]) -> Iterator[NextThing]:
    for one in alarms:
        grave = one.priority.rank >= Priority.WARNING.rank
        if one.open and one.priority.rank >= Priority.CAUTION.rank:
            urgency = Urgency.WARNING if grave else Urgency.CAUTION
        elif grave:
            urgency = Urgency.STILL_SO
        else:
            continue
        yield NextThing(
            station=station,
            urgency=urgency,
            words=f"{one.priority.value.upper()}, {one.name}",
        )


def to_do(view: StationView, alarms: Sequence[AlarmGroup]) -> str:
    """The one sentence of what to do now."""
    status = view.status
    if view.burn is not None and view.burn.danger is not None and view.burn.in_danger:
        return f"{'. '.join(safety.emergency_advice(view.burn.danger))}."
    waiting = (one for one in alarms if one.open and one.concerns(view.name))
    if any(one.priority.rank >= Priority.CAUTION.rank for one in waiting):
        return _("Go to the candle now; see the alarm above.")
    if view.lit:
        left_s = status.remaining_s or 0.0
        if left_s <= 0.0:
            return _("Its time is over: %(advice)s.", advice=safety.PUT_OUT)
        if view.watched:
            return _("Stay where you see the candle.")
        return _("Stay where you see the candle. Read the wall by hand and enter it below.")
    if status.phase is BurnPhase.COOLING:
        return _("Leave it where it is until the wax is solid and the vessel cold.")
    if view.burn is not None and to_weigh(view.burn):
        return _("Cool-down over. If glass and wax are cold, weigh it and record that below.")
    return _("No burn recorded. If a candle is burning here, record it below.")
