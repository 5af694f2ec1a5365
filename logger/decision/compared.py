"""What a comparison of trials holds."""

from collections.abc import Mapping
from dataclasses import dataclass, field, replace

from logger.burn.evidence import BurnEvidence
from logger.decision.criteria import Judgement, Outcome
from logger.decision.same_room import ComparedFigure
from logger.decision.trial_facts import TrialFacts
from logger.decision.wax_levels import LevelSlope

FIGURES = {
    "peak": "Hottest measured place, in the same room",
    "margin": "Below the maker's limit, in the same room",
    "consumption": "Wax used in an hour",
    "full-pool": "Melt pool full after",
}
"""What is compared, with its title, each with an uncertainty; temperatures in degC, g/h, s."""


@dataclass(frozen=True, slots=True, kw_only=True)
class ComparedCriterion:
    """What one criterion says of a whole trial; figures are those of the judgement it rests on."""

    outcome: Outcome
    judgement: Judgement | None  # None: no burn was judged by it

    @property
    def margin(self) -> float | None:
        """To the nearer end of what is allowed, in the judgement's unit; below zero beyond it."""
        return None if self.judgement is None else self.judgement.margin


@dataclass(frozen=True, slots=True, kw_only=True)
class ComparedDay:
    """The burns of one number in the life of their candles: first, second, ..."""

    number: int
    peak: ComparedFigure | None  # in the same room, the mean of the candles
    evidence: tuple[BurnEvidence, ...]


@dataclass(frozen=True, slots=True, kw_only=True)
class ComparedTrial:
    """One trial among others."""

    facts: TrialFacts
    label: str
    criteria: Mapping[str, ComparedCriterion]  # by name of the criterion
    figures: Mapping[str, ComparedFigure]  # by key of FIGURES, of the comparable burns
    days: tuple[ComparedDay, ...]
    shared_pour: bool  # whether the burns of these days were on one
    level_mm: float | None  # of the wax when the first of them was lit

    @property
    def outcome(self) -> Outcome:
        """Of all its burns."""
        return self.facts.verdict.outcome

    @property
    def limit_c(self) -> float | None:
        """The maker's limit for its vessel, as of its latest burn."""
        if not self.facts.burns:
            return None
        latest = self.facts.burns[-1]
        return latest.limits.of(latest.burn.material).limit_c

    @property
    def warmest_c(self) -> float | None:
        """At most in the warmest room, over all its burns; None where no room was measured."""
        bounds = (one.warmest.bound_c for one in self.facts.burns if one.warmest)
        return max(bounds, default=None)

    def comparable(self, first: int) -> list[BurnEvidence]:
        """Its burns up to that number in the life of their candle."""
        return [one for day in self.days[:first] for one in day.evidence]


@dataclass(frozen=True, slots=True, kw_only=True)
class TrialDifference:
    """One figure of two trials: by how much the first is above the second."""

    figure: str
    one: str  # names of trials
    other: str
    found: ComparedFigure
    unlike: str = ""  # why the two are not comparable
    stations: str = ""  # what it means that they were burned on other stations

    @property
    def clear(self) -> bool:
        """Larger than its expanded uncertainty; otherwise the two are called equal."""
        return not self.unlike and self.found.clear


@dataclass(frozen=True, slots=True, kw_only=True)
class Comparison:
    """Trials side by side."""

    room_c: float  # that all peaks are referred to
    first: int  # burns of each candle that are compared: as many as all have
    trials: tuple[ComparedTrial, ...]
    criteria: Mapping[str, str] = field(default_factory=dict)  # titles by name, in order
    differences: tuple[TrialDifference, ...] = ()
    slope: LevelSlope | None = None  # by which wax levels were corrected

    def difference(self, figure: str, one: str, other: str) -> TrialDifference | None:
        """Of a figure, `one` above `other`; None where it is not known of both."""
        for found in self.differences:
            if found.figure == figure and {found.one, found.other} == {one, other}:
                if found.one == one:
                    return found
                turned = replace(found.found, value=-found.found.value)
                return replace(found, one=one, other=other, found=turned)
        return None
