"""Signs that a wick is too large or too small for its vessel, from what was seen and measured."""

from collections.abc import Iterator, Sequence
from dataclasses import dataclass

from logger.burn.melt_pool import FAST_MM_PER_H, melt_pool
from logger.decision.criteria import Judgement, Outcome
from logger.decision.heat_criteria import WALL_LIMIT
from logger.decision.in_trial import BurnInTrial, used_after
from logger.decision.look_criteria import (
    FLAME_HEIGHT,
    HANG_UP,
    LAST_QUARTER,
    MUSHROOMING,
    POOL_DEPTH,
    POOL_FULL,
    SOOT,
)
from logger.decision.outlook import Outlook
from logger.decision.wax_criteria import CONSUMPTION, WAX_LEFT
from logger.words import Words, duration

# All common practice.
HOT_FLAME_MM, SMALL_FLAME_MM = 38.0, 13.0  # 1.5 and 0.5 in
HOT_POOL_MM = 13.0  # deep: half an inch
TUNNEL_MM = 10.0  # of wax on the wall with the pool short of it: the flame sinks into a hole (ours)
SETTLED_S = 3600.0  # before, a flame is still growing

DROWNING = "drowning"
_HOT_IF_FAILED = (WALL_LIMIT, FLAME_HEIGHT, SOOT, MUSHROOMING, POOL_DEPTH)
_COLD_IF_FAILED = (POOL_FULL, HANG_UP)
_COLD_IF_LOW = {CONSUMPTION.name: True, WAX_LEFT.name: False}  # low: whether under its least is


@dataclass(frozen=True, slots=True, kw_only=True)
class Sign:
    """One thing that speaks for a smaller or a larger wick."""

    text: str
    hot: bool  # too large; else too small
    burn: str | None = None  # the number that people type
    urgent: bool = False  # drowning or tunnelling: it will not get better as the wax goes


def signs(
    burns: Sequence[BurnInTrial],
    judgements: Sequence[Judgement],
    outlook: Outlook,
    words: Words,
) -> list[Sign]:
    """What speaks either way, in order of the burns."""
    found = [
        one for burn in burns for one in (*_judged(burn, judgements), *_seen(burn), *_pool(burn))
    ]
    limit_c = burns[-1].evidence.limits.of(burns[-1].evidence.burn.material).limit_c
    coming_c = still_to_come_c(burns, outlook)
    if coming_c is not None and coming_c > limit_c:
        found.append(
            Sign(
                text=f"the last quarter of the wax may reach {words.temperature(coming_c)}, "
                f"over the maker's limit of {words.temperature(limit_c)}",
                hot=True,
            )
        )
    return found


def still_to_come_c(burns: Sequence[BurnInTrial], outlook: Outlook) -> float | None:
    """The bound on the last quarter's peak, while that was not burned; else None."""
    used = used_after(burns)
    if outlook.last_quarter is None or (used is not None and used >= LAST_QUARTER):
        return None
    return outlook.last_quarter.high_c


def _judged(burn: BurnInTrial, judgements: Sequence[Judgement]) -> Iterator[Sign]:
    """Criteria that failed."""
    name = burn.evidence.burn.short_id
    for one in judgements:
        if one.burn != burn.evidence.burn.id or one.outcome is not Outcome.FAIL:
            continue
        if one.criterion in _HOT_IF_FAILED:
            yield Sign(text=one.reason, hot=True, burn=name)
        elif one.criterion in _COLD_IF_FAILED:
            yield Sign(text=one.reason, hot=False, burn=name)
        elif one.criterion.name in _COLD_IF_LOW and one.value is not None:
            low = one.least is not None and one.value < one.least
            cold = low is _COLD_IF_LOW[one.criterion.name]
            urgent = one.criterion is WAX_LEFT and cold  # it drowned
            yield Sign(text=one.reason, hot=not cold, burn=name, urgent=urgent)


def _seen(burn: BurnInTrial) -> Iterator[Sign]:
    """What is not good and no reason to fail."""
    at, words = burn.evidence.burn, burn.words
    looks = [(one.at_s - at.lit_s, one.look) for one in burn.evidence.looks]
    flames = [mm for at_s, look in looks if at_s >= SETTLED_S for mm in look.flame_mm]
    if flames and max(flames) > HOT_FLAME_MM:
        text = f"the flame was {words.fine_length(max(flames))} high"
        yield Sign(text=text, hot=True, burn=at.short_id)
    elif flames and max(flames) < SMALL_FLAME_MM:
        text = f"the flame was only {words.fine_length(max(flames))} high"
        yield Sign(text=text, hot=False, burn=at.short_id)
    if any(look.wick == DROWNING for _, look in looks):
        yield Sign(text="the wick was drowning", hot=False, burn=at.short_id, urgent=True)
    deep = [look.pool_depth_mm for _, look in looks if look.pool_depth_mm is not None]
    if deep and max(deep) > HOT_POOL_MM:
        text = f"the melt pool was {words.fine_length(max(deep))} deep"
        yield Sign(text=text, hot=True, burn=at.short_id)


def _pool(burn: BurnInTrial) -> Iterator[Sign]:
    """A pool that was full soon, or that burns a hole."""
    at = burn.evidence.burn
    found = melt_pool(burn.evidence.looks, at.lit_s, at.inner_diameter_mm)
    if found.full_s is not None and at.inner_diameter_mm is not None:
        usual_s = 0.5 * at.inner_diameter_mm / FAST_MM_PER_H * 3600.0
        if found.full_s < usual_s and burn.number == 1:
            text = (
                f"the melt pool was full after {duration(found.full_s)} already, sooner than "
                f"{duration(usual_s)}: no merit, but a sign of heat"
            )
            yield Sign(text=text, hot=True, burn=at.short_id)
    hung = [o.look.hang_up_mm for o in burn.evidence.looks if o.look.hang_up_mm is not None]
    if found.full_s is None and found.short_s is not None and hung and hung[-1] >= TUNNEL_MM:
        text = (
            f"it tunnels: {burn.words.fine_length(hung[-1])} of wax stand on the wall, and the "
            f"melt pool was short of it after {duration(found.short_s)}"
        )
        yield Sign(text=text, hot=False, burn=at.short_id, urgent=True)
