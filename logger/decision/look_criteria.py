"""What people saw of the candle: flame, smoke, soot, melt pool, wax on the wall.

No sensor here sees any of it: it rests on who looked. Where nobody did, a criterion finds nothing.
"""

from collections.abc import Callable
from dataclasses import replace

from logger.burn.entries import Danger
from logger.burn.limits import CriterionValue
from logger.burn.look import YES, Look
from logger.burn.marks import AHEAD_S
from logger.burn.melt_pool import melt_pool
from logger.burn.stated import SELF_EXTINGUISHED
from logger.decision.criteria import Criterion, Decided, Outcome, Shown, guard_band
from logger.decision.in_trial import STANDARD, BurnInTrial
from logger.words import duration

# How far a person may be off who looks from the side, as half-width (all our choice).
FLAME_REACH_MM = 5.0
DEPTH_REACH_MM = 2.0
HANG_UP_REACH_MM = 1.0
SMOKE_REACH_S = 2.0
LAST_QUARTER = 0.75  # share of the wax gone from which the last quarter counts

MILLIMETRES, GRADE = "mm", "grade"


def _greatest(burn: BurnInTrial, of: Callable[[Look], float | None]) -> tuple[float, float] | None:
    """The greatest value that anybody saw, and when after lighting; None: nobody looked."""
    seen = [
        (value, one.at_s - burn.evidence.burn.lit_s)
        for one in burn.evidence.looks
        if (value := of(one.look)) is not None
    ]
    return max(seen, default=None)


def _at_most(
    value: float, reach: float, asked: CriterionValue | None, unit: str, reason: str
) -> Decided | None:
    if asked is None or asked.most is None:
        return None
    return Decided(
        outcome=guard_band(lower=value - reach, upper=value + reach, limit=asked.most),
        reason=reason,
        value=value,
        limit=asked.most,
        unit=unit,
        origin=asked.origin,
    )


def _flame(burn: BurnInTrial) -> Decided | None:
    seen = _greatest(burn, lambda look: max(look.flame_mm, default=None))
    if seen is None:
        return None
    height, when = burn.words.fine_length(seen[0]), duration(seen[1])
    reason = f"the flame was up to {height} high, after {when}"
    asked = burn.value(FLAME_HEIGHT.name)
    return _at_most(seen[0], FLAME_REACH_MM, asked, MILLIMETRES, reason)


def _ignition(burn: BurnInTrial) -> Decided | None:
    if burn.evidence.burn.danger is Danger.FLASH_OVER:
        return Decided(outcome=Outcome.FAIL, reason="the pool burned (flash-over)")
    said = [one.look.reignited for one in burn.evidence.looks if one.look.reignited]
    if not said:
        return None
    if YES in said:
        return Decided(outcome=Outcome.FAIL, reason="it lit again by itself")
    return Decided(outcome=Outcome.PASS, reason="it did not light again")


def _after_smoke(burn: BurnInTrial) -> Decided | None:
    seen = _greatest(burn, lambda look: look.after_smoke_s)
    if seen is None:
        return None
    reason = f"it smoked for {duration(seen[0])} after it was out"
    return _at_most(seen[0], SMOKE_REACH_S, burn.value(AFTER_SMOKE.name), "s", reason)


def _soot(burn: BurnInTrial) -> Decided | None:
    seen = _greatest(burn, lambda look: look.soot)
    if seen is None:
        return None
    soot, (smoke, _) = seen[0], _greatest(burn, lambda look: look.smoke) or (0.0, 0.0)
    reason = f"soot on the vessel up to grade {soot:g}, smoke from the flame {smoke:g}"
    return _at_most(max(soot, smoke), 0.0, burn.value(SOOT.name), GRADE, reason)


def _mushrooming(burn: BurnInTrial) -> Decided | None:
    seen = _greatest(burn, lambda look: look.mushrooming)
    if seen is None:
        return None
    reason = f"carbon on the wick up to grade {seen[0]:g}"
    return _at_most(seen[0], 0.0, burn.value(MUSHROOMING.name), GRADE, reason)


def _pool_depth(burn: BurnInTrial) -> Decided | None:
    seen = _greatest(burn, lambda look: look.pool_depth_mm)
    if seen is None:
        return None
    reason = f"the melt pool was up to {burn.words.fine_length(seen[0])} deep"
    return _at_most(seen[0], DEPTH_REACH_MM, burn.value(POOL_DEPTH.name), MILLIMETRES, reason)


def _pool_full(burn: BurnInTrial) -> Decided | None:
    """Of the second and third burn of a candle; one that was full in the first shows it too."""
    asked, at = burn.value(POOL_FULL.name), burn.evidence.burn
    first = burn.number == 1 or at.shared_pour
    if asked is None or asked.most is None or burn.number > 3 or burn.regime != STANDARD:
        return None
    found = melt_pool(burn.evidence.looks, at.lit_s, at.inner_diameter_mm)
    decided = Decided(
        outcome=Outcome.PASS,
        reason=f"the melt pool was full after {duration(found.full_s or 0.0)}",
        value=found.full_s,
        limit=asked.most,
        unit="s",
        origin=asked.origin,
    )
    if found.full_s is not None and found.full_s <= asked.most + AHEAD_S:
        return decided
    if first or found.short_s is None or found.short_s < asked.most - AHEAD_S:
        return None  # it may have filled later; a look at the mark counts as of it
    return replace(
        decided,
        outcome=Outcome.FAIL if burn.number == 3 else Outcome.UNDECIDED,
        reason=f"the melt pool was short of the wall after {duration(found.short_s)}",
        value=None,
        unit=None,
    )


