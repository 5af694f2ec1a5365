"""How the melt pool grew, and when it was seen at the wall all round."""

from collections.abc import Iterable, Iterator
from dataclasses import dataclass

from logger.burn.entries import Observed
from logger.burn.look import YES, Look
from logger.words import Words, duration

SLOW_MM_PER_H, FAST_MM_PER_H = 6.35, 12.7
"""A quarter and half an inch: how far the edge moves outwards in an hour (common practice)."""

AT_WALL_MM = 3.0  # nobody reads the edge of wax through glass more exactly (our choice)
SOONEST_S = 600.0  # before, a pool is a puddle round the wick and says nothing (our choice)


@dataclass(frozen=True, slots=True, kw_only=True)
class MeltPool:
    """The melt pool of a burn, by what people saw; times are of being lit."""

    across_mm: float | None = None  # at the last look that measured it short of the wall
    at_s: float = 0.0  # of that look
    growth_mm_per_h: float | None = None  # of its edge, from lighting to that look
    inner_diameter_mm: float | None = None  # of the vessel
    wall_s: float | None = None  # when it reaches the wall if it goes on as between two looks
    short_s: float | None = None  # the last look that saw it short of the wall
    full_s: float | None = None  # the first that saw it at the wall all round

    @property
    def looked_at(self) -> bool:
        """Whether anybody said how far it reached."""
        return self.short_s is not None or self.full_s is not None


def melt_pool(looks: Iterable[Observed], lit_s: float, inner_diameter_mm: float | None) -> MeltPool:
    """The melt pool by `looks` of a burn that was lit at `lit_s`."""
    seen = sorted(
        ((one.at_s - lit_s, one.look) for one in looks if _is_full(one.look, 0.0) is not None),
        key=lambda one: one[0],
    )
    full = [at_s for at_s, look in seen if _is_full(look, inner_diameter_mm)]
    full_s = min(full, default=None)
    short = [one for one in seen if full_s is None or one[0] < full_s]
    measured = [
        (at_s, across_mm)
        for at_s, look in short
        if (across_mm := look.pool_across_mm) is not None and at_s >= SOONEST_S
    ]
    found = MeltPool(
        inner_diameter_mm=inner_diameter_mm,
        short_s=short[-1][0] if short else None,
        full_s=full_s,
    )
    if not measured:
        return found
    at_s, across_mm = measured[-1]
    return MeltPool(
        across_mm=across_mm,
        at_s=at_s,
        growth_mm_per_h=0.5 * across_mm / (at_s / 3600.0),
        inner_diameter_mm=inner_diameter_mm,
        wall_s=None if full_s is not None else _at_wall_s(measured, inner_diameter_mm),
        short_s=found.short_s,
        full_s=full_s,
    )


def _is_full(look: Look, inner_diameter_mm: float | None) -> bool | None:
    """Whether it reached the wall all round; None where nobody said how far it reached."""
    if look.full_pool:
        return look.full_pool == YES
    if not look.pool_mm:
        return None
    reach_mm = inner_diameter_mm and inner_diameter_mm - AT_WALL_MM
    return bool(reach_mm) and min(look.pool_mm) >= (reach_mm or 0.0)


def _at_wall_s(
    measured: list[tuple[float, float]], inner_diameter_mm: float | None
) -> float | None:
    """By the last two looks, or by the mean since lighting; the growth slows, so at the soonest."""
    if inner_diameter_mm is None:
        return None
    (before_s, before_mm), (at_s, across_mm) = [(0.0, 0.0), *measured][-2:]
    if across_mm <= before_mm or at_s <= before_s:
        return None
    return at_s + (inner_diameter_mm - across_mm) * (at_s - before_s) / (across_mm - before_mm)


def melt_pool_lines(found: MeltPool, words: Words) -> Iterator[str]:
    """What is known of it, a line each."""
    if found.across_mm is not None and found.growth_mm_per_h is not None:
        growth = found.growth_mm_per_h
        beside = "within"
        if growth < SLOW_MM_PER_H:
            beside = "slower than"
        elif growth > FAST_MM_PER_H:
            beside = "faster than"
        rule = " to ".join(map(words.fine_length, (SLOW_MM_PER_H, FAST_MM_PER_H)))
        yield (
            f"melt pool {words.fine_length(found.across_mm)} across after {duration(found.at_s)}: "
            f"its edge moved {words.fine_length(growth)} an hour, {beside} the trade's {rule} "
            "(common practice)"
        )
    if found.full_s is not None:
        since = "" if found.short_s is None else f", not yet after {duration(found.short_s)}"
        yield f"seen at the wall all round after {duration(found.full_s)}{since}"
    elif found.short_s is not None:
        soonest = (
            "" if found.wall_s is None else f"; as it grew, not before {duration(found.wall_s)}"
        )
        yield f"not at the wall all round after {duration(found.short_s)}{soonest}"
