"""What a candle's weighings over its burns tell together: its rate, the wax and the burns left."""

import math
from collections.abc import Sequence
from dataclasses import dataclass

from logger.burn.model import Burn
from logger.burn.stated import SELF_EXTINGUISHED
from logger.burn.straight_line import straight_line
from logger.conditioning.student import student_t

BALANCE_U_G = 1.0 / math.sqrt(3.0)
"""Standard uncertainty of one weighing: a kitchen balance that is right to 1 g (common practice),
taken as uniform (GUM 4.3.7)."""

FEWEST_WEIGHINGS = 3  # before burns are counted: two always lie on a line
WIDEST_SHARE = 0.25  # a rate known worse than to a quarter of itself predicts no burns (our choice)
LEVEL = 0.95

PARAFFIN_MJ_PER_KG = 43.8
"""Lower heating value: n-alkanes C16 and C20 have 43.94 and 43.85 MJ/kg, from tabulated heats of
formation; the water leaves a flame as vapour. Wax of plants burns with less, 38 to 40 MJ/kg (from
memory)."""


@dataclass(frozen=True, slots=True, kw_only=True)
class CandleLife:
    """A candle so far; None for what its weighings do not tell."""

    weighings: int  # at different hours of its life
    hours: float  # burned between the first of them and the last
    rate_g_per_h: float
    rate_reach_g_per_h: float  # half-width of the interval that holds it with `LEVEL`
    used_share: float | None = None  # of all its wax, after the last of them
    left_g: float | None = None
    # As long as those so far; None: too early; none once it went out by itself, since the wax below
    # the neck of the wick's tab does not burn.
    burns_left: tuple[float, float] | None = None


def candle_life(
    burns: Sequence[Burn], *, full_g: float | None, wax_g: float | None
) -> CandleLife | None:
    """The life of one candle from its burns in order; `full_g` is its mass before the first.

    A line through mass over hours burned. Its slope is as uncertain as the masses scatter about it,
    and never less than the balance makes it. None with fewer than two weighings, or while they do
    not show a loss.
    """
    masses_g: dict[float, list[float]] = {}  # by hours burned
    hours = 0.0
    for burn in burns:
        if burn.mass_before_g is not None:
            masses_g.setdefault(hours, []).append(burn.mass_before_g)
        if burn.out_s is None:
            break
        hours += (burn.out_s - burn.lit_s) / 3600.0
        if burn.mass_after_g is not None:
            masses_g.setdefault(hours, []).append(burn.mass_after_g)
    # Between two burns the same balance errs the same way twice: that is one witness.
    weighed = [(at_h, math.fsum(found) / len(found)) for at_h, found in masses_g.items()]
    line = straight_line(weighed)
    if line is None or line.slope >= 0.0:
        return None
    scatter_g = 0.0
    if line.residual_sd is not None:
        scatter_g = student_t(0.5 * (1.0 + LEVEL), line.count - 2) * line.residual_sd
    rate, reach = -line.slope, max(2.0 * BALANCE_U_G, scatter_g) / math.sqrt(line.squares)
    share = left_g = left = None
    if full_g is not None and wax_g is not None and full_g - weighed[-1][1] <= wax_g:
        left_g = wax_g - max(full_g - weighed[-1][1], 0.0)
        share = 1.0 - left_g / wax_g
        if burns[-1].ending.ended == SELF_EXTINGUISHED:
            left = (0.0, 0.0)
        elif line.count >= FEWEST_WEIGHINGS and reach <= WIDEST_SHARE * rate:
            left = _burns_left(left_g, rate, reach, hours / sum(not burn.lit for burn in burns))
    return CandleLife(
        weighings=line.count,
        hours=weighed[-1][0] - weighed[0][0],
        rate_g_per_h=rate,
        rate_reach_g_per_h=reach,
        used_share=share,
        left_g=left_g,
        burns_left=left,
    )


def _burns_left(left_g: float, rate: float, reach: float, mean_h: float) -> tuple[float, float]:
    off_g = 2.0 * math.sqrt(3.0) * BALANCE_U_G  # wax, full candle and candle now, each weighed
    return (
        max(left_g - off_g, 0.0) / ((rate + reach) * mean_h),
        (left_g + off_g) / ((rate - reach) * mean_h),
    )


def flame_power_w(rate_g_per_h: float, heat_mj_per_kg: float = PARAFFIN_MJ_PER_KG) -> float:
    """Power of the flame that burns `rate_g_per_h` of wax, W."""
    return rate_g_per_h / 3600.0 * heat_mj_per_kg * 1000.0  # g/s times MJ/kg, which is kJ/g
