"""[pure] The bench plan as the JSON object that HTTP hands out, and in lines for a person."""

from collections.abc import Iterator
from typing import Annotated

from typing_extensions import Doc, TypedDict

from logger.messages import rounded
from logger.planning.bench_plan import PlannedBurn
from logger.planning.maker_plan import Doing, MakerPlan, Moment
from logger.planning.slips import Slip, VerdictShift
from logger.planning.supplies import Supply
from logger.timestamps import clock, day_words, rfc3339
from logger.words import Words, duration


class MomentMessage(TypedDict):
    """Something that a person is to do."""

    at: str
    doing: Doing
    station: str
    trial: str
    tester: str
    text: str


class PlannedBurnMessage(TypedDict):
    """A burn to come, or the rest of one that is lit."""

    trial: str
    tester: str
    station: str
    lit: str
    marks: Annotated[list[str], Doc("times at which somebody looks")]
    out: str
    cold: Annotated[str, Doc("from when it may be weighed, moved and lit again")]
    running: Annotated[bool, Doc("it is lit")]
    why: str


class OpenTrialMessage(TypedDict):
    """A trial that still needs burns."""

    trial: str
    needs: str
    verdict: Annotated[str | None, Doc("the earliest; null where not all its burns found a place")]
    notes: Annotated[list[str], Doc("what was assumed")]


class SupplyMessage(TypedDict):
    """What candles that are still to be poured take together."""

    what: str
    name: str
    grams: float | None
    pieces: int | None


class PlanMessage(TypedDict):
    """Who burns what, where and when."""

    at: str
    next: Annotated[list[MomentMessage], Doc("due now or within 30 min, across the bench")]
    burns: Annotated[list[PlannedBurnMessage], Doc("in order of lighting")]
    no_place: Annotated[list[str], Doc("testers whose burns fit into no day")]
    trials: list[OpenTrialMessage]
    slipped: Annotated[list[str], Doc("what went otherwise today")]
    costs: Annotated[list[str], Doc("what that does to the verdicts")]
    supplies: list[SupplyMessage]
    unknown: Annotated[list[str], Doc("supplies that no record names")]


def plan_message(found: MakerPlan) -> PlanMessage:
    """All of a plan."""
    return {
        "at": rfc3339(found.at_s, digits=0),
        "next": [_moment(one) for one in found.next_up],
        "burns": [_burn(one) for one in found.plan.burns],
        "no_place": [f"{one.tester} of {one.trial}" for one in found.plan.unplaced],
        "trials": [
            {
                "trial": one.name,
                "needs": one.needs,
                "verdict": None
                if (at_s := found.plan.verdict_s.get(one.name)) is None
                else rfc3339(at_s, digits=0),
                "notes": list(one.notes),
            }
            for one in found.trials
        ],
        "slipped": _slipped(found),
        "costs": [_cost(one) for one in found.shifts],
        "supplies": [_supply(one) for one in found.supplies],
        "unknown": list(found.unknown),
    }


def _moment(one: Moment) -> MomentMessage:
    return {
        "at": rfc3339(one.at_s, digits=0),
        "doing": one.doing,
        "station": one.burn.station,
        "trial": one.burn.trial,
        "tester": one.burn.tester,
        "text": one.text,
    }


def _burn(one: PlannedBurn) -> PlannedBurnMessage:
    return {
        "trial": one.trial,
        "tester": one.tester,
        "station": one.station,
        "lit": rfc3339(one.lit_s, digits=0),
        "marks": [rfc3339(at_s, digits=0) for at_s in one.marks_s],
        "out": rfc3339(one.out_s, digits=0),
        "cold": rfc3339(one.cold_s, digits=0),
        "running": one.running,
        "why": one.why,
    }


def _supply(one: Supply) -> SupplyMessage:
    return {
        "what": one.what,
        "name": one.name,
        "grams": rounded(one.grams),
        "pieces": one.pieces,
    }


def _slipped(found: MakerPlan) -> list[str]:
    """What went otherwise today: burns, then looks."""
    looks = (
        f"{one.tester or one.station} of {one.trial}: nobody looked at {duration(one.mark_s)}"
        for one in found.missed
    )
    return [*map(_slip, found.slips), *looks]


def _slip(one: Slip) -> str:
    planned = one.planned
    name = f"{planned.tester} of {planned.trial}, planned for {clock(planned.lit_s)}"
    if one.lit_s is None:
        return f"{name}: not lit so far"
    said = []
    if one.late_s:
        said.append(f"lit at {clock(one.lit_s)}")
    if one.short_s > 0.0:
        said.append(f"out {duration(one.short_s)} before its planned length")
    return f"{name}: {', '.join(said)}"


def _cost(one: VerdictShift) -> str:
    if one.now_s is None:
        return f"{one.trial}: no verdict is in sight any more; not all its burns find a place"
    if one.later_s is None:
        return f"{one.trial}: verdict possible from {day_words(one.now_s)}"
    way = "later" if one.later_s > 0.0 else "earlier"
    return (
        f"{one.trial}: verdict {duration(abs(one.later_s))} {way}, from {day_words(one.now_s)}, "
        f"{clock(one.now_s)}"
    )


def plan_lines(found: MakerPlan, words: Words) -> Iterator[str]:
    """All of it in lines, what comes next first."""
    yield from next_lines(found)
    for line in _slipped(found):
        yield f"slipped: {line}"
    for line in map(_cost, found.shifts):
        yield f"which costs: {line}"
    day = ""
    for one in found.plan.burns:
        if day != (day := day_words(one.lit_s)):
            yield day
        marks = " ".join(map(clock, one.marks_s))
        yield (
            f"  {clock(one.lit_s)}  {one.station}  {one.tester} of {one.trial}"
            f"{' (lit)' if one.running else ''}; look {marks or 'at its end'}; "
            f"out {clock(one.out_s)}; cold {clock(one.cold_s)}"
        )
    for trial in found.trials:
        at_s = found.plan.verdict_s.get(trial.name)
        when = "no date yet" if at_s is None else f"from {day_words(at_s)}"
        yield f"{trial.name}: {trial.needs}; verdict {when}"
        for note in trial.notes:
            yield f"  assumed: {note}"
    for demand in found.plan.unplaced:
        yield f"no place within your hours: {demand.tester} of {demand.trial}"
    yield from supply_lines(found, words)


def next_lines(found: MakerPlan) -> Iterator[str]:
    """The next half hour across the bench."""
    for one in found.next_up:
        when = "now" if one.at_s <= found.at_s else clock(one.at_s)
        yield f"{when}: {one.text}"
    if not found.next_up:
        yield "nothing is due within 30 min"


def supply_lines(found: MakerPlan, words: Words) -> Iterator[str]:
    """What must be at hand."""
    for one in found.supplies:
        amount = str(one.pieces) if one.grams is None else words.mass(one.grams)
        yield f"needed: {one.what} {one.name}, {amount}"
    for part in found.unknown:
        yield f"needed, and not on the shelf: {part}"
