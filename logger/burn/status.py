"""A station now: what pages, phones and terminals show of it."""

from collections.abc import Iterable

from logger.burn.cool_down import lit_again_s
from logger.burn.limits import Limits, Station
from logger.burn.model import Burn, BurnPhase, BurnStatus, Hottest, measured
from logger.quantities import Channel, Estimate, Quality

OLD_BY_HAND_S = 600.0
"""A reading by hand older than this is of no moment: a wall warms 5 K in that time (choice)."""


def is_old(channel: Channel, estimate: Estimate, now_s: float) -> bool:
    """Whether a person's reading was taken too long ago to say what is now."""
    return channel.by_hand and now_s - estimate.at_s > OLD_BY_HAND_S


def is_of_before(channel: Channel, estimate: Estimate, lit_s: float | None) -> bool:
    """Whether a person's reading was taken before the burn that was lit at `lit_s`."""
    return channel.by_hand and lit_s is not None and estimate.at_s < lit_s


def hottest_now(
    places: Iterable[tuple[Channel, Estimate]], now_s: float, lit_s: float | None
) -> Hottest | None:
    """The hottest of the `places` of one vessel that are measured now: not lost, not old.

    A person's reading of before its latest burn was lit at `lit_s` says nothing of that burn.
    """
    seen = [
        (channel, estimate)
        for channel, estimate in places
        if estimate.value is not None
        and estimate.quality is not Quality.LOST
        and not is_old(channel, estimate, now_s)
        and not is_of_before(channel, estimate, lit_s)
    ]
    if not seen:
        return None
    channel, estimate = max(seen, key=lambda place: place[1].value or 0.0)
    return measured(estimate, channel.place)


def status(
    station: Station,
    burn: Burn | None,
    limits: Limits,
    places: Iterable[tuple[Channel, Estimate]],
    now_s: float,
) -> BurnStatus:
    """`station` at `now_s`; `places` are those on its vessel that were ever heard or read."""
    wall = limits.of(burn.material if burn else station.material)
    known = [*places]
    hottest = hottest_now(known, now_s, burn.lit_s if burn else None)
    return BurnStatus(
        at_s=now_s,
        station=station.name,
        phase=_phase(burn, limits, now_s),
        burn=burn.id if burn else None,
        number=burn.number if burn else None,
        trial=burn.trial if burn else None,
        lit_s=burn.lit_s if burn else None,
        out_s=burn.out_s if burn else None,
        elapsed_s=burn.elapsed_s(now_s) if burn else None,
        remaining_s=burn.longest_s(limits) - burn.elapsed_s(now_s) if burn else None,
        limit_c=wall.limit_c,
        alert_c=wall.alert_c,
        hottest=hottest,
        margin_c=wall.limit_c - hottest.upper_c if hottest else None,
        automatic=any(not channel.by_hand for channel, _ in known),
    )


def _phase(burn: Burn | None, limits: Limits, now_s: float) -> BurnPhase:
    if burn is None:
        return BurnPhase.COLD
    again_s = lit_again_s(burn, limits)
    if again_s is None:
        return BurnPhase.LIT
    return BurnPhase.COOLING if now_s < again_s else BurnPhase.COLD
