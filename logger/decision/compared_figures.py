"""Figures of a trial that are compared: of each candle, then the mean of the candles."""

import math
from collections.abc import Iterable, Sequence

from logger.burn.evidence import BurnEvidence
from logger.burn.melt_pool import melt_pool
from logger.conditioning.uncertainty import rectangular
from logger.decision.same_room import ComparedFigure, mean_of, peak_in
from logger.decision.trial_facts import TrialFacts


def _of_candles(
    found: Iterable[tuple[BurnEvidence, ComparedFigure | None]],
) -> dict[tuple[str, str], list[ComparedFigure]]:
    by_candle: dict[tuple[str, str], list[ComparedFigure]] = {}
    for evidence, figure in found:
        if figure is not None:
            by_candle.setdefault(evidence.burn.candle, []).append(figure)
    return by_candle


def peak(burns: Sequence[BurnEvidence], room_c: float) -> ComparedFigure | None:
    """The hottest burn of each candle; the mean of the candles."""
    candles = _of_candles((one, peak_in(one, room_c)) for one in burns)
    return mean_of([max(peaks, key=lambda one: one.value) for peaks in candles.values()])


def rate_g_per_h(facts: TrialFacts, burns: Sequence[BurnEvidence]) -> ComparedFigure | None:
    """All wax that a candle used over all its hours; the mean of the candles."""
    used: dict[tuple[str, str], list[tuple[float, float, float]]] = {}
    for one in burns:
        weighed = facts.weighed.get(one.burn.id)
        if weighed and weighed.rate_g_per_h is not None and weighed.rate_u_g_per_h is not None:
            hours = one.burn.elapsed_s(one.until_s) / 3600.0
            rate, rate_u = weighed.rate_g_per_h, weighed.rate_u_g_per_h
            used.setdefault(one.burn.candle, []).append((hours, rate * hours, rate_u * hours))
    return mean_of(
        [
            ComparedFigure(
                value=sum(used_g for _, used_g, _ in candle) / sum(hours for hours, _, _ in candle),
                standard_uncertainty=math.hypot(*(u_g for _, _, u_g in candle))
                / sum(hours for hours, _, _ in candle),
            )
            for candle in used.values()
        ]
    )


def full_pool_s(burns: Sequence[BurnEvidence]) -> ComparedFigure | None:
    """Between the last look that saw it short of the wall and the first that saw it there.

    In the latest comparable burn of each candle in which it was seen there.
    """

    def seen(one: BurnEvidence) -> ComparedFigure | None:
        pool = melt_pool(one.looks, one.burn.lit_s, one.burn.inner_diameter_mm)
        if pool.full_s is None:
            return None
        short_s = pool.short_s or 0.0
        return ComparedFigure(
            value=0.5 * (short_s + pool.full_s),
            standard_uncertainty=rectangular(0.5 * (pool.full_s - short_s)),
        )

    candles = _of_candles((one, seen(one)) for one in burns)
    return mean_of([found[-1] for found in candles.values()])
