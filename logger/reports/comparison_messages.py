"""[pure] Trials compared, as the JSON object that HTTP and commands hand out."""

from collections.abc import Mapping
from typing import Annotated

from typing_extensions import Doc, TypedDict

from logger.decision.compared import (
    FIGURES,
    ComparedCriterion,
    ComparedTrial,
    Comparison,
    TrialDifference,
)
from logger.decision.criteria import Outcome
from logger.decision.ranking import in_a_sentence, ranking, remarks
from logger.decision.same_room import ComparedFigure
from logger.messages import rounded
from logger.words import Words, duration

UNITS: Mapping[str, str] = {
    "peak": "degC",
    "margin": "delta_degC",
    "consumption": "g/h",
    "full-pool": "s",
}


class FigureMessage(TypedDict):
    """One figure of a trial; `text` is in the maker's units."""

    figure: str
    title: str
    value: float
    expanded_uncertainty: Annotated[float, Doc("k = 2")]
    unit: str
    candles: Annotated[int, Doc("that it is the mean of")]
    text: str


class ComparedCriterionMessage(TypedDict):
    """One criterion on a whole trial."""

    criterion: str
    title: str
    outcome: Outcome
    reason: Annotated[str, Doc("empty where no burn was judged by it")]
    burn: Annotated[str | None, Doc("that it rests on")]
    value: float | None
    least: float | None
    limit: float | None
    margin: Annotated[float | None, Doc("to the nearer end of what is allowed")]
    unit: str | None


class ComparedDayMessage(TypedDict):
    """The burns of one number in the life of their candles."""

    number: Annotated[int, Doc("1 is the first of a candle")]
    burns: list[str]
    peak: Annotated[FigureMessage | None, Doc("in the same room")]


class ComparedTrialMessage(TypedDict):
    """One trial among others, the best first."""

    trial: str
    label: Annotated[str, Doc("what it is called here: its wick on a client's page")]
    rank: Annotated[int | None, Doc("null before its first burn; equal ones have one rank")]
    reason: str
    outcome: Outcome
    burns: int
    hours: float
    shared_pour: bool
    wax_level_mm: Annotated[float | None, Doc("when the first of them was lit")]
    limit: Annotated[float | None, Doc("the maker's own, degC")]
    warmest_room_bound: Annotated[float | None, Doc("at most in the warmest room, degC")]
    warmest_room: Annotated[str, Doc("the same in words")]
    figures: list[FigureMessage]
    criteria: list[ComparedCriterionMessage]
    days: list[ComparedDayMessage]


class TrialDifferenceMessage(TypedDict):
    """One figure of two trials."""

    figure: str
    one: str
    other: str
    value: Annotated[float, Doc("of `one` above `other`")]
    expanded_uncertainty: float
    unit: str
    clear: Annotated[bool, Doc("larger than its expanded uncertainty; else they are equal")]
    not_comparable: Annotated[str | None, Doc("why not")]
    text: str


class ComparisonMessage(TypedDict):
    """Trials side by side."""

    sentence: Annotated[str, Doc("what it says, for a client")]
    room: Annotated[float, Doc("that all are referred to, degC")]
    burns_compared: Annotated[int, Doc("of each candle: as many as all have")]
    trials: list[ComparedTrialMessage]
    differences: list[TrialDifferenceMessage]
    remarks: list[str]


def comparison(found: Comparison, words: Words) -> ComparisonMessage:
    """Trials side by side, the best first."""
    ranked = ranking(found, words)
    return {
        "sentence": in_a_sentence(found, ranked, words),
        "room": rounded(found.room_c),
        "burns_compared": found.first,
        "trials": [_trial(found, one.trial, one.rank, one.reason, words) for one in ranked],
        "differences": [_difference(one, words) for one in found.differences],
        "remarks": [*remarks(found, words)],
    }


def figure_text(figure: str, found: ComparedFigure, words: Words) -> str:
    """A figure in words, with its expanded uncertainty."""
    within = _value(figure, found.expanded, words, off=True)
    return f"{_value(figure, found.value, words)} ± {_bare(figure, within)}"


def _value(figure: str, value: float, words: Words, *, off: bool = False) -> str:
    match figure:
        case "peak" if not off:
            return words.temperature(value)
        case "consumption":
            return f"{words.rate(value)}/h"
        case "full-pool":
            return duration(value)
    return words.difference(value)


def _bare(figure: str, text: str) -> str:
    """Without the unit, which stands before it; a duration keeps its own."""
    return text if figure == "full-pool" else text.rpartition(" ")[0]


def _trial(
    found: Comparison, one: ComparedTrial, rank: int | None, reason: str, words: Words
) -> ComparedTrialMessage:
    rooms = [evidence.warmest for evidence in one.facts.burns if evidence.warmest]
    warmest = max(rooms, key=lambda room: room.bound_c, default=None)
    return {
        "trial": one.facts.name,
        "label": one.label,
        "rank": rank,
        "reason": reason,
        "outcome": one.outcome,
        "burns": len(one.facts.burns),
        "hours": rounded(one.facts.hours),
        "shared_pour": one.shared_pour,
        "wax_level_mm": rounded(one.level_mm),
        "limit": rounded(one.limit_c),
        "warmest_room_bound": rounded(one.warmest_c),
        "warmest_room": ""
        if warmest is None
        else f"{words.temperature(warmest.bound_c)} in {words.temperature(warmest.room_limit_c)}",
        "figures": [_figure(key, figure, words) for key, figure in one.figures.items()],
        "criteria": [
            _criterion(name, found.criteria[name], judged) for name, judged in one.criteria.items()
        ],
        "days": [
            {
                "number": day.number,
                "burns": [evidence.burn.short_id for evidence in day.evidence],
                "peak": None if day.peak is None else _figure("peak", day.peak, words),
            }
            for day in one.days
        ],
    }


def _criterion(name: str, title: str, found: ComparedCriterion) -> ComparedCriterionMessage:
    judged = found.judgement
    return {
        "criterion": name,
        "title": title,
        "outcome": found.outcome,
        "reason": judged.reason if judged else "",
        "burn": judged.burn if judged else None,
        "value": rounded(judged.value) if judged else None,
        "least": rounded(judged.least) if judged else None,
        "limit": rounded(judged.limit) if judged else None,
        "margin": rounded(found.margin),
        "unit": judged.unit if judged else None,
    }


def _figure(key: str, found: ComparedFigure, words: Words) -> FigureMessage:
    return {
        "figure": key,
        "title": FIGURES[key],
        "value": rounded(found.value),
        "expanded_uncertainty": rounded(found.expanded),
        "unit": UNITS[key],
        "candles": found.candles,
        "text": figure_text(key, found, words),
    }


def _difference(one: TrialDifference, words: Words) -> TrialDifferenceMessage:
    unit = UNITS[one.figure]
    apart = _value(one.figure, abs(one.found.value), words, off=True)
    within = _value(one.figure, one.found.expanded, words, off=True)
    said = f"{apart} ± {_bare(one.figure, within)}"
    if one.unlike:
        text = f"not comparable: {one.unlike}"
    elif one.clear:
        text = f"{'more' if one.found.value > 0.0 else 'less'} by {said}"
    else:
        text = f"equal within the uncertainty ({said})"
    text += f"; {one.stations}" if one.stations else ""
    return {
        "figure": one.figure,
        "one": one.one,
        "other": one.other,
        "value": rounded(one.found.value),
        "expanded_uncertainty": rounded(one.found.expanded),
        "unit": "delta_degC" if unit == "degC" else unit,
        "clear": one.clear,
        "not_comparable": one.unlike or None,
        "text": text,
    }
