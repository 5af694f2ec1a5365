"""How long readings are kept, and the task that discards what is older, step by step."""

import asyncio
import logging
from collections.abc import Callable
from contextlib import closing
from functools import partial

from logger.errors import StoreError
from logger.settings import Settings
from logger.store import retention
from logger.store.opening import FILE_NAME, open_to_read
from logger.store.retention import OldZone
from logger.store.sqlite_errors import in_plain_words
from logger.store.store import Store

log = logging.getLogger(__name__)

EVERY_S = 3600.0  # of real time, as the pause (our choice)
PAUSE_S = 0.2  # between two steps, of some milliseconds each


def kept_in_words(settings: Settings) -> str:
    """What the configuration says of it."""
    keep_s = settings.bench.keep_readings_outside_burns_s
    if keep_s is None:
        return "all are kept for ever"
    return (
        f"kept for {keep_s / 86_400.0:g} days, those of burns for ever: from an hour before "
        "lighting to the end of the cool-down; what people entered or imported is always kept"
    )


async def discard_old(
    store: Store,
    settings: Settings,
    now_s: Callable[[], float],
    *,
    every_s: float = EVERY_S,
    pause_s: float = PAUSE_S,
) -> None:
    """Discard what is older than the configuration keeps it, until cancelled.

    A disk that fails has its own alarm; it is tried again in the next round.
    """
    keep_s = settings.bench.keep_readings_outside_burns_s
    if keep_s is None:
        return
    while True:
        await asyncio.sleep(every_s)
        try:
            count = 0
            for zone in await asyncio.to_thread(_due, settings, now_s() - keep_s):
                count += await store.change(partial(retention.discard, zone=zone))
                await asyncio.sleep(pause_s)
            if count:
                log.info("%d old readings and estimates outside burns were discarded", count)
        except StoreError as exc:
            log.warning("old readings were not discarded: %s", exc)
        except Exception:
            log.exception("old readings were not discarded: the program failed")


def _due(settings: Settings, before_s: float) -> list[OldZone]:
    """Found on a connection of its own: the writer is asked for nothing but to delete."""
    path = settings.bench.data / FILE_NAME
    with in_plain_words(path), closing(open_to_read(path)) as con:
        return retention.due(con, before_s, settings.limits.cool_down_s)
