"""Pass, fail or undecided, why, and what is missing: burns judged by themselves."""

from collections.abc import Iterable, Iterator, Sequence
from dataclasses import dataclass

from logger.burn.evidence import BurnEvidence
from logger.burn.shared_pour import not_judged
from logger.decision.criteria import Criterion, Judgement, Outcome, Shown, nearest_to_its_limit
from logger.decision.heat_criteria import NO_EMERGENCY, WALL_LIMIT
from logger.decision.in_trial import BurnInTrial
from logger.decision.look_criteria import LOOK_CRITERIA
from logger.decision.missing import CANNOT_BE_SEEN, WHOLE_LIFE, Missing, missing
from logger.decision.next_burn import NextBurn
from logger.decision.next_step import NextStep
from logger.decision.starting_sizes import StartingSizes
from logger.words import Words, duration

OF_ONE_BURN: tuple[Criterion, ...] = (WALL_LIMIT, NO_EMERGENCY, *LOOK_CRITERIA)


@dataclass(frozen=True, slots=True, kw_only=True)
class CriterionOutcome:
    """What all burns of a trial say by one criterion."""

    criterion: Criterion
    outcome: Outcome
    judgement: Judgement | None  # that it rests on; None: no burn was judged by it


@dataclass(frozen=True, slots=True, kw_only=True)
class Verdict:
    """What the burns so far say, and what they leave open."""

    outcome: Outcome
    judgements: tuple[Judgement, ...]
    missing: tuple[Missing, ...]
    not_judged: tuple[str, ...] = ()  # what such burns cannot show, or the maker left out
    # Of a trial:
    criteria: tuple[CriterionOutcome, ...] = ()
    lots: tuple[str, ...] = ()  # that it holds for
    not_for: tuple[str, ...] = ()  # lots in use now that it does not hold for
    weaker: tuple[str, ...] = ()  # where its evidence is weaker than a measurement
    smallest_next_burn: NextBurn | None = None  # that would decide what is undecided
    next_step: NextStep | None = None
    starting_sizes: StartingSizes | None = None  # of one that nothing was burned of

    @property
    def deciding(self) -> Judgement | None:
        """The judgement that the outcome rests on.

        The first that fails, else is undecided; of a pass the one that came nearest to its limit,
        by the first of its criteria.
        """
        found = [one for one in self.judgements if one.outcome is self.outcome]
        if not found or self.outcome is not Outcome.PASS:
            return next(iter(found), None)
        return nearest_to_its_limit(one for one in found if one.criterion is found[0].criterion)

    @property
    def warmest(self) -> Judgement | None:
        """The judgement whose figure means most for a warmer room; None: no room was measured."""
        known = [(one.warmest.bound_c, one) for one in self.judgements if one.warmest]
        return max(known, key=lambda one: one[0])[1] if known else None

    @property
    def regimes(self) -> dict[str, Outcome]:
        """The worst of the burns of each regime; what is missing stands apart."""
        found: dict[str, Outcome] = {}
        for one in self.judgements:
            worst = max(one.outcome, found.get(one.regime, Outcome.PASS), key=_BADNESS.index)
            found[one.regime] = worst
        return found


_BADNESS = (Outcome.PASS, Outcome.WORTH_MAKING, Outcome.UNDECIDED, Outcome.FAIL)


def judge(burns: Sequence[BurnEvidence], words: Words) -> Verdict:
    """Judge burns by themselves, each by the limits in force when it was lit.

    What people saw can fail a burn; that nobody looked takes nothing from it. The verdict on a
    trial asks for more: see `trial_rule`.
    """
    found = [gap for evidence in burns for gap in missing(evidence, words)]
    found.extend(too_short(burns))
    judgements = []
    for evidence in burns:
        gaps = tuple(gap for gap in found if gap.burn == evidence.burn.id and gap.decides)
        for one in judged(BurnInTrial(evidence=evidence, words=words, gaps=gaps), OF_ONE_BURN):
            by_eye = one.criterion.shown is not Shown.ALWAYS
            if not (by_eye and one.outcome is Outcome.UNDECIDED):
                judgements.append(one)
    outcomes = {one.outcome for one in judgements}
    if Outcome.FAIL in outcomes:
        outcome = Outcome.FAIL
    elif outcomes == {Outcome.PASS} and not any(gap.decides for gap in found):
        outcome = Outcome.PASS
    else:
        outcome = Outcome.UNDECIDED
    return Verdict(
        outcome=outcome,
        judgements=tuple(judgements),
        missing=(*found, CANNOT_BE_SEEN, WHOLE_LIFE),
        not_judged=not_judged(evidence.burn for evidence in burns),
    )


def judged(burn: BurnInTrial, criteria: Sequence[Criterion]) -> Iterator[Judgement]:
    """A burn by each of the criteria that it says something of."""
    for criterion in criteria:
        found = criterion.finds(burn)
        if found is not None:
            yield Judgement(
                criterion=criterion,
                burn=burn.evidence.burn.id,
                outcome=found.outcome,
                reason=found.reason,
                value=found.value,
                least=found.least,
                limit=found.limit,
                unit=found.unit,
                warmest=found.warmest,
                source=criterion.source,
                origin=found.origin,
                regime=burn.regime,
                weaker=found.weaker,
            )


def too_short(burns: Sequence[BurnEvidence]) -> Iterable[Missing]:
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
        do="burn it to your longest burn",
        for_s=longest.limits.burn_length_s,
    )


def _length_s(evidence: BurnEvidence) -> float:
    return evidence.burn.elapsed_s(evidence.until_s)


def _full(evidence: BurnEvidence) -> bool:
    limits = evidence.limits
    return _length_s(evidence) >= limits.burn_length_s - limits.burn_notice_s
