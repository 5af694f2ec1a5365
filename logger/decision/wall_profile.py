"""What the wall's own profile says of a place that reads too low, and of what nobody measured.

A wick that stands off its axis heats one side more, by about the same share at every height. A
place that falls out of that share against another side feels less than its wall: a bead that hangs
half off. A side that was not measured may be the one that is heated more; and below the lowest
place of a side the wall may climb on.
"""

import math
from collections.abc import Iterator
from itertools import combinations
from statistics import median

from logger.burn.coverage import SIDES, side_of
from logger.burn.evidence import BurnEvidence, Coverage
from logger.conditioning.uncertainty import COVERAGE
from logger.decision.heat_criteria import least_guard_k
from logger.decision.missing import Missing
from logger.decision.pool_line import NEAR_MM, near_the_wax, wax_level_mm
from logger.quantities import Position

OUT_OF_LINE = 0.05  # of the rise, beyond the uncertainty, against the other heights (our choice)
FEWEST_HEIGHTS = 3  # on both sides: of two nobody can say which is out of line
SIDE_SHARE = 0.06
"""Of its rise above the room by which an unmeasured side may be hotter: our choice. On the
simulated candle a wick heats the nearer side by 1.2 % more for each millimetre off its axis."""

SLOPE_OVER_MM = 10.0  # at least, between two heights: closer, their errors make it (our choice)

Rise = tuple[float, float]  # above the room, K, and its standard uncertainty


def out_of_line(evidence: BurnEvidence) -> Iterator[Missing]:
    """Places that read less than the same height on another side makes likely.

    One decides only where what it would have read, with all that is counted, passes the limit.
    """
    room_c = _room_c(evidence)
    places: dict[int, dict[float, tuple[Coverage, Rise]]] = {}
    for seen in evidence.automatic:
        place, highest = seen.channel.place, seen.highest
        known = place.position is Position.WALL and place.clock and place.height_mm is not None
        if known and highest is not None and highest.value is not None:
            rise = highest.value - room_c, highest.standard_uncertainty or 0.0
            if rise[0] > 0.0:
                places.setdefault(place.clock or 0, {})[place.height_mm or 0.0] = seen, rise
    told: set[str] = set()
    for one, other in combinations(sorted(places), 2):
        for low, by in _low_pairs(places[one], places[other]):
            if low.channel.name not in told:
                told.add(low.channel.name)
                named = str(low.channel.place)
                yield Missing(
                    text=(
                        f"{named[:1].upper()}{named[1:]} rose {100.0 * by:.0f} % less than the "
                        "other heights of its side make likely: it may hang half off"
                    ),
                    decides=_may_pass_the_limit(low, by, evidence),
                    burn=evidence.burn.id,
                    do="fasten every probe anew on the cold vessel",
                )


def _low_pairs(
    one: dict[float, tuple[Coverage, Rise]], other: dict[float, tuple[Coverage, Rise]]
) -> Iterator[tuple[Coverage, float]]:
    common = sorted(one.keys() & other.keys())
    if len(common) < FEWEST_HEIGHTS:
        return
    ratios = {height: math.log(one[height][1][0] / other[height][1][0]) for height in common}
    for height in common:
        usual = median(ratio for at, ratio in ratios.items() if at != height)
        off = ratios[height] - usual
        unsure = COVERAGE * math.hypot(
            *(uncertainty / rise for _, (rise, uncertainty) in (one[height], other[height]))
        )
        if abs(off) > OUT_OF_LINE + unsure:
            yield (one if off < 0.0 else other)[height][0], -math.expm1(-abs(off))


def _may_pass_the_limit(low: Coverage, by: float, evidence: BurnEvidence) -> bool:
    """Whether a place that rose less by the share `by` may have been over the limit in truth."""
    highest, room_c = low.highest, _room_c(evidence)
    if highest is None or highest.value is None:
        return True
    likely_c = room_c + (highest.value - room_c) / (1.0 - by)
    guard_k = max(
        COVERAGE * (highest.standard_uncertainty or 0.0),
        least_guard_k(low.channel, evidence, likely_c),
    )
    unseen_k = unmeasured_side_k(evidence, likely_c) + below_k(low, likely_c, evidence)
    return likely_c + guard_k + unseen_k > evidence.limits.of(evidence.burn.material).limit_c


def unmeasured_side_k(evidence: BurnEvidence, hottest_c: float) -> float:
    """How much hotter than the hottest measured place a side may be that nobody measured.

    Nothing where all four quarters were measured at the top of the wax.
    """
    level_mm = wax_level_mm(evidence)
    if level_mm is not None:
        clocks = [clock for clock in near_the_wax(evidence, level_mm) if clock is not None]
        if {side_of(clock) for clock in clocks} == set(SIDES):
            return 0.0
    return max(SIDE_SHARE * (hottest_c - _room_c(evidence)), 0.0)


def below_k(lowest: Coverage, value_c: float, evidence: BurnEvidence) -> float:
    """How much hotter the wall may be below the lowest place of a side, which read `value_c`.

    The slope from the next height is carried on to the bottom of the band around the top of the
    wax, or of the wall. Nothing for a place that is not the lowest, or has no other above it.
    """
    low_mm, level_mm = lowest.channel.place.height_mm, wax_level_mm(evidence)
    if low_mm is None or lowest.channel.place.position is not Position.WALL:
        return 0.0
    above: dict[float, float] = {}
    for seen in evidence.on_vessel:
        place, highest = seen.channel.place, seen.highest
        beside = place.position is Position.WALL and place.clock == lowest.channel.place.clock
        if not beside or place.height_mm is None or highest is None or highest.value is None:
            continue
        if place.height_mm < low_mm:
            return 0.0
        if place.height_mm >= low_mm + SLOPE_OVER_MM:
            above[place.height_mm] = max(highest.value, above.get(place.height_mm, -math.inf))
    if not above:
        return 0.0
    next_mm = min(above)
    bottom_mm = 0.0 if level_mm is None else max(level_mm - NEAR_MM, 0.0)
    slope_k_per_mm = (value_c - above[next_mm]) / (next_mm - low_mm)
    return max(slope_k_per_mm, 0.0) * max(low_mm - bottom_mm, 0.0)


def _room_c(evidence: BurnEvidence) -> float:
    """The coldest that it was; else the coldest that the maker tests in."""
    lows = [one.lowest.value for one in evidence.rooms if one.lowest is not None]
    known = [low for low in lows if low is not None]
    return min(known, default=evidence.limits.room_low_c)
