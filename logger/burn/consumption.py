"""How much of its wax a candle has used: from weighing it cold, before and after its burns."""

import math
from collections.abc import Iterable, Sequence
from dataclasses import dataclass, replace
from itertools import pairwise

from logger.burn.candle_life import BALANCE_U_G, CandleLife, candle_life
from logger.burn.entries import WeighIn
from logger.burn.limits import Limits
from logger.burn.model import Burn
from logger.burn.straight_line import straight_line
from logger.errors import Refused
from logger.quantities import Estimate, Quality
from logger.words import Words

HEAVIER_G = 2.0  # no candle gains wax in a burn; two steps of a kitchen balance (our choice)
SHORTEST_H = 0.25  # of a burn for a rate: in less a step of the balance decides (our choice)
BLOCK_S = 300.0  # of a live balance's estimates make one point: longer than a draught (our choice)
LEAST_SEEN = 0.8  # of the burn, by a live balance, for a rate of all of it (our choice)


@dataclass(frozen=True, slots=True, kw_only=True)
class Consumption:
    """What weighing tells of one burn; None where it was not weighed, or the wax never told."""

    before_g: float | None = None  # the whole candle, with its vessel
    after_g: float | None = None
    used_g: float | None = None
    rate_g_per_h: float | None = None
    rate_u_g_per_h: float | None = None  # standard uncertainty of it
    used_share: float | None = None  # of all its wax, that was gone half-way through the burn
    used_after: float | None = None  # so after it
    wax_g: float | None = None  # that the candle was poured with
    by_balance: bool = False  # the candle stood on a balance; nobody weighed it before and after
    life: CandleLife | None = None  # what all weighings up to the end of this burn tell


def weigh(burn: Burn, entry: WeighIn, limits: Limits, words: Words) -> tuple[Burn, str]:
    """`burn` after its candle was weighed, and a line that says so.

    One weighed up to its lighting is the mass before, one since it is out the mass after; of
    several the one entered last holds. Raises Refused for one while it burned or before the burn
    that was here earlier, and for a mass that cannot be.
    """
    said = f"{burn.station}, {burn.tester or burn.trial}: weighed {words.mass(entry.mass_g)}"
    wax_g = burn.wax_g if entry.wax_g is None else entry.wax_g
    if entry.wax_g is not None:
        said += f", {words.mass(entry.wax_g)} of wax poured"
    if entry.at_s <= burn.lit_s:
        if burn.rested_s is not None and entry.at_s < burn.lit_s - burn.rested_s:
            raise Refused(
                f"at that time an earlier burn was on {burn.station}: only the candle of its "
                f"latest burn, {burn.tester or burn.trial}, can be weighed"
            )
        weighed = replace(burn, mass_before_g=entry.mass_g, wax_g=wax_g)
        return checked(weighed, words), f"{said}, before lighting"
    if burn.out_s is None or entry.at_s < burn.out_s:
        raise Refused(
            f"{burn.station} was burning at that time: weigh it cold, and give the time if that "
            "was before it was lit"
        )
    weighed = replace(burn, mass_after_g=entry.mass_g, wax_g=wax_g)
    warm = entry.at_s - burn.out_s < limits.cool_down_s
    told = ", before your cool-down was over: weigh it again cold" if warm else ""
    return checked(weighed, words), f"{said}, after the burn{told}"


def checked(burn: Burn, words: Words) -> Burn:
    """`burn`. Raises Refused where its masses contradict one another."""
    before_g, after_g, wax_g = burn.mass_before_g, burn.mass_after_g, burn.wax_g
    if before_g is None or after_g is None:
        return burn
    advice = "check the unit, and that it is this candle; if the earlier figure is wrong, "
    if after_g > before_g + HEAVIER_G:
        raise Refused(
            f"{words.mass(after_g)} after the burn is more than before, {words.mass(before_g)}: "
            f"{advice}enter that again first, with its time"
        )
    if wax_g is not None and before_g - after_g > wax_g:
        raise Refused(
            f"{words.mass(before_g - after_g)} of wax would be gone, more than the "
            f"{words.mass(wax_g)} poured: {advice}enter the wax again with this mass"
        )
    return burn


def consumption(burns: Iterable[Burn]) -> dict[str, Consumption]:
    """Of each burn of a trial by its id.

    Burns with one code on the vessel, or without codes on one station, are of one candle, until
    its mass says that it is another or was filled anew. Where a burn lacks a weigh-in, the one of
    the same candle's neighbouring burn stands in. Shares are of the wax that was told of this very
    candle, counted from its first mass.
    """
    candles: dict[str, list[list[Burn]]] = {}
    for burn in sorted(burns, key=lambda burn: burn.lit_s):
        of_name = candles.setdefault(burn.candle[1], [[]])
        if of_name[-1] and is_another(burn, of_name[-1]):
            of_name.append([])
        of_name[-1].append(burn)
    found: dict[str, Consumption] = {}
    for of_name in candles.values():
        for candle in of_name:
            found |= _of_candle(candle)
    return found


