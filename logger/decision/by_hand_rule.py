"""The rule by which a burn that was read by hand alone can pass, as weaker evidence.

A person reads now and then. Two things make up for it: readings must be frequent where it matters,
and the guard band is widened by what may have happened between two of them. For that the place's
own course is fitted through its readings, with the disturbances that forecasts count on: what an
Ornstein-Uhlenbeck process does between two known values (its bridge, any textbook), scaled by the
scatter of the readings about the course.
"""

import math
from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from itertools import pairwise

from logger.burn.evidence import BurnEvidence, Coverage
from logger.burn.expected import DRAUGHTS, UNSEEN_ROOM
from logger.burn.forecast import BurnForecast
from logger.burn.heat import WarmUp
from logger.conditioning.uncertainty import COVERAGE
from logger.decision.sides import is_wall, two_sides
from logger.quantities import Estimate
from logger.words import duration

# How often a place is read: all our choice, as the slack that a person's hands need.
EVERY_S, EVERY_SLACK_S = 1800.0, 300.0
OFTEN_S, OFTEN_SLACK_S = 600.0, 120.0  # near the limit, and in the last half hour
LATE_S = 1800.0
STEPS = 8  # between two readings at which the fitted course is looked at


@dataclass(frozen=True, slots=True, kw_only=True)
class HandRead:
    """What readings by hand amount to."""

    will_do: bool  # they were frequent enough, on two sides
    why_not: str = ""
    widened_k: float = 0.0  # by what may have happened between them


def read_by_hand(evidence: BurnEvidence) -> HandRead:
    """Whether readings by hand were frequent enough, and what may have happened between them."""
    walls = [
        seen for seen in evidence.on_vessel if seen.by_hand and seen.measured and is_wall(seen)
    ]
    if not walls:
        return HandRead(will_do=False, why_not="no wall place was read by hand")
    walls.sort(key=lambda seen: -len(seen.readings))
    late = [next(_too_far_apart(seen, evidence), "") for seen in walls]
    often = [seen for seen, why in zip(walls, late, strict=True) if not why]
    if not two_sides([seen.channel.place.clock for seen in often]):
        told = "only one side was read often enough" if often else late[0]
        return HandRead(will_do=False, why_not=told)
    return HandRead(will_do=True, widened_k=max(widened_k(seen, evidence) for seen in often))


def _too_far_apart(seen: Coverage, evidence: BurnEvidence) -> Iterator[str]:
    lit_s, until_s, place = evidence.burn.lit_s, evidence.until_s, seen.channel.place
    alert_c = evidence.limits.of(evidence.burn.material).alert_c
    ends: list[tuple[float, float | None]] = [
        (lit_s, None),
        *((one.at_s, one.upper) for one in seen.readings),
        (until_s, None),
    ]
    for (from_s, before_c), (to_s, after_c) in pairwise(ends):
        near = max(before_c or 0.0, after_c or 0.0) >= alert_c
        allowed_s = OFTEN_S + OFTEN_SLACK_S if near else EVERY_S + EVERY_SLACK_S
        at_the_end_s = to_s - max(from_s, until_s - LATE_S)
        if to_s - from_s > allowed_s or at_the_end_s > OFTEN_S + OFTEN_SLACK_S:
            yield (
                f"{place} was not read for {duration(to_s - from_s)}, from "
                f"{duration(from_s - lit_s)} after lighting on"
            )


def widened_k(seen: Coverage, evidence: BurnEvidence) -> float:
    """How far a place may have been over its highest reading, between two or after the last."""
    readings = seen.readings
    if not readings:
        return 0.0
    fit, scale = _fitted(readings, evidence.burn.lit_s)
    highest_c = max(one.value or 0.0 for one in readings)
    bounds = [
        max(before.value or 0.0, after.value or 0.0)
        + _hump_k(fit, before.at_s, after.at_s, evidence.burn.lit_s)
        + COVERAGE * scale * _bridge_sd_k(after.at_s - before.at_s)
        for before, after in pairwise(readings)
    ]
    last = readings[-1]
    rest_s = max(evidence.until_s - last.at_s, 0.0)
    bounds.append(
        (last.value or 0.0)
        + _hump_k(fit, last.at_s, evidence.until_s, evidence.burn.lit_s, open_end=True)
        + COVERAGE * scale * _open_sd_k(rest_s)
    )
    return max(*bounds, highest_c) - highest_c


def _fitted(readings: Sequence[Estimate], lit_s: float) -> tuple[WarmUp | None, float]:
    """The place's course, and how its disturbances compare with what is expected of any."""
    follows = BurnForecast(lit_s)
    for one in readings:
        follows.see_wall(one)
    fit = follows.fit(readings[0].channel)
    return fit, 1.0 if fit is None else max(fit.noise_k / DRAUGHTS.sd_k, 1.0)


def _hump_k(
    fit: WarmUp | None, from_s: float, to_s: float, lit_s: float, *, open_end: bool = False
) -> float:
    """How far the course goes above the readings on either side of a time."""
    if fit is None or to_s <= from_s:
        return 0.0
    course = [
        _course_k(fit, from_s - lit_s + step / STEPS * (to_s - from_s)) for step in range(STEPS + 1)
    ]
    known = course[:1] if open_end else [course[0], course[-1]]
    return max(course) - max(known)


def _course_k(fit: WarmUp, t_s: float) -> float:
    return (
        fit.start_k
        - fit.fast_k * math.expm1(-t_s / fit.fast_s)
        - fit.slow_k * math.expm1(-t_s / fit.slow_s)
    )


_DISTURBANCES = (DRAUGHTS, UNSEEN_ROOM)


def _bridge_sd_k(apart_s: float) -> float:
    """Of what comes and goes, half-way between two readings that are `apart_s`."""
    return math.sqrt(
        sum(one.sd_k**2 * math.tanh(0.5 * apart_s / one.tau_s) for one in _DISTURBANCES)
    )


def _open_sd_k(since_s: float) -> float:
    """Of what comes and goes, so long after the last reading."""
    return math.sqrt(
        sum(-(one.sd_k**2) * math.expm1(-2.0 * since_s / one.tau_s) for one in _DISTURBANCES)
    )
