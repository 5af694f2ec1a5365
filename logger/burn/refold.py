"""A burn computed anew from its entries as they count; what instruments saw of it stays."""

import math
from collections.abc import Iterable, Sequence
from dataclasses import replace

from logger.burn import consumption, model
from logger.burn.entries import (
    Emergency,
    Entry,
    InSight,
    Lit,
    ManualReading,
    Note,
    Observed,
    Out,
    Photographed,
    WeighIn,
)
from logger.burn.limits import Limits, Material
from logger.burn.model import Burn
from logger.burn.places import estimate_by_hand
from logger.errors import Refused
from logger.quantities import Channel, Estimate, Quality
from logger.words import Words


def refolded(
    burn: Burn,
    entries: Sequence[Entry],
    limits: Limits,
    words: Words,
    before: Burn | None,
    *,
    material: Material | None,
) -> Burn:
    """`burn` as its `entries`, in order of entry, make it, after `before` on its station.

    `material` is what its vessel is of where no record says so.

    Without its lighting it counts as never lit. Raises Refused where they contradict one another.
    """
    lit = next((entry for entry in entries if isinstance(entry, Lit)), None)
    if lit is None:
        return replace(burn, withdrawn=True, out_s=burn.lit_s, cooled=True, danger=None)
    now = model.light(lit, material, burn.limits or limits, before)
    now = consumption.checked(
        replace(now, id=burn.id, number=burn.number, expected=burn.expected), words
    )
    looks: list[Observed] = []
    for entry in entries:
        match entry:
            case WeighIn():
                now, _ = consumption.weigh(now, entry, limits, words)
            case Out() if now.out_s is not None and not now.in_danger:
                pass  # after an emergency that is withdrawn: it was out already
            case Out() if burn.lit_s < now.lit_s and entry.at_s < now.lit_s:
                raise Refused(f"{burn.station} was out before that: give an earlier time")
            case Observed():
                looks.append(entry)
            case Out() | Note() | Photographed() | Emergency() | InSight():
                now, _, _ = model.see(now, entry)
            case _:
                pass
    for seen in looks:  # by the time of out as it counts, whenever that was entered
        now = model.look(now, seen)
    now = replace(
        now,
        hottest_sensed=burn.hottest_sensed,
        least_margin_sensed=burn.least_margin_sensed,
        asked_s=burn.asked_s,
        sides_told_s=burn.sides_told_s,
        links=burn.links,
    )
    if burn.out_s is not None and now.out_s is not None:
        now = replace(now, out_wall_c=burn.out_wall_c, cooled=burn.cooled, learned=burn.learned)
    return now


def sensed_since(
    burn: Burn, sensed: Iterable[tuple[Channel, Estimate]], cool_down_s: float
) -> Burn:
    """`burn` after its lighting was corrected: without what was hottest before it was lit.

    `sensed` are estimates in order of time, as far back as any are kept. Where they lack the
    whole burn the earlier figure stays: it can only be too hot. The hottest place is sought until
    `cool_down_s` after out.
    """
    known = [
        (c, e)
        for c, e in sensed
        if c.station == burn.station and c.on_vessel and e.quality is Quality.GOOD
    ]
    reaches = bool(known) and known[0][1].at_s <= burn.lit_s + 60.0
    kept = {
        name: found
        for name in ("hottest_sensed", "least_margin_sensed")
        if (found := getattr(burn, name)) is not None and (found.at_s >= burn.lit_s or not reaches)
    }
    after = replace(burn, hottest_sensed=None, least_margin_sensed=None)
    after = replace(after, **kept)
    after = replace(after, hottest=after.hottest_sensed, least_margin=after.least_margin_sensed)
    for channel, estimate in known:
        if burn.lit_s <= estimate.at_s < (burn.out_s or math.inf) + cool_down_s:
            after = after.with_estimate(estimate, channel.place)
    return after


def with_readings(burn: Burn, readings: Iterable[ManualReading], cool_down_s: float) -> Burn:
    """`burn` as its instruments and these readings by hand measured it."""
    after = burn.without_hand()
    for entry in readings:
        estimate = estimate_by_hand(entry)
        late = burn.out_s is not None and entry.at_s >= burn.out_s + cool_down_s
        if entry.channel.on_vessel and estimate.quality is Quality.GOOD and not late:
            after = after.with_estimate(estimate, entry.place, by_hand=True)
        if entry.channel.on_vessel and entry.by_a_person:
            after = replace(after, read_s=max(after.read_s or 0.0, entry.at_s))
    return after
