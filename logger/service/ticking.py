"""The time of a run: where it goes on, what nobody watched before, and the tick of each second."""

import logging

from logger.clock import Clock, year_is_plausible
from logger.errors import WickbenchError
from logger.service.clock_health import CLOCK_STEP_S, clock_at_start, clock_set
from logger.service.engine import Engine
from logger.timestamps import rfc3339

log = logging.getLogger(__name__)


def go_on_from(clock: Clock, latest_s: float) -> tuple[float, bool]:
    """Bench time now, never before `latest_s`, the last that was stored; whether it was behind.

    Of a clock that was behind, nobody knows how long nothing watched. Raises WickbenchError where
    the year cannot be.
    """
    woke_s = clock.now_s()
    clock.set_earliest(latest_s)
    now_s = clock.now_s()
    if not year_is_plausible(now_s):
        raise WickbenchError(f"the clock says {rfc3339(now_s)}, which cannot be: set it first")
    return now_s, now_s > woke_s + 1.0


def resume(
    engine: Engine, last_seen_s: float | None, started_s: float, *, lit: bool, behind: bool
) -> None:
    """Say how long nothing watched before this start; `last_seen_s`: None at the first."""
    away_s = 0.0 if last_seen_s is None else started_s - last_seen_s
    engine.put(clock_at_start(started_s, away_s, lit=lit))
    if last_seen_s is not None:
        log.info("back after %.0f s away", away_s)
        engine.resume(last_seen_s, started_s, length_known=not behind)


async def tick(engine: Engine, clock: Clock) -> None:
    """Each whole second into the queue, for ever; and what is seen of the system's clock."""
    told_s = 0.0
    while True:
        now_s = clock.now_s()
        engine.tick(now_s)
        step_s = clock.wall_step_s()
        if abs(step_s - told_s) > CLOCK_STEP_S:
            told_s = step_s
            engine.put(clock_set(now_s, step_s))
            if abs(step_s) > CLOCK_STEP_S:
                log.warning(
                    "the system's clock was set and now differs by %+.0f s: times are still "
                    "told as at the start, and no burn's length has changed; start the "
                    "service again once nothing burns",
                    step_s,
                )
            else:
                log.info("the system's clock was set and agrees again with the times told")
        await clock.sleep_until(now_s // 1.0 + 1.0)
