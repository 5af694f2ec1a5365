"""A bench plan with what it rests on: open trials, slips and their cost, supplies, what is next."""

from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from enum import StrEnum

from logger.planning.bench_plan import BenchPlan, CandleDemand, PlannedBurn
from logger.planning.slips import MissedMark, Slip, VerdictShift
from logger.planning.supplies import Recipe, Supply, supplies
from logger.words import duration

SOON_S = 1800.0  # what lies ahead is shown for half an hour (our choice)


@dataclass(frozen=True, slots=True, kw_only=True)
class OpenTrial:
    """A trial without its verdict, or with one that new lots have left behind."""

    name: str
    needs: str  # in words
    demands: tuple[CandleDemand, ...]
    to_pour: tuple[Recipe, ...] = ()
    notes: tuple[str, ...] = ()  # what the plan had to assume


class Doing(StrEnum):
    """What a person does at a moment of a plan."""

    LIGHT = "light"
    LOOK = "look"
    OUT = "put out"


@dataclass(frozen=True, slots=True, kw_only=True)
class Moment:
    """One thing that a person is to do."""

    at_s: float
    doing: Doing
    burn: PlannedBurn
    mark_s: float | None = None  # of being lit, of a look

    @property
    def text(self) -> str:
        """In a few words: "look at jar-b (C1), 2 h"."""
        where = f"{self.burn.station} ({self.burn.tester or self.burn.trial})"
        match self.doing:
            case Doing.LIGHT:
                return f"light {self.burn.tester} of {self.burn.trial} at {self.burn.station}"
            case Doing.LOOK:
                return f"look at {where}, {duration(self.mark_s or 0.0)}"
            case Doing.OUT:
                return f"put out {where}"


def moments(burns: Sequence[PlannedBurn]) -> list[Moment]:
    """All of `burns`, in order of time."""
    return sorted(
        (one for burn in burns for one in _moments(burn)),
        key=lambda one: (one.at_s, one.burn.station),
    )


def _moments(burn: PlannedBurn) -> Iterator[Moment]:
    if not burn.running:
        yield Moment(at_s=burn.lit_s, doing=Doing.LIGHT, burn=burn)
    for at_s in burn.marks_s:
        yield Moment(at_s=at_s, doing=Doing.LOOK, burn=burn, mark_s=at_s - burn.lit_s)
    yield Moment(at_s=burn.out_s, doing=Doing.OUT, burn=burn)


@dataclass(frozen=True, slots=True, kw_only=True)
class MakerPlan:
    """The days to come, as page, sheet and terminal show them."""

    at_s: float
    plan: BenchPlan
    trials: tuple[OpenTrial, ...]
    slips: tuple[Slip, ...] = ()  # of today
    missed: tuple[MissedMark, ...] = ()  # so
    shifts: tuple[VerdictShift, ...] = ()  # that they cost

    @property
    def next_up(self) -> list[Moment]:
        """What is due now or within half an hour, across the bench."""
        return [one for one in moments(self.plan.burns) if one.at_s <= self.at_s + SOON_S]

    @property
    def supplies(self) -> tuple[Supply, ...]:
        """What the candles that are still to be poured take."""
        return supplies(recipe for trial in self.trials for recipe in trial.to_pour)

    @property
    def unknown(self) -> tuple[str, ...]:
        """Parts of them that no record names."""
        found = (
            f"{part} of {trial.name}"
            for trial in self.trials
            for recipe in trial.to_pour
            for part in recipe.unknown
        )
        return tuple(dict.fromkeys(found))
