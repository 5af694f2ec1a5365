"""[pure] What trials cost, as the JSON object that HTTP and commands hand out."""

from typing import Annotated

from typing_extensions import Doc, TypedDict

from logger.decision.costs import VESSEL, WICK, CostLine, SeriesCosts, Spent
from logger.messages import rounded


class CostLineMessage(TypedDict):
    """What was spent on one thing."""

    what: str
    used: float
    unit: Annotated[str | None, Doc("g; null of things that are counted")]
    amount: Annotated[float | None, Doc("in the maker's currency; null where no price is known")]
    complete: Annotated[bool, Doc("whether every price is in the amount")]
    text: Annotated[str, Doc("the amount in words")]


class SpentMessage(TypedDict):
    """Candles and what they cost."""

    candles: int
    wax_g: Annotated[float, Doc("fragrance and dye included")]
    lines: list[CostLineMessage]
    amount: Annotated[float | None, Doc("as far as prices are known")]
    text: Annotated[str, Doc("the amount in words")]
    missing: Annotated[list[str], Doc("what is not in the amount")]


class TrialCostsMessage(SpentMessage):
    """Of one trial: candles of its own, and its wicks on shared pours."""

    trial: str
    hours: Annotated[float, Doc("burned")]


class SeriesCostsMessage(TypedDict):
    """Of trials together."""

    trials: list[TrialCostsMessage]
    shared_pours: Annotated[SpentMessage, Doc("each counted once, without the wicks")]
    total: SpentMessage
    separate: Annotated[SpentMessage, Doc("had each wick had a candle of its own")]
    hours: float


def series_costs(found: SeriesCosts) -> SeriesCostsMessage:
    """What trials cost, one by one and together."""
    return {
        "trials": [
            {"trial": one.trial, "hours": rounded(one.hours), **_spent(one.spent)}
            for one in found.trials
        ],
        "shared_pours": _spent(found.shared),
        "total": _spent(found.spent),
        "separate": _spent(found.separate),
        "hours": rounded(found.hours),
    }


def _spent(found: Spent) -> SpentMessage:
    return {
        "candles": found.candles,
        "wax_g": rounded(found.wax_g),
        "lines": [_line(one) for one in found.lines],
        "amount": _known(found.amount, complete=not found.missing),
        "text": _text(found.amount, complete=not found.missing),
        "missing": [*found.missing],
    }


def _line(one: CostLine) -> CostLineMessage:
    return {
        "what": one.what,
        "used": rounded(one.used),
        "unit": None if one.what in (WICK, VESSEL) else "g",
        "amount": _known(one.amount, complete=one.complete),
        "complete": one.complete,
        "text": _text(one.amount, complete=one.complete),
    }


def _known(amount: float, *, complete: bool) -> float | None:
    """None where no price at all is known: that is not nothing."""
    return round(amount, 2) if complete or amount > 0.0 else None


def _text(amount: float, *, complete: bool) -> str:
    if _known(amount, complete=complete) is None:
        return "no price"
    return f"{'' if complete else 'at least '}{amount:.2f}"
