"""The time that belongs to a burn beyond its flame: how it began, and how it cooled."""

from logger.burn.model import Burn

BEFORE_S = 3600.0  # an hour: what room and candle were like before it was lit (our choice)
_COOLING_S = 3600.0  # at least, however short a cool-down is set (our choice)


def span_of(burn: Burn, cool_down_s: float) -> tuple[float, float | None]:
    """From an hour before it was lit until its cool-down is over; None: it is not out.

    `cool_down_s` holds for a burn that was lit under no limits of its own.
    """
    if burn.limits is not None:
        cool_down_s = burn.limits.cool_down_s
    end_s = None if burn.out_s is None else burn.out_s + max(cool_down_s, _COOLING_S)
    return burn.lit_s - BEFORE_S, end_s


def joined(spans: list[tuple[float, float | None]]) -> list[tuple[float, float | None]]:
    """The same times as stretches that do not touch, in order."""
    found: list[tuple[float, float | None]] = []
    for from_s, to_s in sorted(spans, key=lambda span: span[0]):
        last = found[-1] if found else None
        if last is None or (last[1] is not None and last[1] < from_s):
            found.append((from_s, to_s))
        elif last[1] is not None and (to_s is None or to_s > last[1]):
            found[-1] = (last[0], to_s)
    return found
