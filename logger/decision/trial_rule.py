"""The verdict on a trial: every criterion on every burn, and what all of them must have shown.

Nothing passes where the evidence is thin. A burn that lacks something is made up for by a repeat:
the same part of the wax of another candle, as long, with everything measured.
"""

from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass, replace

from logger.burn.consumption import Consumption
from logger.burn.evidence import BurnEvidence
from logger.burn.shared_pour import not_judged
from logger.burn.stated import SELF_EXTINGUISHED
from logger.decision.by_hand_rule import read_by_hand, widened_k
from logger.decision.criteria import Criterion, Judgement, Outcome, Shown, nearest_to_its_limit
from logger.decision.heat_criteria import COOL_DOWN, NO_EMERGENCY, ROOM, VESSEL_INTACT, WALL_LIMIT
from logger.decision.in_trial import NO_CONSUMPTION, UNKNOWN, BurnInTrial, Makeup
from logger.decision.look_criteria import LAST_QUARTER, LOOK_CRITERIA
from logger.decision.missing import CANNOT_BE_SEEN, Missing, missing, places_warmed
from logger.decision.next_burn import FIRST_BURN, smallest_next_burn
from logger.decision.next_step import next_step
from logger.decision.outlook import Outlook
from logger.decision.pool_line import pool_line_gaps
from logger.decision.sides import made_up_by_hand
from logger.decision.verdict import CriterionOutcome, Verdict, judged, too_short
from logger.decision.wall_profile import below_k, out_of_line, unmeasured_side_k
from logger.decision.wax_criteria import WAX_CRITERIA
from logger.words import Words

CRITERIA: tuple[Criterion, ...] = (
    WALL_LIMIT,
    NO_EMERGENCY,
    VESSEL_INTACT,
    *LOOK_CRITERIA,
    *WAX_CRITERIA,
    COOL_DOWN,
    ROOM,
)
"""In the order in which a verdict tells of them; a line here is a new criterion everywhere."""

ALIKE = 0.1  # of the wax, between a burn and the one that makes up for it (our choice)
AS_LONG = 0.9  # of its length, at least (our choice)
FEWEST_CANDLES = 2  # alike: two or three are usual (common practice)


@dataclass(frozen=True, slots=True, kw_only=True)
class TrialEvidence:
    """All that a trial is judged on; burns in order of lighting."""

    burns: tuple[BurnEvidence, ...]
    weighed: Mapping[str, Consumption]  # by the id of a burn
    outlook: Outlook
    makeup: Makeup = UNKNOWN
    lots: tuple[str, ...] = ()  # that were burned, in words


def judge_trial(trial: TrialEvidence, words: Words) -> Verdict:
    """Judge a trial, each burn by the limits in force when it was lit.

    A burn that fails fails the trial, whatever came later.
    """
    burns = _in_trial(trial, words)
    if not burns:
        return Verdict(
            outcome=Outcome.UNDECIDED,
            judgements=(),
            missing=(Missing(text="Nothing was burned yet", decides=True), CANNOT_BE_SEEN),
            lots=trial.lots,
            smallest_next_burn=FIRST_BURN,
        )
    judgements = [found for burn in burns for found in judged(burn, CRITERIA)]
    shared = not_judged(one.evidence.burn for one in burns)
    made_up = {one.evidence.burn.id for one in burns if _made_up_for(one, burns, judgements)}
    gaps = [
        replace(gap, decides=gap.decides and burn.evidence.burn.id not in made_up)
        for burn in burns
        for gap in burn.gaps
    ]
    gaps.extend(_of_all(burns, judgements, shared=bool(shared)))
    found = [
        one
        for criterion in CRITERIA
        if _asked(criterion, burns)
        and (one := _criterion(criterion, judgements, gaps, made_up)) is not None
    ]
    outcome = _outcome(found, gaps, shared=bool(shared))
    to_the_end = not shared and not _reached_the_end(burns)
    return Verdict(
        outcome=outcome,
        judgements=tuple(judgements),
        missing=(*gaps, *_worth_knowing(burns, words), CANNOT_BE_SEEN),
        not_judged=(*shared, *_left_out(burns)),
        criteria=tuple(found),
        lots=trial.lots,
        weaker=tuple(_weaker(burns)),
        smallest_next_burn=smallest_next_burn(burns, gaps, to_the_end=to_the_end)
        if outcome is Outcome.UNDECIDED
        else None,
        next_step=next_step(burns, judgements, trial.outlook, outcome, words),
    )


