"""Trials side by side: each criterion, the margin in the same room, and what differs clearly."""

from collections.abc import Iterable, Sequence
from dataclasses import replace

from logger.burn.evidence import BurnEvidence
from logger.decision import compared_figures
from logger.decision.alike import differences
from logger.decision.compared import (
    FIGURES,
    ComparedCriterion,
    ComparedDay,
    ComparedTrial,
    Comparison,
)
from logger.decision.reproducibility import Reproducibility
from logger.decision.same_room import mean_of, peak_in, room_of
from logger.decision.trial_facts import TrialFacts
from logger.decision.wax_levels import LevelSlope, level_mm, level_slope
from logger.words import Words

USUAL_ROOM_C = 22.0  # where no trial measured its room: middle of a test room (common practice)


def compare(
    trials: Sequence[TrialFacts],
    words: Words,
    *,
    by_wick: bool = False,
    bench: Reproducibility | None = None,
) -> Comparison:
    """Compare trials, in this order; `by_wick` calls them by their wicks where these differ.

    `bench` is how far its stations differ, where that is known.

    Compared are as many burns of each candle as every trial has: the last are usually the hottest
    (common practice), and one trial's last says nothing beside another's first. Beside a trial that
    was burned on a shared pour alone, others count with their burns there.
    """
    room_c = _same_room_c(trials)
    labels = _labels(trials, by_wick=by_wick)
    shared = any(facts.shared_pour for facts in trials)
    days = {facts.name: _days(facts, room_c, shared=shared) for facts in trials}
    first = min((len(found) for found in days.values() if found), default=0)
    slope = _slope(trials, room_c)
    found = [_trial(facts, labels[facts.name], days[facts.name], room_c, first) for facts in trials]
    if slope is not None:
        levels = [one.level_mm for one in found if one.shared_pour and one.level_mm]
        found = [_at_level(one, slope, max(levels, default=0.0)) for one in found]
    return Comparison(
        room_c=room_c,
        first=first,
        trials=tuple(found),
        criteria={
            one.criterion.name: one.criterion.title
            for facts in trials
            for one in facts.verdict.criteria
        },
        differences=tuple(
            differences(found, first, words, corrected=slope is not None, bench=bench)
        ),
        slope=slope,
    )


def _same_room_c(trials: Iterable[TrialFacts]) -> float:
    rooms = [room.value for facts in trials for one in facts.burns if (room := room_of(one))]
    return float(round(sum(rooms) / len(rooms))) if rooms else USUAL_ROOM_C


def _labels(trials: Sequence[TrialFacts], *, by_wick: bool) -> dict[str, str]:
    wicks = {facts.name: facts.wick.name for facts in trials if facts.wick}
    if by_wick and len(set(wicks.values())) == len(trials):
        return wicks
    return {facts.name: facts.name for facts in trials}


def _days(facts: TrialFacts, room_c: float, *, shared: bool) -> tuple[ComparedDay, ...]:
    """Its burns by their number in the life of their candle."""
    on_shared = [one for one in facts.burns if one.burn.shared_pour]
    own = [one for one in facts.burns if not one.burn.shared_pour]
    count: dict[tuple[str, str], int] = {}
    found: dict[int, list[BurnEvidence]] = {}
    for evidence in (on_shared or own) if shared else (own or on_shared):
        number = count[evidence.burn.candle] = count.get(evidence.burn.candle, 0) + 1
        found.setdefault(number, []).append(evidence)
    return tuple(
        ComparedDay(
            number=number,
            peak=mean_of([peak for one in burns if (peak := peak_in(one, room_c))]),
            evidence=tuple(burns),
        )
        for number, burns in found.items()
    )


def _trial(
    facts: TrialFacts, label: str, days: tuple[ComparedDay, ...], room_c: float, first: int
) -> ComparedTrial:
    levels = (level_mm(one) for day in days[:1] for one in day.evidence)
    found = ComparedTrial(
        facts=facts,
        label=label,
        criteria=_criteria(facts),
        figures={},
        days=days,
        shared_pour=bool(days) and days[0].evidence[0].burn.shared_pour,
        level_mm=next((level for level in levels if level is not None), None),
    )
    burns = found.comparable(first)
    figures = {
        "peak": compared_figures.peak(burns, room_c),
        "consumption": compared_figures.rate_g_per_h(facts, burns),
        "full-pool": compared_figures.full_pool_s(burns),
    }
    return _with_margin(
        replace(found, figures={key: one for key, one in figures.items() if one is not None})
    )


def _with_margin(trial: ComparedTrial) -> ComparedTrial:
    peak, limit_c = trial.figures.get("peak"), trial.limit_c
    if peak is None or limit_c is None:
        return trial
    figures = {**trial.figures, "margin": peak.below(limit_c)}
    return replace(trial, figures={key: figures[key] for key in FIGURES if key in figures})


def _criteria(facts: TrialFacts) -> dict[str, ComparedCriterion]:
    return {
        one.criterion.name: ComparedCriterion(outcome=one.outcome, judgement=one.judgement)
        for one in facts.verdict.criteria
    }


def _slope(trials: Sequence[TrialFacts], room_c: float) -> LevelSlope | None:
    """Of a candle of its own in the vessel and formula of a shared pour."""
    made = {found for facts in trials if facts.shared_pour and (found := _made(facts))}
    return level_slope([facts for facts in trials if _made(facts) in made], room_c)


def _made(facts: TrialFacts) -> tuple[str, str] | None:
    """Vessel and formula; None while one of them is not known: nothing is the same as that."""
    if facts.vessel is None or facts.formula is None:
        return None
    return facts.vessel.name, facts.formula.name


def _at_level(trial: ComparedTrial, slope: LevelSlope, to_mm: float) -> ComparedTrial:
    """A trial of a shared pour, its peak as it would have been at the level of the first wick."""
    peak = trial.figures.get("peak")
    if peak is None or trial.level_mm is None or not trial.shared_pour:
        return trial
    corrected = slope.at(peak, trial.level_mm, to_mm)
    return _with_margin(replace(trial, figures={**trial.figures, "peak": corrected}))
