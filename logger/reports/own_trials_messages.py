"""[pure] All of the maker's own trials, as JSON and in lines."""

from collections.abc import Iterator, Sequence
from typing import Annotated

from typing_extensions import Doc, TypedDict

from logger.decision.criteria import Outcome
from logger.decision.own_trials import OwnTrial
from logger.decision.same_room import ComparedFigure
from logger.messages import rounded
from logger.words import Words


class OwnFigureMessage(TypedDict):
    """A figure of a trial, the mean of its candles."""

    value: float
    expanded_uncertainty: Annotated[float, Doc("k = 2")]
    candles: int


class OwnTrialMessage(TypedDict):
    """What one trial showed."""

    trial: str
    inner_diameter: Annotated[float, Doc("of its vessel, mm")]
    series: Annotated[str, Doc("of its wick")]
    wick: str
    formula: str
    verdict: Outcome
    rise: Annotated[OwnFigureMessage | None, Doc("hottest measured place above the room, K")]
    consumption: Annotated[OwnFigureMessage | None, Doc("g/h")]


class OwnTrialsMessage(TypedDict):
    """All own trials, by width of the vessel."""

    trials: list[OwnTrialMessage]


def own_trials_message(found: Sequence[OwnTrial]) -> OwnTrialsMessage:
    """All of `found`."""
    return {
        "trials": [
            {
                "trial": one.trial,
                "inner_diameter": rounded(one.inner_diameter_mm),
                "series": one.series,
                "wick": one.wick,
                "formula": one.formula,
                "verdict": one.outcome,
                "rise": _figure(one.rise_k),
                "consumption": _figure(one.rate_g_per_h),
            }
            for one in found
        ]
    }


def _figure(found: ComparedFigure | None) -> OwnFigureMessage | None:
    if found is None:
        return None
    return {
        "value": rounded(found.value),
        "expanded_uncertainty": rounded(found.expanded),
        "candles": found.candles,
    }


def own_trial_lines(found: Sequence[OwnTrial], words: Words) -> Iterator[str]:
    """A line for each trial."""
    for one in found:
        made = ", ".join(part for part in (one.series, one.wick, one.formula) if part)
        parts = [f"{words.fine_length(one.inner_diameter_mm)}  {one.trial}", made, str(one.outcome)]
        if one.rise_k is not None:
            rise, off = (words.difference(k) for k in (one.rise_k.value, one.rise_k.expanded))
            parts.append(f"{rise} ± {off.rpartition(' ')[0]} above the room")
        if one.rate_g_per_h is not None:
            rate = words.rate(one.rate_g_per_h.value, one.rate_g_per_h.expanded)
            parts.append(f"{rate} an hour")
        yield "; ".join(part for part in parts if part)
    if not found:
        yield "no trial yet has a vessel of known inner diameter and a measured burn"