def _in_trial(trial: TrialEvidence, words: Words) -> list[BurnInTrial]:
    burns = [one.burn for one in trial.burns]
    found = []
    for evidence in trial.burns:
        burn = evidence.burn
        of_candle = [one for one in burns if one.candle == burn.candle]
        weighed = trial.weighed.get(burn.id, NO_CONSUMPTION)
        others = [o for o in trial.burns if o.burn.candle == burn.candle and o is not evidence]
        warmed = frozenset(name for other in others for name in places_warmed(other))
        only_by_hand = not any(seen.measured for seen in evidence.automatic)
        hand = read_by_hand(evidence) if only_by_hand else None
        why_not = None if hand is None else hand.why_not
        beside = [widened_k(seen, evidence) for seen in made_up_by_hand(evidence)]
        found.append(
            BurnInTrial(
                evidence=evidence,
                words=words,
                gaps=(
                    *(
                        gap
                        for gap in missing(evidence, words, by_hand=why_not, warmed=warmed)
                        if gap.decides
                    ),
                    *pool_line_gaps(evidence, weighed.used_after, words),
                    *out_of_line(evidence),
                ),
                weighed=weighed,
                number=of_candle.index(burn) + 1,
                last=of_candle[-1] is burn,
                makeup=trial.makeup,
                whole=True,
                widened_k=hand.widened_k if hand else max(beside, default=0.0),
                beside_k=unmeasured_side_k(evidence, burn.hottest.value_c) if burn.hottest else 0.0,
                below_k={
                    seen.channel.name: below_k(seen, seen.highest.value, evidence)
                    for seen in evidence.on_vessel
                    if seen.highest is not None and seen.highest.value is not None
                },
                by_hand_will_do=hand is not None and hand.will_do,
            )
        )
    return found


def _made_up_for(
    burn: BurnInTrial, burns: Sequence[BurnInTrial], judgements: Sequence[Judgement]
) -> bool:
    """Whether another candle's burn shows what this one leaves open."""
    share = burn.weighed.used_share
    if share is None or not _open(burn, judgements):
        return False
    length_s = _length_s(burn)
    return any(
        other.evidence.burn.candle != burn.evidence.burn.candle
        and other.regime == burn.regime
        and other.weighed.used_share is not None
        and abs(other.weighed.used_share - share) <= ALIKE
        and _length_s(other) >= AS_LONG * length_s
        and not any(gap.decides for gap in other.gaps)
        and not _open(other, judgements)
        for other in burns
    )


def _open(burn: BurnInTrial, judgements: Sequence[Judgement]) -> bool:
    """Whether its heat, its pause or its room leave something open."""
    return any(
        one.burn == burn.evidence.burn.id and one.outcome is Outcome.UNDECIDED
        for one in judgements
        if one.criterion in (WALL_LIMIT, COOL_DOWN, ROOM)
    )


def _length_s(burn: BurnInTrial) -> float:
    return burn.evidence.burn.elapsed_s(burn.evidence.until_s)


def _of_all(
    burns: Sequence[BurnInTrial], judgements: Sequence[Judgement], *, shared: bool
) -> Iterator[Missing]:
    """What the trial as a whole leaves open."""
    yield from too_short([one.evidence for one in burns])
    for criterion in CRITERIA:
        life = shared and criterion.shown is not Shown.HALF_AND_LAST
        if criterion.shown is not Shown.ALWAYS and _asked(criterion, burns) and not life:
            yield from _not_shown(criterion, burns, judgements)
    if not shared and not _reached_the_end(burns):
        yield Missing(
            text=(
                "The last quarter of the wax, which is usually the hottest (common practice), was "
                "not burned to its end, or nobody weighed the candle"
            ),
            decides=True,
            do="burn on to the end of the wax, and weigh the cold candle after each burn",
        )