def is_another(burn: Burn, earlier: Sequence[Burn]) -> bool:
    """Whether `burn` is of another candle: heavier than the last was, or lighter than left."""
    left_g, now_g = earlier[-1].mass_after_g, burn.mass_before_g
    if left_g is not None and now_g is not None:
        return abs(now_g - left_g) > HEAVIER_G
    now_g = _first((now_g, burn.mass_after_g))
    last_g = _first(m for one in reversed(earlier) for m in (one.mass_after_g, one.mass_before_g))
    return now_g is not None and last_g is not None and now_g > last_g + HEAVIER_G


def _first(masses: Iterable[float | None]) -> float | None:
    return next((mass for mass in masses if mass is not None), None)


def _of_candle(burns: Sequence[Burn]) -> dict[str, Consumption]:
    wax_g = _first(burn.wax_g for burn in reversed(burns))
    masses = [[burn.mass_before_g, burn.mass_after_g] for burn in burns]
    for earlier, later in pairwise(masses):
        if earlier[1] is None:
            earlier[1] = later[0]
        if later[0] is None:
            later[0] = earlier[1]
    full_g = masses[0][0]
    return {
        burn.id: replace(
            _of_burn(burn, before_g, after_g, full_g, wax_g),
            life=None
            if burn.shared_pour  # each of its wicks burns at a rate of its own
            else candle_life(burns[: number + 1], full_g=full_g, wax_g=wax_g),
        )
        for number, (burn, (before_g, after_g)) in enumerate(zip(burns, masses, strict=True))
    }


def _of_burn(
    burn: Burn,
    before_g: float | None,
    after_g: float | None,
    full_g: float | None,
    wax_g: float | None,
) -> Consumption:
    weighed = Consumption(before_g=before_g, after_g=after_g, wax_g=wax_g)
    if before_g is None or after_g is None or burn.out_s is None:
        return weighed
    used_g = max(before_g - after_g, 0.0)  # less than a balance's step below nothing is nothing
    if wax_g is not None and used_g > wax_g:
        return weighed
    hours, share, after = (burn.out_s - burn.lit_s) / 3600.0, None, None
    if full_g is not None and wax_g is not None:
        share = max((full_g - 0.5 * (before_g + after_g)) / wax_g, 0.0)
        after = max((full_g - after_g) / wax_g, 0.0)
    return replace(
        weighed,
        used_g=used_g,
        rate_g_per_h=used_g / hours if hours >= SHORTEST_H else None,
        rate_u_g_per_h=math.sqrt(2.0) * BALANCE_U_G / hours if hours >= SHORTEST_H else None,
        used_share=share if share is not None and share <= 1.0 else None,
        used_after=after if after is not None and after <= 1.0 else None,
    )


def with_balance(found: Consumption, burn: Burn, estimates: Iterable[Estimate]) -> Consumption:
    """`found`, with the rate of a candle that stood on a balance where nobody weighed it cold.

    A line through the means of `BLOCK_S`. None where the candle or the balance was touched: the
    mass then leaves the line by more than `HEAVIER_G`.
    """
    if found.used_g is not None or burn.out_s is None:
        return found
    blocks: dict[int, list[tuple[float, float]]] = {}
    for one in estimates:
        if one.quality is not Quality.GOOD or one.value is None:
            continue
        if burn.lit_s <= one.at_s <= burn.out_s:
            since_s = one.at_s - burn.lit_s
            blocks.setdefault(int(since_s // BLOCK_S), []).append((since_s / 3600.0, one.value))
    means = [
        (math.fsum(h for h, _ in block) / len(block), math.fsum(m for _, m in block) / len(block))
        for block in blocks.values()
    ]
    line = straight_line(means)
    if line is None or line.slope_sd is None or line.slope > 0.0:
        return found
    seen_h = max(hours for hours, _ in means) - min(hours for hours, _ in means)
    off_g = max(abs(mass_g - line.at(hours)) for hours, mass_g in means)
    whole_h = (burn.out_s - burn.lit_s) / 3600.0
    if seen_h < max(SHORTEST_H, LEAST_SEEN * whole_h) or off_g > HEAVIER_G:
        return found
    return replace(
        found,
        before_g=line.at(0.0) if found.before_g is None else found.before_g,
        after_g=line.at(whole_h) if found.after_g is None else found.after_g,
        used_g=-line.slope * whole_h,
        rate_g_per_h=-line.slope,
        rate_u_g_per_h=math.hypot(line.slope_sd, math.sqrt(2.0) * BALANCE_U_G / seen_h),
        by_balance=True,
    )
