"""What one person has to do next across the bench, while several candles burn."""

from collections.abc import Iterable, Iterator

from logger.burn.limits import Limits
from logger.burn.marks import MarkState, MarkTimes, marks
from logger.burn.model import Burn
from logger.words import duration

WITHIN_S = 1800.0  # one line holds no more (our choice)


def coming_up(
    burns: Iterable[Burn], times: MarkTimes, limits: Limits, now_s: float, *, but: str
) -> str:
    """Marks and ends within half an hour at other stations than `but`; empty where there are none.

    How long until then rather than the time of day: the core knows no zone.
    """
    found = sorted(
        one
        for burn in burns
        if burn.lit and burn.station != but
        for one in _of(burn, times, limits, now_s)
    )
    told = [
        f"{station} {what} {f'in {duration(in_s)}' if in_s > 0.0 else 'now'}"
        for in_s, station, what in found
        if in_s <= WITHIN_S
    ]
    return f"Next {duration(WITHIN_S)}: {', '.join(told)}" if told else ""


def _of(
    burn: Burn, times: MarkTimes, limits: Limits, now_s: float
) -> Iterator[tuple[float, str, str]]:
    marks_s, length_s = times.of(burn.circumstances.regime), burn.longest_s(limits)
    looked_s = [at_s - burn.lit_s for at_s in burn.looked_s]
    for one in marks(marks_s, looked_s, now_s - burn.lit_s, lit=True):
        if one.state in (MarkState.AHEAD, MarkState.DUE) and one.mark_s < length_s:
            yield burn.lit_s + one.mark_s - now_s, burn.station, f"{duration(one.mark_s)} look"
    yield burn.lit_s + length_s - now_s, burn.station, "out"