def _not_shown(
    criterion: Criterion, burns: Sequence[BurnInTrial], judgements: Sequence[Judgement]
) -> Iterator[Missing]:
    shown = {one.burn for one in judgements if one.criterion is criterion}
    once = criterion.shown in (Shown.ONCE, Shown.ANY)
    needed = 1 if once else (len(burns) + 1) // 2
    last_too = criterion.shown is not Shown.HALF_AND_LAST or burns[-1].evidence.burn.id in shown
    if len(shown) >= needed and last_too:
        return
    burned = f"{len(burns)} burn{'s' * (len(burns) != 1)}"
    text = f"{criterion.title}: shown by {len(shown)} of {burned}"
    if len(shown) >= needed:
        text += ", and not by the last"
    yield Missing(
        text=text,
        decides=True,
        criterion=criterion.name,
        do=criterion.do,
        for_s=criterion.for_s,
    )


def _reached_the_end(burns: Sequence[BurnInTrial]) -> bool:
    """Whether any candle was burned until it went out by itself in the last quarter of its wax."""
    return any(
        one.weighed.used_after is not None
        and one.weighed.used_after >= LAST_QUARTER
        and one.evidence.burn.ending.ended == SELF_EXTINGUISHED
        for one in burns
    )


def _asked(criterion: Criterion, burns: Sequence[BurnInTrial]) -> bool:
    """Whether the maker has not left it out."""
    return any(
        burn.value(criterion.name) is not None
        or not any(one.criterion == criterion.name for one in burn.evidence.criteria)
        for burn in burns
    )


def _left_out(burns: Sequence[BurnInTrial]) -> Iterator[str]:
    for criterion in CRITERIA:
        if not _asked(criterion, burns):
            yield f"{criterion.title.lower()}: left out by the maker"


def _criterion(
    criterion: Criterion,
    judgements: Sequence[Judgement],
    gaps: Sequence[Missing],
    made_up: set[str],
) -> CriterionOutcome | None:
    here = [one for one in judgements if one.criterion is criterion]
    failed = next((one for one in here if one.outcome is Outcome.FAIL), None)
    passed = nearest_to_its_limit(one for one in here if one.outcome is Outcome.PASS)
    unsure = [one for one in here if one.outcome is Outcome.UNDECIDED and one.burn not in made_up]
    gap = next((one for one in gaps if one.decides and one.criterion == criterion.name), None)
    if criterion.shown is Shown.ANY and passed is not None:
        unsure = []
    found = failed or (unsure[0] if unsure else passed)
    if found is not None and (gap is None or found.outcome is not Outcome.PASS):
        return CriterionOutcome(criterion=criterion, outcome=found.outcome, judgement=found)
    if gap is None and not here:  # no burn could show it, and none had to
        return None
    outcome = Outcome.PASS if gap is None else Outcome.UNDECIDED  # what was open is made up for
    return CriterionOutcome(criterion=criterion, outcome=outcome, judgement=found)


def _outcome(
    found: Sequence[CriterionOutcome], gaps: Sequence[Missing], *, shared: bool
) -> Outcome:
    outcomes = {one.outcome for one in found}
    if Outcome.FAIL in outcomes:
        return Outcome.FAIL
    if Outcome.UNDECIDED in outcomes or any(gap.decides for gap in gaps):
        return Outcome.UNDECIDED
    return Outcome.WORTH_MAKING if shared else Outcome.PASS


def _worth_knowing(burns: Sequence[BurnInTrial], words: Words) -> Iterator[Missing]:
    for burn in burns:
        yield from (gap for gap in missing(burn.evidence, words) if not gap.decides)
    candles = {one.evidence.burn.candle for one in burns}
    if len(candles) < FEWEST_CANDLES:
        yield Missing(
            text="It rests on one candle: two or three alike are usual (common practice)",
            decides=False,
        )


def _weaker(burns: Sequence[BurnInTrial]) -> Iterator[str]:
    """What rests on readings by hand, said once for all such burns."""
    named = [one.evidence.burn.short_id for one in burns if one.by_hand_will_do]
    if named:
        yield (
            f"burn {', '.join(named)} {'was' if len(named) == 1 else 'were'} read by hand only: "
            "what the wall did between two readings is a bound from its fitted course, not a "
            "measurement"
        )
