"""Pass, fail or undecided, why, and what is missing: a trial's burns judged by the criteria."""

import math
from collections.abc import Iterable, Sequence
from dataclasses import dataclass

from logger.burn.evidence import BurnEvidence
from logger.burn.heat import InWarmestRoom
from logger.burn.model import Hottest
from logger.burn.shared_pour import not_judged
from logger.decision.criteria import (
    NO_EMERGENCY,
    WALL_LIMIT,
    Criterion,
    Outcome,
    guard_band,
)
from logger.decision.missing import CANNOT_BE_SEEN, WHOLE_LIFE, Missing, missing
from logger.quantities import Rule
from logger.words import Words, duration


@dataclass(frozen=True, slots=True, kw_only=True)
class Judgement:
    """One burn by one criterion."""

    criterion: Criterion
    burn: str
    outcome: Outcome
    reason: str
    value: float | None = None  # degC where it is a temperature
    limit: float | None = None
    warmest: InWarmestRoom | None = None  # what the figure means for a warmer room; judges nothing
    source: str


@dataclass(frozen=True, slots=True, kw_only=True)
class Verdict:
    """What the burns so far say, and what they leave open."""

    outcome: Outcome
    judgements: tuple[Judgement, ...]
    missing: tuple[Missing, ...]
    not_judged: tuple[str, ...] = ()  # what such burns cannot show

    @property
    def deciding(self) -> Judgement | None:
        """The judgement that the outcome rests on: the first that fails, else is undecided."""
        return next((j for j in self.judgements if j.outcome is self.outcome), None)


def judge(burns: Sequence[BurnEvidence], words: Words) -> Verdict:
    """Judge the burns of one trial, each by the limits in force when it was lit.

    A burn that fails fails the trial, whatever came later.
    """
    found = [gap for evidence in burns for gap in missing(evidence, words)]
    found.extend(_too_short(burns))
    judgements = [
        judgement
        for evidence in burns
        for judgement in (
            _wall(evidence, words, [gap for gap in found if gap.burn == evidence.burn.id]),
            _emergency(evidence),
        )
    ]
    outcomes = {judgement.outcome for judgement in judgements}
    if Outcome.FAIL in outcomes:
        outcome = Outcome.FAIL
    elif outcomes == {Outcome.PASS} and not any(gap.decides for gap in found):
        outcome = Outcome.PASS
    else:
        outcome = Outcome.UNDECIDED
    always = (CANNOT_BE_SEEN, WHOLE_LIFE)
    return Verdict(
        outcome=outcome,
        judgements=tuple(judgements),
        missing=(*found, *always),
        not_judged=not_judged(evidence.burn for evidence in burns),
    )


def _wall(evidence: BurnEvidence, words: Words, gaps: Iterable[Missing]) -> Judgement:
    burn = evidence.burn
    limit_c = evidence.limits.of(burn.material).limit_c
    limit = words.temperature(limit_c)
    hottest, least, crossing = burn.hottest, burn.least_margin, evidence.crossing
    if hottest is None or least is None:
        return _judgement(
            WALL_LIMIT, evidence, Outcome.UNDECIDED, "nothing on the vessel was measured"
        )
    lower_c = -math.inf if crossing is None else crossing.lower_c
    outcome = guard_band(lower=lower_c, upper=least.upper_c, limit=limit_c)
    match outcome:
        case Outcome.FAIL:
            reason = f"{_reached(crossing or hottest, words)}, over the maker's limit of {limit}"
        case Outcome.UNDECIDED if hottest.value_c > limit_c:
            reason = (
                f"{_reached(hottest, words)}: over the maker's limit of {limit}, but not by its "
                "uncertainty for a minute"
            )
        case Outcome.UNDECIDED:
            reason = (
                f"{_reached(least, words)}: under the maker's limit of {limit}, but not by its "
                "uncertainty"
            )
        case Outcome.PASS:
            reason = (
                f"{_reached(least, words)}, with its uncertainty under the maker's limit of {limit}"
            )
            if any(raised.rule == WALL_LIMIT.name for raised in evidence.alarms):
                outcome = Outcome.UNDECIDED
                reason += (
                    "; but its limit alarm was raised, so it may have been over for a moment, or "
                    "by readings that were doubtful"
                )
            elif any(gap.decides for gap in gaps):
                outcome = Outcome.UNDECIDED
                reason += "; but see what is missing"
    warmest = evidence.warmest
    if warmest is not None:
        reason += f"; {_in_warmest_room(warmest, limit_c, words)}"
    return _judgement(
        WALL_LIMIT,
        evidence,
        outcome,
        reason,
        value=hottest.value_c,
        limit=limit_c,
        warmest=warmest,
    )


def _reached(place: Hottest, words: Words) -> str:
    reached = words.measured(
        place.value_c, place.standard_uncertainty_c, assumed=place.accuracy_assumed
    )
    return f"{place.place} reached {reached}"


def _in_warmest_room(warmest: InWarmestRoom, limit_c: float, words: Words) -> str:
    room, bound = words.temperature(warmest.room_limit_c), words.temperature(warmest.bound_c)
    if warmest.stays_under(limit_c):
        return f"it stays under the maker's limit in rooms up to {room} ({bound} at most)"
    return f"in a room of {room} it may reach {bound}, over the maker's limit"


def _emergency(evidence: BurnEvidence) -> Judgement:
    burn = evidence.burn
    if burn.danger is not None:
        reason = f"an emergency was reported: {burn.danger.words}"
        return _judgement(NO_EMERGENCY, evidence, Outcome.FAIL, reason)
    if burn.out_s is None:
        reason = "none so far; the candle is not recorded out"
        return _judgement(NO_EMERGENCY, evidence, Outcome.UNDECIDED, reason)
    reason = "no emergency was reported"
    if any(raised.rule == Rule.EMERGENCY for raised in evidence.alarms):
        reason = "an emergency was reported, and withdrawn: the diary says why"
    return _judgement(NO_EMERGENCY, evidence, Outcome.PASS, reason)


def _judgement(
    criterion: Criterion,
    evidence: BurnEvidence,
    outcome: Outcome,
    reason: str,
    *,
    value: float | None = None,
    limit: float | None = None,
    warmest: InWarmestRoom | None = None,
) -> Judgement:
    return Judgement(
        criterion=criterion,
        burn=evidence.burn.id,
        outcome=outcome,
        reason=reason,
        value=value,
        limit=limit,
        warmest=warmest,
        source=criterion.source,
    )


def _too_short(burns: Sequence[BurnEvidence]) -> Iterable[Missing]:
    """A trial needs one burn of the full length; others may be shorter, as the last one is.

    Who puts the candle out once told that the end is near has burned it long enough.
    """
    over = [evidence for evidence in burns if evidence.burn.out_s is not None]
    if not over or any(_full(evidence) for evidence in over):
        return
    longest = max(over, key=_length_s)
    yield Missing(
        text=(
            f"It burned for {duration(_length_s(longest))}, shorter than the maker's longest "
            f"burn of {duration(longest.limits.burn_length_s)}: it may not have reached its hottest"
        ),
        decides=True,
        burn=longest.burn.id if len(burns) == 1 else None,
    )


def _length_s(evidence: BurnEvidence) -> float:
    return evidence.burn.elapsed_s(evidence.until_s)


def _full(evidence: BurnEvidence) -> bool:
    limits = evidence.limits
    return _length_s(evidence) >= limits.burn_length_s - limits.burn_notice_s
