"""[pure] Verdicts, as the JSON objects that HTTP hands out."""

from collections.abc import Mapping, Sequence
from typing import Annotated

from typing_extensions import Doc, TypedDict

from logger.burn.heat import InWarmestRoom, LastQuarter
from logger.burn.model import Burn
from logger.decision.criteria import Judgement, Outcome
from logger.decision.heat_criteria import in_warmest_room_words
from logger.decision.next_burn import NextBurn
from logger.decision.next_step import NextStep, Step
from logger.decision.outlook import Outlook
from logger.decision.verdict import CriterionOutcome, Verdict
from logger.messages import rounded
from logger.quantities import Quantity
from logger.reports.judged_figures import asked
from logger.words import Words


class WarmestRoomMessage(TypedDict):
    """What a measured figure means for a warmer room; it never lowers it."""

    room: float
    bound: Annotated[float, Doc("at most, its expanded uncertainty included")]
    unit: str
    stays_under: Annotated[bool | None, Doc("the limit, where one stands for it")]


def warmest(found: InWarmestRoom | None, limit_c: float | None) -> WarmestRoomMessage | None:
    """What a figure means for a warmer room."""
    if found is None:
        return None
    return {
        "room": rounded(found.room_limit_c),
        "bound": rounded(found.bound_c),
        "unit": Quantity.TEMPERATURE.unit,
        "stays_under": None if limit_c is None else found.stays_under(limit_c),
    }


class JudgementMessage(TypedDict):
    """One criterion on one burn."""

    criterion: str
    title: str
    burn: str
    regime: Annotated[str, Doc("how the candle was burned; standard where nobody stated it")]
    outcome: Outcome
    reason: str
    value: float | None
    least: Annotated[float | None, Doc("of a range; limit is its upper end")]
    limit: float | None
    unit: str | None
    warmest_room: WarmestRoomMessage | None
    weaker: Annotated[bool, Doc("it rests on readings by hand")]
    origin: Annotated[str, Doc("whose limit it is: a default and its source, or the maker's own")]
    source: str


def judgement(one: Judgement) -> JudgementMessage:
    """One criterion on one burn."""
    return {
        "criterion": one.criterion.name,
        "title": one.criterion.title,
        "burn": one.burn,
        "regime": one.regime,
        "outcome": one.outcome,
        "reason": one.reason,
        "value": rounded(one.value),
        "least": rounded(one.least),
        "limit": rounded(one.limit),
        "unit": one.unit,
        "warmest_room": warmest(one.warmest, one.limit),
        "weaker": one.weaker,
        "origin": one.origin,
        "source": one.source,
    }


class MissingMessage(TypedDict):
    """What was not measured."""

    text: str
    decides: Annotated[bool, Doc("whether the verdict depends on it")]
    burn: str | None
    number: Annotated[str | None, Doc("that people type for the burn; null: of no burn or one")]
    criterion: Annotated[str, Doc("that it leaves open; empty: how hot it got")]
    do: Annotated[str, Doc("what to do in the next burn; empty: repeat this one")]


class VerdictMessage(TypedDict):
    """How it is judged, and why."""

    outcome: Outcome
    judgements: list[JudgementMessage]
    missing: list[MissingMessage]
    not_judged: Annotated[list[str], Doc("what burns of a shared pour cannot show")]


def verdict(found: Verdict, numbers: Mapping[str, str] | None = None) -> VerdictMessage:
    """How it was judged and what is missing; `numbers` are those of a trial's burns, by id."""
    numbers = numbers or {}
    return {
        "outcome": found.outcome,
        "judgements": [judgement(one) for one in found.judgements],
        "missing": [
            {
                "text": gap.text,
                "decides": gap.decides,
                "burn": gap.burn,
                "number": numbers.get(gap.burn or ""),
                "criterion": gap.criterion,
                "do": gap.do,
            }
            for gap in found.missing
        ],
        "not_judged": [*found.not_judged],
    }


class LastQuarterMessage(TypedDict):
    """The peak to expect of the last quarter of the wax."""

    value: float
    low: float
    high: float
    level: Annotated[float, Doc("how probably it lies between low and high")]
    unit: str
    burns: Annotated[int, Doc("that it rests on")]


def last_quarter(found: LastQuarter | None) -> LastQuarterMessage | None:
    """What is expected of the last quarter of the wax."""
    if found is None:
        return None
    return {
        "value": rounded(found.peak_c),
        "low": rounded(found.low_c),
        "high": rounded(found.high_c),
        "level": found.level,
        "unit": Quantity.TEMPERATURE.unit,
        "burns": found.burns,
    }


