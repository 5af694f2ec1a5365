"""Figures of several burns made comparable: the same room, their mean, what differs clearly."""

import math
from collections.abc import Sequence
from dataclasses import dataclass

from logger.burn.evidence import BurnEvidence
from logger.conditioning.student import student_t
from logger.conditioning.uncertainty import COVERAGE, rectangular

ROOM_SHARE, ROOM_SHARE_HALF_WIDTH = 0.93, 0.08
"""By how much a wall follows its room, kelvin for kelvin. The same flame heats it, and a warmer
wall radiates more: a black one 40 K above its room follows by some 0.85, one of bright metal, which
only convection cools, by 1.01 (reckoned with the package ht in tests/reference/test_same_room.py).
"""

LEVEL = 0.95


@dataclass(frozen=True, slots=True, kw_only=True)
class ComparedFigure:
    """A figure and its standard uncertainty, of one candle or the mean of several."""

    value: float
    standard_uncertainty: float
    candles: int = 1

    @property
    def expanded(self) -> float:
        """Expanded uncertainty, k = 2."""
        return COVERAGE * self.standard_uncertainty

    def below(self, limit: float) -> "ComparedFigure":
        """How far it lies below a limit that is known exactly."""
        return ComparedFigure(
            value=limit - self.value,
            standard_uncertainty=self.standard_uncertainty,
            candles=self.candles,
        )

    def minus(self, other: "ComparedFigure") -> "ComparedFigure":
        """The difference, taken as of independent figures (GUM 5.1.2).

        Where one instrument read both, part of its error cancels: the true uncertainty is smaller.
        """
        return ComparedFigure(
            value=self.value - other.value,
            standard_uncertainty=math.hypot(self.standard_uncertainty, other.standard_uncertainty),
            candles=min(self.candles, other.candles),
        )

    def less_sure_by(self, standard_uncertainty: float) -> "ComparedFigure":
        """The same, with one more independent component of uncertainty."""
        u = math.hypot(self.standard_uncertainty, standard_uncertainty)
        return ComparedFigure(value=self.value, standard_uncertainty=u, candles=self.candles)

    @property
    def clear(self) -> bool:
        """Whether it differs from zero by more than its expanded uncertainty."""
        return abs(self.value) > self.expanded


def mean_of(figures: Sequence[ComparedFigure]) -> ComparedFigure | None:
    """The mean of several candles; None of none.

    What is off for all alike is as large as the largest of them. How the candles scatter comes on
    top, by Student's t so that twice the standard uncertainty still is an interval of 95 %.
    """
    if not figures:
        return None
    count = len(figures)
    mean = math.fsum(one.value for one in figures) / count
    alike = max(one.standard_uncertainty for one in figures)
    scatter = 0.0
    if count > 1:
        squares = math.fsum((one.value - mean) ** 2 for one in figures)
        reach = student_t(0.5 * (1.0 + LEVEL), count - 1) / COVERAGE
        scatter = reach * math.sqrt(squares / (count - 1) / count)
    return ComparedFigure(
        value=mean, standard_uncertainty=math.hypot(alike, scatter), candles=count
    )


def room_of(evidence: BurnEvidence) -> ComparedFigure | None:
    """The room in which the burn was the hottest; None where it was not measured."""
    found = evidence.warmest
    if found is None:
        return None
    return ComparedFigure(value=found.room_c, standard_uncertainty=found.room_u_k)


def peak_in(evidence: BurnEvidence, room_c: float) -> ComparedFigure | None:
    """What the hottest measured place of a burn would have reached in a room of `room_c`.

    A room that was not measured is anywhere within the maker's own limits for it. None where no
    place on the vessel was measured.
    """
    found, hottest = evidence.warmest, evidence.burn.hottest
    if found is not None:
        value_c, u_k = found.peak_c, found.peak_u_k
        was_c, was_u_k = found.room_c, found.room_u_k
    elif hottest is not None:
        limits = evidence.limits
        value_c, u_k = hottest.value_c, hottest.standard_uncertainty_c
        was_c = 0.5 * (limits.room_low_c + limits.room_high_c)
        was_u_k = rectangular(0.5 * (limits.room_high_c - limits.room_low_c))
    else:
        return None
    warmer_k = room_c - was_c
    return ComparedFigure(
        value=value_c + ROOM_SHARE * warmer_k,
        standard_uncertainty=math.hypot(
            u_k, was_u_k, rectangular(ROOM_SHARE_HALF_WIDTH * abs(warmer_k))
        ),
    )
