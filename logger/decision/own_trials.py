"""What the maker's own trials showed, by vessel, wick and formula: heat and consumption."""

import math
from collections.abc import Iterable
from dataclasses import dataclass

from logger.burn.evidence import BurnEvidence
from logger.decision.compared_figures import rate_g_per_h
from logger.decision.criteria import Outcome
from logger.decision.same_room import ComparedFigure, mean_of, room_of
from logger.decision.trial_facts import TrialFacts


@dataclass(frozen=True, slots=True, kw_only=True)
class OwnTrial:
    """One trial among all; what it did not measure is None, what no record names is empty."""

    trial: str
    inner_diameter_mm: float
    series: str  # of the wick
    wick: str
    formula: str
    outcome: Outcome
    rise_k: ComparedFigure | None  # of the hottest measured place above the room
    rate_g_per_h: ComparedFigure | None


def own_trials(trials: Iterable[TrialFacts]) -> tuple[OwnTrial, ...]:
    """Those with a vessel whose width is known and a figure, by diameter, series and wick."""
    found = (_own(facts) for facts in trials)
    return tuple(
        sorted(
            (one for one in found if one is not None),
            key=lambda one: (one.inner_diameter_mm, one.series, one.wick, one.trial),
        )
    )


def _own(facts: TrialFacts) -> OwnTrial | None:
    width_mm = facts.vessel.inner_diameter_mm if facts.vessel else None
    rise_k, rate = _rise_k(facts.burns), rate_g_per_h(facts, facts.burns)
    if width_mm is None or (rise_k is None and rate is None):
        return None
    return OwnTrial(
        trial=facts.name,
        inner_diameter_mm=width_mm,
        series=facts.wick.series if facts.wick else "",
        wick=facts.wick.name if facts.wick else "",
        formula=facts.formula.name if facts.formula else "",
        outcome=facts.verdict.outcome,
        rise_k=rise_k,
        rate_g_per_h=rate,
    )


def _rise_k(burns: Iterable[BurnEvidence]) -> ComparedFigure | None:
    """The hottest burn of each candle, the mean of the candles; none without a measured room."""
    hottest: dict[tuple[str, str], ComparedFigure] = {}
    for evidence in burns:
        room, found = room_of(evidence), evidence.warmest
        if room is None or found is None:
            continue
        rise = ComparedFigure(
            value=found.peak_c - room.value,
            standard_uncertainty=math.hypot(found.peak_u_k, room.standard_uncertainty),
        )
        candle = evidence.burn.candle
        if candle not in hottest or rise.value > hottest[candle].value:
            hottest[candle] = rise
    return mean_of(list(hottest.values()))
