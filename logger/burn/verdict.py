"""Pass, fail or undecided, why, and what is missing: a trial's burns judged by the criteria."""

from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from typing import Protocol

from logger.burn.criteria import (
    LEAST_SHARE,
    LONGEST_GAP_S,
    NO_EMERGENCY,
    WALL_LIMIT,
    Criterion,
    Outcome,
    guard_band,
)
from logger.burn.evidence import BurnEvidence, Coverage
from logger.burn.heat import InWarmestRoom, in_warmest_room
from logger.burn.model import Hottest


class Words(Protocol):
    """How temperatures are written for the person who reads the verdict."""

    def of(self, value_c: float) -> str:
        """A temperature with its unit."""
        ...

    def spread(self, difference_k: float) -> str:
        """A difference, without unit."""
        ...


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
class Missing:
    """Something that is not known; where `decides`, nothing passes without it."""

    text: str
    decides: bool
    burn: str | None = None  # None: of the trial as a whole

    def __str__(self) -> str:
        return self.text


@dataclass(frozen=True, slots=True, kw_only=True)
class Verdict:
    """What the burns so far say, and what they leave open."""

    outcome: Outcome
    judgements: tuple[Judgement, ...]
    missing: tuple[Missing, ...]

    @property
    def deciding(self) -> Judgement | None:
        """The judgement that the outcome rests on: the first that fails, else is undecided."""
        return next((j for j in self.judgements if j.outcome is self.outcome), None)


WHOLE_LIFE = Missing(
    text=(
        "One burn never proves a candle: burn it to its end, and at least two or three alike. The "
        "last burns are usually the hottest (common practice)"
    ),
    decides=False,
)


def judge(burns: Sequence[BurnEvidence], words: Words) -> Verdict:
    """Judge the burns of one trial, each by the limits in force when it was lit.

    A burn that fails fails the trial, whatever came later.
    """
    missing = [gap for evidence in burns for gap in _missing(evidence)]
    missing.extend(_too_short(burns))
    judgements = [
        judgement
        for evidence in burns
        for judgement in (
            _wall(evidence, words, [m for m in missing if m.burn == evidence.burn.id]),
            _emergency(evidence),
        )
    ]
    outcomes = {judgement.outcome for judgement in judgements}
    if Outcome.FAIL in outcomes:
        outcome = Outcome.FAIL
    elif outcomes == {Outcome.PASS} and not any(gap.decides for gap in missing):
        outcome = Outcome.PASS
    else:
        outcome = Outcome.UNDECIDED
    return Verdict(outcome=outcome, judgements=tuple(judgements), missing=(*missing, WHOLE_LIFE))


def _wall(evidence: BurnEvidence, words: Words, missing: Iterable[Missing]) -> Judgement:
    burn = evidence.burn
    limit_c = evidence.limits.of(burn.material).limit_c
    limit = words.of(limit_c)
    hottest, least = burn.hottest, burn.least_margin
    if hottest is None or least is None:
        return _judgement(
            WALL_LIMIT, evidence, Outcome.UNDECIDED, "nothing on the vessel was measured"
        )
    outcome = guard_band(value=hottest.value_c, upper=least.upper_c, limit=limit_c)
    upper = f"{words.of(least.value_c)} ± {words.spread(2.0 * least.standard_uncertainty_c)}"
    match outcome:
        case Outcome.FAIL:
            reason = (
                f"{hottest.place} reached {words.of(hottest.value_c)}, over your limit of {limit}"
            )
        case Outcome.UNDECIDED:
            reason = (
                f"{least.place} reached {upper}: under your limit of {limit}, but not by its "
                "uncertainty"
            )
        case Outcome.PASS:
            reason = (
                f"{least.place} reached {upper}, with its uncertainty under your limit of {limit}"
            )
            if any(raised.rule == WALL_LIMIT.name for raised in evidence.alarms):
                outcome = Outcome.UNDECIDED
                reason += ", but a doubtful reading raised the limit alarm"
            elif any(gap.decides for gap in missing):
                outcome = Outcome.UNDECIDED
                reason += "; but see what is missing"
    warmest = _warmest(evidence, least)
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


