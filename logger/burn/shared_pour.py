"""A shared pour: one candle that serves several wicks in turn, and what no burn of it can show.

A hole is made, the next wick is set, the top is melted again: one burn a wick.
"""

from collections.abc import Iterable

from logger.burn.model import Burn

NOT_JUDGED = (
    "the last quarter of the wax",
    "whether it extinguishes by itself",
    "the hot throw",
    "hang-up in later burns",
    "the wax used over its life",
)
"""By any burn of a shared pour (common practice): it is never burned down with one wick."""


def not_judged(burns: Iterable[Burn]) -> tuple[str, ...]:
    """What these burns of a trial cannot show; nothing once one is of a candle of its own."""
    found = [burn.shared_pour for burn in burns]
    return NOT_JUDGED if found and all(found) else ()


def again(burn: Burn, known: Iterable[Burn]) -> str:
    """A caution where the wick of `burn` had its burn on this shared pour; else empty."""
    earlier = [
        one
        for one in known
        if burn.shared_pour
        and one.id != burn.id
        and not one.withdrawn
        and (one.candle, one.trial) == (burn.candle, burn.trial)
    ]
    if not earlier:
        return ""
    named = earlier[-1].short_id
    return (
        f"; {burn.trial} has burned on this shared pour already (burn {named}), and each wick "
        "has one burn there"
    )
