"""Seals what is old while the service runs, step by step; the writer only takes the results."""

import asyncio
import logging
from collections.abc import Callable
from contextlib import closing
from pathlib import Path

from logger.errors import StoreError
from logger.store import sealing
from logger.store.opening import FILE_NAME, open_to_read
from logger.store.schema import one_moment
from logger.store.sqlite_errors import in_plain_words
from logger.store.store import Store

log = logging.getLogger(__name__)

IDLE_S = 60.0  # of real time, as the next; our choice, both
PAUSE_S = 1.0  # between steps: 16,000 rows a second, which leaves the disk to the recorder


class Sealer:
    """Looks for what to seal each minute; only while it is `quiet`, as the disk does its work."""

    def __init__(self, store: Store, data: Path, *, quiet: Callable[[], bool] = lambda: True):
        self._store = store
        self._path = data / FILE_NAME
        self._quiet = quiet
        self._left: set[sealing.Place] = set()  # what cannot be packed stays as it is

    async def run(self) -> None:
        """Seal until cancelled."""
        pause_s = IDLE_S
        while True:
            await asyncio.sleep(pause_s)
            pause_s = PAUSE_S if self._quiet() and await self.step() else IDLE_S

    async def step(self) -> bool:
        """Seal the oldest rows that may be; whether there were any."""
        try:
            block = await asyncio.to_thread(self._pack)
            return block is not None and await self._store.seal(block)
        except StoreError as exc:
            log.warning("nothing is sealed for now: %s", exc)
            return False

    def _pack(self) -> sealing.Block | None:
        with in_plain_words(self._path), closing(open_to_read(self._path)) as con, one_moment(con):
            while place := sealing.due(con, self._left):
                try:
                    return sealing.packed(place, sealing.stored_rows(con, place))
                except Exception:  # a fault of packing must not end a burn: rows are as good
                    log.exception("%s, rows %d to %d: not sealed", place.table, *place.ends)
                    self._left.add(place)
        return None
