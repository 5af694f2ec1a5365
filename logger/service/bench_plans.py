"""The bench plan out of what is stored; every function here blocks.

It is made anew each time from what really happened. What today's slips cost is found against the
plan as it stood when the maker's day began: the same planner, given the burns of before alone.
"""

import math
from collections.abc import Iterator, Sequence
from dataclasses import dataclass

from logger.burn.marks import BurnMark, MarkState, marks
from logger.burn.model import Burn
from logger.burn.stated import SELF_EXTINGUISHED
from logger.errors import NotKnown
from logger.planning.bench_plan import BenchNow, BenchPlan, Hours, Maker, PlannedBurn, bench_plan
from logger.planning.maker_plan import MakerPlan, OpenTrial
from logger.planning.slips import Happened, MissedMark, slips, verdict_shifts
from logger.service.facts import trial_facts
from logger.service.open_trials import Asked, open_trial
from logger.service.trial_verdict import Judging
from logger.settings import Settings
from logger.settings.plan_keys import DAYS
from logger.store.opening import FILE_NAME
from logger.store.queries import open_read
from logger.timestamps import daily

AHEAD_DAYS = 120  # no trial takes longer (our choice)
LEFT_ALONE_S = 182 * 86_400.0  # not burned for so long, a trial waits for no verdict (our choice)


@dataclass(frozen=True, slots=True, kw_only=True)
class _Stored:
    """Burns that count, in order, and the names of trials that may be open."""

    burns: Sequence[Burn]
    trials: Sequence[str]


def maker_plan(settings: Settings, judging: Judging, now_s: float) -> MakerPlan:
    """The plan from now on; never before the latest time stored. Raises StoreError."""
    now_s, stored = _stored(judging, now_s)
    trials = _open(settings, judging, stored.trials, now_s)
    plan = _planned(settings, stored.burns, trials, now_s)
    began_s = _began_s(settings, now_s)
    if began_s is None:
        return MakerPlan(at_s=now_s, plan=plan, trials=trials)
    today = [burn for burn in stored.burns if burn.lit_s >= began_s]
    touched = {burn.trial for burn in today}
    before = [trial for trial in trials if trial.name not in touched]  # as they were this morning
    before += _open(settings, judging, sorted(touched & set(stored.trials)), began_s)
    then = _planned(settings, [b for b in stored.burns if b.lit_s < began_s], before, began_s)
    return MakerPlan(
        at_s=now_s,
        plan=plan,
        trials=trials,
        slips=tuple(slips(then, [_happened(burn) for burn in today], now_s)),
        missed=tuple(_missed(settings, today, now_s)),
        shifts=tuple(verdict_shifts(then, plan)),
    )


def _stored(judging: Judging, now_s: float) -> tuple[float, _Stored]:
    """Now by the bench's time, and what is stored."""
    if not (judging.data / FILE_NAME).exists():
        return now_s, _Stored(burns=(), trials=())
    with open_read(judging.data) as reader:
        now_s = max(now_s, reader.latest_s())  # a board may have woken in the past
        burns = [burn for burn in reader.burns() if not burn.withdrawn]
        shelf = reader.shelf("trial")
    latest_s: dict[str, float] = {}
    for burn in burns:
        latest_s[burn.trial] = max(latest_s.get(burn.trial, 0.0), burn.lit_s)
    checks = {one.name for one in shelf if one.fields.get("check_candle") == "yes"}
    closed = {one.name for one in shelf if one.withdrawn} | checks
    named = {one.name for one in shelf} | latest_s.keys()
    return now_s, _Stored(
        burns=sorted(burns, key=lambda burn: burn.lit_s),
        trials=sorted(
            name for name in named - closed if latest_s.get(name, math.inf) > now_s - LEFT_ALONE_S
        ),
    )


def _open(
    settings: Settings, judging: Judging, names: Sequence[str], at_s: float
) -> tuple[OpenTrial, ...]:
    """What each trial needed at that time."""
    asked = Asked(plan=settings.plan, limits=settings.limits, marks=settings.marks, now_s=at_s)
    found = []
    for name in names:
        try:
            facts = trial_facts(judging, name, before_s=at_s)
        except NotKnown:  # withdrawn since
            continue
        found.append(open_trial(facts, asked))
    return tuple(trial for trial in found if trial is not None)


def _planned(
    settings: Settings, burns: Sequence[Burn], trials: Sequence[OpenTrial], at_s: float
) -> BenchPlan:
    keys, limits = settings.plan, settings.limits
    weekdays = {DAYS.index(day) for day in keys.days}
    hours = daily(at_s, AHEAD_DAYS, keys.hours_s, weekdays)
    maker = Maker(
        hours=[Hours(from_s=from_s, to_s=to_s) for from_s, to_s in hours],
        moment_s=keys.mark_takes_s,
        in_sight=keys.in_sight,
    )
    free = {station.name: 0.0 for station in settings.stations}
    for burn in burns:
        if burn.station in free and burn.out_s is not None:
            free[burn.station] = max(free[burn.station], burn.out_s + limits.cool_down_s)
    running = [_running(settings, burn, burns, at_s) for burn in burns if burn.lit]
    bench = BenchNow(at_s=at_s, stations=free, running=running)
    return bench_plan([one for trial in trials for one in trial.demands], bench, maker)


def _happened(burn: Burn) -> Happened:
    """A candle that went out by itself burned as long as it could: that is no slip."""
    by_itself = burn.ending.ended == SELF_EXTINGUISHED
    out_s = None if by_itself else burn.out_s
    return Happened(trial=burn.trial, tester=burn.tester, lit_s=burn.lit_s, out_s=out_s)


def _missed(settings: Settings, burns: Sequence[Burn], now_s: float) -> Iterator[MissedMark]:
    """Marks of these burns at which nobody looked."""
    for burn in burns:
        for one in _marks(settings, burn, now_s):
            if one.state is MarkState.MISSED:
                yield MissedMark(
                    trial=burn.trial, tester=burn.tester, station=burn.station, mark_s=one.mark_s
                )


def _marks(settings: Settings, burn: Burn, at_s: float) -> Iterator[BurnMark]:
    """Every mark of a burn, and what became of it by then."""
    looked_s = [one - burn.lit_s for one in burn.looked_s]
    asked_s = settings.marks.of(burn.circumstances.regime)
    return marks(asked_s, looked_s, burn.elapsed_s(at_s), lit=burn.lit)


def _running(settings: Settings, burn: Burn, burns: Sequence[Burn], at_s: float) -> PlannedBurn:
    """The rest of a burn that is lit: its marks to come, and those that are due."""
    length_s = burn.longest_s(settings.limits)
    waiting = (MarkState.AHEAD, MarkState.DUE)
    return PlannedBurn(
        trial=burn.trial,
        tester=burn.tester,
        station=burn.station,
        lit_s=burn.lit_s,
        out_s=burn.lit_s + length_s,
        marks_s=tuple(
            burn.lit_s + one.mark_s
            for one in _marks(settings, burn, at_s)
            if one.state in waiting and one.mark_s < length_s
        ),
        pause_s=settings.limits.cool_down_s,
        number=sum(one.candle == burn.candle and one.lit_s <= burn.lit_s for one in burns),
        running=True,
    )


def _began_s(settings: Settings, now_s: float) -> float | None:
    """When the maker's hours of today began; None before that, and on a day off."""
    weekdays = {DAYS.index(day) for day in settings.plan.days}
    today = next(daily(now_s, 1, settings.plan.hours_s, weekdays), None)
    return today[0] if today is not None and today[0] < now_s else None
