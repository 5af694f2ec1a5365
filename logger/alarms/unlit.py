"""Rules about a vessel that warms though nobody has recorded it lit: candles light again.

Both look at the walls alone. A hand on a probe or the sun moves one place; a flame moves most.
"""

from collections.abc import Sequence

from logger.alarms.lifecycle import Finding, Priority, Signal, off
from logger.alarms.wall import STILL_HOT_C
from logger.burn.model import Burn
from logger.burn.safety import PUT_OUT
from logger.burn.trace import Trace
from logger.quantities import Rule
from logger.words import Words

SETTLED_S = 300.0  # after out the wax may still warm the wall for some minutes: our choice
SURE_C = 45.0  # warmer than sun and hands make a vessel in a room: our choice


def hotter_after_out(
    burn: Burn, traces: Sequence[Trace], hottest_c: float | None, now_s: float, words: Words
) -> Finding:
    """`hotter-after-out`: recorded out, and most places of its wall get hotter."""
    out_s = burn.out_s
    if out_s is None or burn.cooled:
        return off(Rule.HOTTER_AFTER_OUT, burn.station, Priority.CAUTION)
    if now_s - out_s < SETTLED_S or hottest_c is None:
        signal = Signal.HOLD
    else:
        signal = _signal(traces, most=sum(trace.rises for trace in traces))
    sure = hottest_c is not None and hottest_c > SURE_C
    return Finding(
        rule=Rule.HOTTER_AFTER_OUT,
        subject=burn.station,
        station=burn.station,
        signal=signal,
        priority=Priority.WARNING if sure else Priority.CAUTION,
        value=hottest_c,
        unit="degC",
        tell=lambda: (
            f"{burn.station}: recorded out, and it is getting hotter, now "
            f"{words.temperature(hottest_c or 0.0)}; it may burn again. Go and look; if it burns, "
            f"{PUT_OUT}"
        ),
    )


def warming_unlit(
    station: str, burn: Burn | None, traces: Sequence[Trace], hottest_c: float | None, words: Words
) -> Finding:
    """`warming-unlit`: no burn is recorded, and most places of the vessel's wall warm up."""
    if burn is not None and burn.may_burn:
        return off(Rule.WARMING_UNLIT, station, Priority.CAUTION)
    if hottest_c is None:
        signal = Signal.HOLD
    elif hottest_c <= STILL_HOT_C:
        signal = Signal.OFF
    else:
        warming = [t for t in traces if t.lit_since is not None and t.out_since is None]
        signal = _signal(traces, most=len(warming))
    sure = hottest_c is not None and hottest_c > SURE_C
    return Finding(
        rule=Rule.WARMING_UNLIT,
        subject=station,
        station=station,
        signal=signal,
        priority=Priority.WARNING if sure else Priority.CAUTION,
        value=hottest_c,
        unit="degC",
        tell=lambda: (
            f"{station}: it is warming up, now {words.temperature(hottest_c or 0.0)}, "
            "and no burn is recorded. Go and look; if a candle burns here, record it lit"
        ),
    )


def _signal(traces: Sequence[Trace], *, most: int) -> Signal:
    """On where most rise, off once all fall; steady heat decides nothing."""
    if 2 * most > len(traces):
        return Signal.ON
    falls = traces and all(trace.out_since is not None for trace in traces)
    return Signal.OFF if falls else Signal.HOLD
