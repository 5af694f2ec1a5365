"""Wicks of a shared pour burn at a level that sinks: which are comparable, and by what correction.

The deeper the wax, the hotter the wall (common practice): a wick that had its turn later had it
harder.
"""

import math
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace

from logger.burn.evidence import BurnEvidence
from logger.burn.straight_line import straight_line
from logger.conditioning.student import student_t
from logger.conditioning.uncertainty import COVERAGE, rectangular
from logger.decision.same_room import LEVEL, ComparedFigure, peak_in
from logger.decision.trial_facts import TrialFacts

ALIKE_MM = 5.0  # of wax level at lighting: farther apart two wicks were not tried alike
FEWEST_BURNS = 4  # of a candle of its own, for a slope that has a scatter of its own (our choice)
LEAST_SPREAD_MM = 10.0  # between their levels (our choice)
OTHER_WICK = 0.5  # the slope of one wick stands for another's to half of itself (our choice)


@dataclass(frozen=True, slots=True, kw_only=True)
class LevelSlope:
    """How the peak of a candle of its own changed as its wax sank."""

    trial: str
    k_per_mm: float
    standard_uncertainty: float

    def at(self, figure: ComparedFigure, from_mm: float, to_mm: float) -> ComparedFigure:
        """A peak at the level `from_mm` as it would be at `to_mm`."""
        step_mm = to_mm - from_mm
        of_slope = math.hypot(
            self.standard_uncertainty, rectangular(OTHER_WICK * abs(self.k_per_mm))
        )
        return replace(
            figure,
            value=figure.value + self.k_per_mm * step_mm,
            standard_uncertainty=math.hypot(figure.standard_uncertainty, of_slope * step_mm),
        )


def level_mm(evidence: BurnEvidence) -> float | None:
    """The wax above the outside base when the burn began: as stated, else as first seen."""
    stated = evidence.burn.circumstances.wax_level_mm
    if stated is not None:
        return stated
    seen = (one.look.wax_level_mm for one in evidence.looks)
    return next((level for level in seen if level is not None), None)


def level_slope(trials: Sequence[TrialFacts], room_c: float) -> LevelSlope | None:
    """The slope of the candle of its own that fixes it best; None where none does."""
    found = [
        slope
        for facts in trials
        for burns in _own_candles(facts).values()
        if (slope := _slope(facts.name, burns, room_c))
    ]
    return min(found, key=lambda one: one.standard_uncertainty, default=None)


def _own_candles(facts: TrialFacts) -> Mapping[tuple[str, str], list[BurnEvidence]]:
    found: dict[tuple[str, str], list[BurnEvidence]] = {}
    for evidence in facts.burns:
        if not evidence.burn.shared_pour:
            found.setdefault(evidence.burn.candle, []).append(evidence)
    return found


def _slope(trial: str, burns: Sequence[BurnEvidence], room_c: float) -> LevelSlope | None:
    points = [
        (level, peak.value)
        for one in burns
        if (level := level_mm(one)) is not None and (peak := peak_in(one, room_c))
    ]
    levels = [level for level, _ in points]
    if len(points) < FEWEST_BURNS or max(levels) - min(levels) < LEAST_SPREAD_MM:
        return None
    line = straight_line(points)
    if line is None or line.slope_sd is None:
        return None
    reach = student_t(0.5 * (1.0 + LEVEL), line.count - 2) / COVERAGE
    return LevelSlope(trial=trial, k_per_mm=line.slope, standard_uncertainty=reach * line.slope_sd)
