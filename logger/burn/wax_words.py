"""What is known of a candle's wax, in the maker's words and units, one line each."""

from collections.abc import Iterator

from logger.burn.candle_life import PARAFFIN_MJ_PER_KG, CandleLife, flame_power_w
from logger.burn.consumption import Consumption
from logger.words import Words, duration


def wax_lines(found: Consumption, words: Words) -> Iterator[str]:
    """What was weighed, the flame it makes, and the candle's life so far."""
    yield weighed(found, words)
    if found.rate_g_per_h:
        yield (
            f"about {flame_power_w(found.rate_g_per_h):.0f} W of flame, if the wax burns as "
            f"paraffin does ({PARAFFIN_MJ_PER_KG} MJ/kg; soy wax about a tenth less)"
        )
    if found.life is not None:
        yield from _life(found.life, words)


def weighed(found: Consumption, words: Words) -> str:
    """The candle's mass before and after the burn, and what that says of its wax."""
    before, after = (
        None if mass_g is None else words.mass(mass_g) for mass_g in (found.before_g, found.after_g)
    )
    if found.used_g is None:
        known = [f"{before} before"] if before else []
        known += [f"{after} after"] if after else []
        return f"{', '.join(known)}: the wax used is not known" if known else "not weighed"
    said = f"{before} before, {after} after: {words.mass(found.used_g)} of wax used"
    if found.rate_g_per_h is not None and found.rate_u_g_per_h is not None:
        said += f", {_rate(found.rate_g_per_h, 2.0 * found.rate_u_g_per_h, words)}"
    if found.by_balance:
        said += ", by the balance it stood on"
    if found.used_share is not None:
        said += f"; by mid-burn {100.0 * found.used_share:.0f} % of the wax was used"
    return said


def _life(life: CandleLife, words: Words) -> Iterator[str]:
    if life.weighings > 2:
        yield (
            f"over its life {_rate(life.rate_g_per_h, life.rate_reach_g_per_h, words)}, from "
            f"{life.weighings} weighings over {duration(3600.0 * life.hours)} of burning"
        )
    if life.used_share is None or life.left_g is None:
        return
    said = f"{100.0 * life.used_share:.0f} % of the wax is used, {words.mass(life.left_g)} are left"
    if life.burns_left is None:
        yield f"{said}; too early to say for how many burns"
        return
    if life.burns_left == (0.0, 0.0):
        yield f"{said}; it went out by itself, so no more burns are counted"
        return
    low, high = (round(burns) for burns in life.burns_left)
    burns = f"{low} to {high} burns" if low != high else f"{high} burn{'s' * (high != 1)}"
    yield f"{said}, enough for {burns} as long as those so far, were all of it to burn"


def _rate(rate_g_per_h: float, reach_g_per_h: float, words: Words) -> str:
    return f"{words.rate(rate_g_per_h, reach_g_per_h)} an hour"
