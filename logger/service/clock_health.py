"""What is said of the system's clock: times and durations here do not follow when it is set."""

from logger.quantities import Health, Part
from logger.timestamps import rfc3339
from logger.words import duration

CLOCK_STEP_S = 2.0  # more than clocks drift within a day: somebody or something set it (choice)
AWAY_S = 86_400.0  # nobody leaves a lit candle unwatched for a day (our choice)

_NAME = "system clock"


def clock_at_start(started_s: float, away_s: float, *, lit: bool) -> Health:
    """Whether the clock may be ahead: `away_s` is how long nothing was recorded before."""
    ahead = lit and away_s > AWAY_S
    return Health(
        part=Part.CLOCK,
        name=_NAME,
        ok=not ahead,
        reason=f"nothing was recorded for {away_s / 86_400.0:.0f} days, and a candle is recorded "
        "lit: if that cannot be, the system's clock is ahead. Look at the candle; set the clock"
        if ahead
        else "it is right, as far as is known",
        at_s=started_s,
    )


def clock_set(now_s: float, step_s: float) -> Health:
    """That the system's clock is `step_s` ahead of bench time, or agrees again."""
    return Health(
        part=Part.CLOCK,
        name=_NAME,
        ok=abs(step_s) <= CLOCK_STEP_S,
        reason=f"the system's clock says {rfc3339(now_s + step_s, digits=0)}, here it is "
        f"{rfc3339(now_s, digits=0)}: {duration(abs(step_s))} {'behind' if step_s < 0 else 'ahead'}"
        "; burning times go by the time here. Look at the candle; set the clock, and start the "
        "service again once nothing burns",
        at_s=now_s,
    )