class CriterionMessage(TypedDict):
    """What all burns of a trial say by one criterion."""

    criterion: str
    title: str
    outcome: Outcome
    reason: Annotated[str, Doc("of the burn that it rests on; empty where no burn shows it")]
    burn: str | None
    asks: Annotated[str, Doc("its figure in the bench's units; empty where it has none")]
    rule: str
    origin: Annotated[str, Doc("whose figure it is")]


class NextBurnMessage(TypedDict):
    """The smallest next burn that would decide what is undecided."""

    text: str
    steps: Annotated[list[str], Doc("the same, one a line")]
    length_s: Annotated[float, Doc("0 where nothing has to burn")]
    like: Annotated[list[str], Doc("burns that another candle has to do again")]


class SignMessage(TypedDict):
    """Something that speaks for a smaller wick (hot) or a larger one."""

    text: str
    hot: bool
    burn: str | None


class NextStepMessage(TypedDict):
    """What to try next, and why."""

    step: Step
    reason: str
    wick: Annotated[str, Doc("that it leads to, where the shelf has it")]
    conflicting: Annotated[bool, Doc("signs of too large and of too small a wick were found")]
    signs: list[SignMessage]
    expected: Annotated[str, Doc("of the last quarter of the wax, with every size up")]


class StartingSizesMessage(TypedDict):
    """Wicks to begin a new vessel with."""

    wicks: list[str]
    reason: str


class TrialMessage(VerdictMessage):
    """The verdict on all burns of a trial so far."""

    trial: str
    burns: list[str]
    criteria: list[CriterionMessage]
    in_warmest_room: Annotated[str, Doc("in words; empty where no room was measured")]
    regimes: Annotated[dict[str, Outcome], Doc("the worst burn of each way of burning")]
    lots: Annotated[list[str], Doc("that the verdict holds for")]
    not_for: Annotated[list[str], Doc("lots in use now that it does not hold for")]
    weaker: Annotated[list[str], Doc("where its evidence is weaker than a measurement")]
    smallest_next_burn: NextBurnMessage | None
    next_step: NextStepMessage | None
    starting_sizes: Annotated[
        StartingSizesMessage | None,
        Doc("of a trial that nothing was burned of, by your own others"),
    ]
    outlook: Annotated[str, Doc("what is to be expected of the burns to come, in words")]
    last_quarter: LastQuarterMessage | None


def trial_verdict(
    trial: str, burns: Sequence[Burn], found: Verdict, outlook: Outlook, words: Words
) -> TrialMessage:
    """The verdict on all burns of a trial, and what is to be expected of the burns to come."""
    numbers = {burn.id: burn.short_id for burn in burns}
    return {
        "trial": trial,
        "burns": [burn.id for burn in burns],
        "criteria": [_criterion(one, numbers, words) for one in found.criteria],
        "in_warmest_room": _in_warmest_room(found.warmest, words),
        "regimes": found.regimes,
        "lots": [*found.lots],
        "not_for": [*found.not_for],
        "weaker": [*found.weaker],
        "smallest_next_burn": _next_burn(found.smallest_next_burn),
        "next_step": _next_step(found.next_step),
        "starting_sizes": None
        if found.starting_sizes is None
        else {
            "wicks": [*found.starting_sizes.wicks],
            "reason": found.starting_sizes.reason,
        },
        "outlook": outlook.text,
        "last_quarter": last_quarter(outlook.last_quarter),
        **verdict(found, numbers),
    }


def _in_warmest_room(one: Judgement | None, words: Words) -> str:
    if one is None or one.warmest is None or one.limit is None:
        return ""
    return in_warmest_room_words(one.warmest, one.limit, words)


def _criterion(
    found: CriterionOutcome, numbers: Mapping[str, str], words: Words
) -> CriterionMessage:
    one = found.judgement
    return {
        "criterion": found.criterion.name,
        "title": found.criterion.title,
        "outcome": found.outcome,
        "reason": "" if one is None else one.reason,
        "burn": None if one is None else numbers[one.burn],
        "asks": "" if one is None else asked(one, words),
        "rule": found.criterion.rule,
        "origin": "" if one is None else one.origin,
    }


def _next_burn(found: NextBurn | None) -> NextBurnMessage | None:
    if found is None:
        return None
    return {
        "text": str(found),
        "steps": [*found.steps],
        "length_s": found.length_s,
        "like": [*found.like],
    }


def _next_step(found: NextStep | None) -> NextStepMessage | None:
    if found is None:
        return None
    return {
        "step": found.step,
        "reason": found.reason,
        "wick": found.wick,
        "conflicting": found.conflicting,
        "signs": [
            {"text": one.text, "hot": one.hot, "burn": one.burn}
            for one in (*found.hot, *found.cold)
        ],
        "expected": found.expected,
    }
