"""A shared pour: one candle that serves several wicks in turn, and what no burn of it can show.

A hole is made, the next wick is set, the top is melted again: one burn a wick.
"""

import re
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass

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


@dataclass(frozen=True, slots=True, kw_only=True)
class NextWick:
    """What is to be lit next on a shared pour."""

    wick: str
    trial: str


def wicks_in_order(written: str) -> tuple[str, ...]:
    """The wicks that a person wrote down in their order: "M4, M6, M8"."""
    return tuple(one.strip() for one in re.split("[,;]", written) if one.strip())


def next_wick(
    order: Sequence[str], burns: Sequence[Burn], trials: Mapping[str, str]
) -> NextWick | None:
    """The first wick of `order` that has no burn among those of this candle; None: each has one.

    `trials` names the trial of a wick where a record does. Without, a trial is called as the
    latest one here with the next wick in its name, or by the wick alone.
    """
    burned = {_wick_of(burn, order): burn for burn in sorted(burns, key=lambda one: one.lit_s)}
    wick = next((one for one in order if one not in burned), None)
    if wick is None:
        return None
    latest = max(burns, key=lambda one: one.lit_s, default=None)
    trial = trials.get(wick)
    if trial is None and latest is not None:
        before = _wick_of(latest, order)
        named = before and re.sub(_word(before), lambda _: wick, latest.trial)
        trial = named if named != latest.trial else None
    return NextWick(wick=wick, trial=trial or wick)


def _wick_of(burn: Burn, order: Sequence[str]) -> str:
    """By the burn's record, else by the name of its trial; empty where neither tells."""
    if burn.wick in order:
        return burn.wick
    return next((one for one in order if re.search(_word(one), burn.trial)), "")


def _word(wick: str) -> str:
    return rf"(?<!\w){re.escape(wick)}(?!\w)"
