"""[pure] Verdicts, as the JSON objects that HTTP hands out."""

from collections.abc import Sequence
from typing import Annotated

from typing_extensions import Doc, TypedDict

from logger.burn.heat import InWarmestRoom, LastQuarter
from logger.burn.model import Burn
from logger.decision.criteria import Judgement, Outcome
from logger.decision.outlook import Outlook
from logger.decision.verdict import Verdict
from logger.messages import rounded
from logger.quantities import Quantity


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
    burn: str
    outcome: Outcome
    reason: str
    value: float | None
    limit: float | None
    unit: str | None
    warmest_room: WarmestRoomMessage | None
    source: str


def judgement(one: Judgement) -> JudgementMessage:
    """One criterion on one burn."""
    return {
        "criterion": one.criterion.name,
        "burn": one.burn,
        "outcome": one.outcome,
        "reason": one.reason,
        "value": rounded(one.value),
        "limit": rounded(one.limit),
        "unit": one.unit,
        "warmest_room": warmest(one.warmest, one.limit),
        "source": one.source,
    }


class MissingMessage(TypedDict):
    """What was not measured."""

    text: str
    decides: Annotated[bool, Doc("whether the verdict hangs on it")]
    burn: str | None


class VerdictMessage(TypedDict):
    """How it is judged, and why."""

    outcome: Outcome
    judgements: list[JudgementMessage]
    missing: list[MissingMessage]
    not_judged: Annotated[list[str], Doc("what burns of a shared pour cannot show")]


def verdict(found: Verdict) -> VerdictMessage:
    """How it was judged and what is missing."""
    return {
        "outcome": found.outcome,
        "judgements": [judgement(one) for one in found.judgements],
        "missing": [
            {"text": gap.text, "decides": gap.decides, "burn": gap.burn} for gap in found.missing
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


class TrialMessage(VerdictMessage):
    """The verdict on all burns of a trial so far."""

    trial: str
    burns: list[str]
    outlook: Annotated[str, Doc("what is to be expected of the burns to come, in words")]
    last_quarter: LastQuarterMessage | None


def trial_verdict(
    trial: str, burns: Sequence[Burn], found: Verdict, outlook: Outlook
) -> TrialMessage:
    """The verdict on all burns of a trial, and what is to be expected of the burns to come."""
    return {
        "trial": trial,
        "burns": [burn.id for burn in burns],
        "outlook": outlook.text,
        "last_quarter": last_quarter(outlook.last_quarter),
        **verdict(found),
    }
