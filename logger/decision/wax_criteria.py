"""What weighing tells of the whole candle: how fast it burned, and what it left."""

import math

from logger.burn.candle_life import BALANCE_U_G
from logger.burn.stated import SELF_EXTINGUISHED
from logger.decision.criteria import Criterion, Decided, Outcome, Shown, guard_band
from logger.decision.in_trial import BurnInTrial

GRAMS_AN_HOUR, PERCENT = "g/h", "percent"


def within(*, lower: float, upper: float, least: float | None, most: float | None) -> Outcome:
    """`guard_band` on either side of a range; a side that is None is open."""
    found = {
        guard_band(lower=lower, upper=upper, limit=math.inf if most is None else most),
        guard_band(lower=-upper, upper=-lower, limit=math.inf if least is None else -least),
    }
    if Outcome.FAIL in found:
        return Outcome.FAIL
    return Outcome.UNDECIDED if Outcome.UNDECIDED in found else Outcome.PASS


def _consumption(burn: BurnInTrial) -> Decided | None:
    """Of a candle's last burn: all its weighings together."""
    asked, life = burn.value(CONSUMPTION.name), burn.weighed.life
    if asked is None or life is None or not burn.last:
        return None
    wicks = burn.makeup.wicks
    rate, reach = life.rate_g_per_h / wicks, life.rate_reach_g_per_h / wicks
    each = " a wick" if wicks > 1 else ""
    return Decided(
        outcome=within(lower=rate - reach, upper=rate + reach, least=asked.least, most=asked.most),
        reason=(
            f"it used {burn.words.rate(rate, reach)} of wax an hour{each}, "
            f"by {life.weighings} weighings"
        ),
        value=rate,
        least=asked.least,
        limit=asked.most,
        unit=GRAMS_AN_HOUR,
        origin=asked.origin,
    )


def _wax_left(burn: BurnInTrial) -> Decided | None:
    """Of a burn that went out by itself; in the middle of its life it drowned."""
    asked, at = burn.value(WAX_LEFT.name), burn.evidence.burn
    if asked is None or at.ending.ended != SELF_EXTINGUISHED:
        return None
    used, wax_g = burn.weighed.used_after, burn.weighed.wax_g
    if used is None or wax_g is None:
        reason = "it went out by itself; how much wax was left is not known"
        return Decided(outcome=Outcome.UNDECIDED, reason=reason)
    left = 100.0 * (1.0 - used)
    reach = 100.0 * 2.0 * math.sqrt(2.0) * BALANCE_U_G / wax_g
    return Decided(
        outcome=within(lower=left - reach, upper=left + reach, least=asked.least, most=asked.most),
        reason=f"it went out by itself with {left:.0f} % ± {reach:.0f} of its wax left",
        value=left,
        least=asked.least,
        limit=asked.most,
        unit=PERCENT,
        origin=asked.origin,
    )


CONSUMPTION = Criterion(
    name="consumption",
    title="It burns neither too slowly nor too fast",
    rule=(
        "The slope of all its weighings over hours burned, for each wick, with the interval that "
        "holds it with 95 %. Pass: all of that is within the range. Fail: none of it. Else "
        "undecided."
    ),
    source=(
        "Common practice: 3 to 8 g (0.11 to 0.28 oz) an hour for each wick of a container candle."
    ),
    finds=_consumption,
    shown=Shown.ANY,
    do="weigh the cold candle before its first burn and after each",
)

WAX_LEFT = Criterion(
    name="wax-left",
    title="It goes out by itself, with little wax left and not with none",
    rule=(
        "Pass: it was burned until it went out by itself, and the wax left is within the range, "
        "counting what a balance may be off. Fail: outside. Else undecided."
    ),
    source=(
        "That a container candle extinguishes itself: EN 15493 (seen as quoted). The range is our "
        "choice: 13 mm (1/2 in) of wax, at which many labels tell to stop, are about 15 % of a "
        "usual jar."
    ),
    finds=_wax_left,
    shown=Shown.ANY,
    do="let it burn on, watched, until it goes out by itself, and weigh it cold",
)

WAX_CRITERIA = (CONSUMPTION, WAX_LEFT)