def _hang_up(burn: BurnInTrial) -> Decided | None:
    """At the end of a candle: before, wax on the wall may still melt."""
    seen = [o.look.hang_up_mm for o in burn.evidence.looks if o.look.hang_up_mm is not None]
    if not seen or not burn.last or not at_the_end(burn):
        return None
    reason = f"{burn.words.fine_length(seen[-1])} of wax were left on the wall at the end"
    return _at_most(seen[-1], HANG_UP_REACH_MM, burn.value(HANG_UP.name), MILLIMETRES, reason)


def at_the_end(burn: BurnInTrial) -> bool:
    """Whether it ended in the last quarter of the wax, as far as anybody knows."""
    after = burn.weighed.used_after
    if after is not None:
        return after >= LAST_QUARTER
    return burn.evidence.burn.ending.ended == SELF_EXTINGUISHED


def _said(reach_mm: float) -> str:
    return f"{reach_mm:g} mm ({reach_mm / 25.4:.2f} in)"


_FROM_THE_SIDE = "Seen from the side by a person, who may be off by"

FLAME_HEIGHT = Criterion(
    name="flame-height",
    title="The flame stays low enough",
    rule=(
        f"{_FROM_THE_SIDE} {_said(FLAME_REACH_MM)} (our choice). Pass: the highest flame that was "
        "seen is under the limit by that. Fail: over it by that. Else undecided."
    ),
    source=(
        "EN 15493 (seen as quoted): at most 75 mm (3 in); the same in the rules of trade "
        "associations."
    ),
    finds=_flame,
    shown=Shown.HALF_AND_LAST,
    do="look at the flame's height at each mark",
)

SECONDARY_IGNITION = Criterion(
    name="secondary-ignition",
    title="Nothing but the wick burns",
    rule="Fail: the pool burned, or it lit again after it was out, however short. Pass: neither.",
    source=(
        "EN 15493 (seen as quoted): no secondary ignition that lasts more than 10 s, and none "
        "after extinguishing. Nobody times it here, so any counts: stricter."
    ),
    finds=_ignition,
    shown=Shown.HALF,
    do="once it is out, say whether it lit again",
)

AFTER_SMOKE = Criterion(
    name="after-smoke",
    title="It soon stops smoking once it is out",
    rule=(
        f"Timed by a person, who may be off by {SMOKE_REACH_S:g} s (our choice). Each burn counts "
        "by itself: stricter than a mean."
    ),
    source=(
        "EN 15493:2019 (seen as quoted): at most 30 s on the average of all readings; 20 s in its "
        "edition of 2007."
    ),
    finds=_after_smoke,
    shown=Shown.HALF,
    do="once it is out, time how long it smokes",
)

SOOT = Criterion(
    name="soot",
    title="The vessel stays clean and the flame does not smoke",
    rule="Grades 0 to 3, the worst of any look. No index of a standard is computed.",
    source="Common practice: a trace is usual, a grey patch is not.",
    finds=_soot,
    shown=Shown.HALF_AND_LAST,
    do="look for soot on the vessel at each mark",
)

MUSHROOMING = Criterion(
    name="mushrooming",
    title="The wick carries little carbon",
    rule="Grades 0 to 3, the worst of any look.",
    source="Common practice: a bead is usual, a cap makes a large and sooty flame.",
    finds=_mushrooming,
    shown=Shown.HALF,
    do="look at the wick's carbon at each mark",
)

POOL_FULL = Criterion(
    name="melt-pool-full",
    title="The melt pool reaches the wall by hour 4 of the second or third burn",
    rule=(
        "Pass: it was seen at the wall all round by then, in the first burn too. Fail: in the "
        "third it was seen short of it then; in the second that is undecided. Full sooner earns "
        "nothing: it is a sign of heat. Burns of the standard regime alone."
    ),
    source="Common practice.",
    finds=_pool_full,
    shown=Shown.ANY,
    do="look at the melt pool when it has burned for 4 h, in the candle's second or third burn",
    for_s=14_400.0,
)

POOL_DEPTH = Criterion(
    name="pool-depth",
    title="The melt pool stays shallow",
    rule=f"{_FROM_THE_SIDE} {_said(DEPTH_REACH_MM)} (our choice); the deepest of any look.",
    source=(
        "Common practice: 6 to 13 mm (1/4 to 1/2 in) is good, over that hot, over 19 mm (3/4 in) "
        "too hot."
    ),
    finds=_pool_depth,
    shown=Shown.ONCE,
    do="look at the depth of the melt pool at 4 h",
    for_s=14_400.0,
)

HANG_UP = Criterion(
    name="hang-up",
    title="Hardly any wax is left on the wall at the end",
    rule=(
        f"{_FROM_THE_SIDE} {_said(HANG_UP_REACH_MM)} (our choice); the last look of a candle's "
        "last burn, in the last quarter of its wax. What hangs up earlier may still melt."
    ),
    source="Common practice: up to 3 mm (1/8 in).",
    finds=_hang_up,
    shown=Shown.ONCE,
    do="at the end of the wax, look how much is left on the wall",
)

LOOK_CRITERIA = (
    FLAME_HEIGHT,
    SECONDARY_IGNITION,
    AFTER_SMOKE,
    SOOT,
    MUSHROOMING,
    POOL_FULL,
    POOL_DEPTH,
    HANG_UP,
)
