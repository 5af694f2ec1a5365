"""How much of its wax a candle has used: from weighing it cold, before and after its burns."""

from collections.abc import Iterable, Sequence
from dataclasses import dataclass, replace
from itertools import pairwise
from typing import Protocol

from logger.burn.entries import WeighIn
from logger.burn.limits import Limits
from logger.burn.model import Burn
from logger.errors import Refused

HEAVIER_G = 2.0  # no candle gains wax in a burn; two steps of a kitchen balance (our choice)


class Words(Protocol):
    """How masses are written for a person."""

    def mass(self, mass_g: float) -> str:
        """A mass with its unit."""
        ...


@dataclass(frozen=True, slots=True, kw_only=True)
class Consumption:
    """What weighing tells of one burn; None where it was not weighed, or the wax never told."""

    before_g: float | None = None  # the whole candle, with its vessel
    after_g: float | None = None
    used_g: float | None = None
    rate_g_per_h: float | None = None
    used_share: float | None = None  # of all its wax, that was gone half-way through the burn


def weigh(burn: Burn, entry: WeighIn, limits: Limits, words: Words) -> tuple[Burn, str]:
    """`burn` after its candle was weighed, and a line that says so.

    One weighed up to its lighting is the mass before, one since it is out the mass after; of
    several the one entered last holds. Raises Refused for one while it burned, and for a mass
    that cannot be.
    """
    said = f"{burn.station}: weighed {words.mass(entry.mass_g)}"
    wax_g = burn.wax_g if entry.wax_g is None else entry.wax_g
    if entry.wax_g is not None:
        said += f", {words.mass(entry.wax_g)} of it the wax it was poured with"
    if entry.at_s <= burn.lit_s:
        weighed = replace(burn, mass_before_g=entry.mass_g, wax_g=wax_g)
        return checked(weighed, words), f"{said}, before lighting"
    if burn.out_s is None or entry.at_s < burn.out_s:
        raise Refused(
            f"{burn.station} was burning at that time: weigh it cold, and give the time if that "
            "was before it was lit"
        )
    weighed = replace(burn, mass_after_g=entry.mass_g, wax_g=wax_g)
    warm = entry.at_s - burn.out_s < limits.cool_down_s
    told = ", not yet cooled for as long as you asked: weigh it again cold" if warm else ""
    return checked(weighed, words), f"{said}, after the burn{told}"


def checked(burn: Burn, words: Words) -> Burn:
    """`burn`. Raises Refused where its masses contradict one another."""
    before_g, after_g, wax_g = burn.mass_before_g, burn.mass_after_g, burn.wax_g
    advice = "look at the unit, and whether it is this candle"
    for mass_g in (before_g, after_g):
        if mass_g is not None and wax_g is not None and wax_g > mass_g:
            raise Refused(
                f"{words.mass(wax_g)} of wax is more than the whole candle, {words.mass(mass_g)}: "
                f"{advice}"
            )
    if before_g is None or after_g is None:
        return burn
    if after_g > before_g + HEAVIER_G:
        raise Refused(
            f"{words.mass(after_g)} after the burn is more than before, {words.mass(before_g)}: "
            f"{advice}; if the earlier one is wrong, give that again first, with its time"
        )
    if wax_g is not None and before_g - after_g > wax_g:
        raise Refused(
            f"{words.mass(before_g - after_g)} of wax would be gone, more than the "
            f"{words.mass(wax_g)} it was poured with: {advice}"
        )
    return burn


def consumption(burns: Iterable[Burn]) -> dict[str, Consumption]:
    """Of each burn of a trial by its id.

    Burns with one code on the vessel, or without codes on one station, are of one candle, until
    it is heavier than it was: then it is another, or filled anew. Where a burn lacks a weigh-in,
    the one of the same candle's neighbouring burn stands in.
    """
    in_order = sorted(burns, key=lambda burn: burn.lit_s)
    poured_g = _first(burn.wax_g for burn in reversed(in_order))
    candles: dict[str, list[list[Burn]]] = {}
    for burn in in_order:
        of_name = candles.setdefault(burn.tester or burn.station, [[]])
        if _is_heavier(burn, of_name[-1]):
            of_name.append([])
        of_name[-1].append(burn)
    found: dict[str, Consumption] = {}
    for of_name in candles.values():
        for candle in of_name:
            found |= _of_candle(candle, poured_g)
    return found


def _is_heavier(burn: Burn, before: Sequence[Burn]) -> bool:
    now_g = _first((burn.mass_before_g, burn.mass_after_g))
    last_g = _first(
        mass for one in reversed(before) for mass in (one.mass_after_g, one.mass_before_g)
    )
    return now_g is not None and last_g is not None and now_g > last_g + HEAVIER_G


def _first(masses: Iterable[float | None]) -> float | None:
    return next((mass for mass in masses if mass is not None), None)


def _of_candle(burns: Sequence[Burn], poured_g: float | None) -> dict[str, Consumption]:
    wax_g = _first([*(burn.wax_g for burn in reversed(burns)), poured_g])
    masses = [[burn.mass_before_g, burn.mass_after_g] for burn in burns]
    for earlier, later in pairwise(masses):
        if earlier[1] is None:
            earlier[1] = later[0]
        if later[0] is None:
            later[0] = earlier[1]
    full_g = masses[0][0]
    return {
        burn.id: _of_burn(burn, before_g, after_g, full_g, wax_g)
        for burn, (before_g, after_g) in zip(burns, masses, strict=True)
    }


def _of_burn(
    burn: Burn,
    before_g: float | None,
    after_g: float | None,
    full_g: float | None,
    wax_g: float | None,
) -> Consumption:
    if before_g is None or after_g is None or burn.out_s is None:
        return Consumption(before_g=before_g, after_g=after_g)
    used_g, hours = before_g - after_g, (burn.out_s - burn.lit_s) / 3600.0
    share = None
    if full_g is not None and wax_g is not None:
        share = (full_g - 0.5 * (before_g + after_g)) / wax_g
    return Consumption(
        before_g=before_g,
        after_g=after_g,
        used_g=used_g,
        rate_g_per_h=used_g / hours if hours > 0.0 else None,
        used_share=share if share is not None and share <= 1.0 else None,
    )