def _warmest(evidence: BurnEvidence, least: Hottest) -> InWarmestRoom | None:
    return in_warmest_room(least.value_c, least.standard_uncertainty_c, evidence.room_c)


def _in_warmest_room(warmest: InWarmestRoom, limit_c: float, words: Words) -> str:
    room, bound = words.of(warmest.room_limit_c), words.of(warmest.bound_c)
    if warmest.stays_under(limit_c):
        return f"it stays under your limit in rooms up to {room} ({bound} at most)"
    return f"in a room of {room} it may reach {bound}, over your limit"


def _emergency(evidence: BurnEvidence) -> Judgement:
    burn = evidence.burn
    if burn.danger is not None:
        reason = f"an emergency was reported: {burn.danger.words}"
        return _judgement(NO_EMERGENCY, evidence, Outcome.FAIL, reason)
    if burn.out_s is None:
        reason = "none so far; the candle is not recorded out"
        return _judgement(NO_EMERGENCY, evidence, Outcome.UNDECIDED, reason)
    return _judgement(NO_EMERGENCY, evidence, Outcome.PASS, "no emergency was reported")


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


def _missing(evidence: BurnEvidence) -> Iterable[Missing]:
    """What one burn leaves open."""
    burn_id = evidence.burn.id

    def missing(text: str, *, decides: bool) -> Missing:
        return Missing(text=text, decides=decides, burn=burn_id)

    if evidence.burn.out_s is None:
        yield missing("The candle is not recorded out: the burn goes on", decides=True)
    measured = [seen for seen in evidence.on_vessel if seen.measured]
    automatic = [seen for seen in measured if not seen.by_hand]
    if not measured:
        yield missing("No place on the vessel was measured", decides=True)
    elif not automatic:
        text = "The vessel was read by hand only: what it reached between readings, nobody knows"
        yield missing(text, decides=True)
    for seen in evidence.automatic:
        if not seen.measured and measured:
            yield missing(f"{_cap(seen)} was never measured", decides=True)
        elif seen.measured and _lost(seen):
            yield missing(_lost_text(seen, evidence), decides=True)
    if len(measured) == 1:
        text = f"Only one place was measured ({measured[0].channel.place}): another may be hotter"
        yield missing(text, decides=False)
    unstated = [
        str(seen.channel.place)
        for seen in automatic
        if seen.channel.accuracy is None and seen.channel.name not in evidence.calibrated
    ]
    if unstated:
        text = (
            "The instrument's accuracy is not stated for " + "; ".join(unstated) + ": the "
            "uncertainty given is that of repeatability and resolution alone"
        )
        yield missing(text, decides=False)
    if not evidence.room_measured:
        text = "The room was not measured: in a warmer room the vessel gets hotter by about as much"
        yield missing(text, decides=False)


def _lost(seen: Coverage) -> bool:
    return seen.share < LEAST_SHARE or seen.longest_gap_s > LONGEST_GAP_S


def _lost_text(seen: Coverage, evidence: BurnEvidence) -> str:
    whole_s = evidence.until_s - evidence.burn.lit_s
    return (
        f"{_cap(seen)} was not measured for {_minutes(seen.missing_s)} of "
        f"{_minutes(whole_s)} (longest {_minutes(seen.longest_gap_s)})"
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
            f"It burned for {_minutes(_length_s(longest))}, shorter than your "
            f"{_minutes(longest.limits.burn_length_s)}: it may not have reached its hottest"
        ),
        decides=True,
        burn=longest.burn.id if len(burns) == 1 else None,
    )


def _length_s(evidence: BurnEvidence) -> float:
    return evidence.burn.elapsed_s(evidence.until_s)


def _full(evidence: BurnEvidence) -> bool:
    limits = evidence.limits
    return _length_s(evidence) >= limits.burn_length_s - limits.burn_notice_s


def _cap(seen: Coverage) -> str:
    text = str(seen.channel.place)
    return text[:1].upper() + text[1:]


def _minutes(seconds: float) -> str:
    return f"{seconds / 60.0:.0f} min"
