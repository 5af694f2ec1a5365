"""The testers on the shelf, to choose from when a candle is lit: a page waits for no disk."""

import asyncio
import logging
from collections.abc import Sequence

from logger.errors import WickbenchError
from logger.store.queries import open_read
from logger.web.bench_service import BenchService
from logger.web.work import aside

log = logging.getLogger(__name__)

PATIENCE_S = 1.0  # what comes later is on the next page (our choice)


class KnownTesters:
    """Their codes, as the disk gave them last; one reading at a time."""

    def __init__(self, bench: BenchService) -> None:
        self._bench = bench
        self._names: Sequence[str] = ()
        self._reading: asyncio.Task[Sequence[str]] | None = None

    async def names(self) -> Sequence[str]:
        """The codes, in order."""
        if self._reading is None:
            self._reading = asyncio.ensure_future(aside(_names, self._bench))
        done, _ = await asyncio.wait([self._reading], timeout=PATIENCE_S)
        if done:
            reading, self._reading = self._reading, None
            try:
                self._names = self._names if reading is None else reading.result()
            except WickbenchError as exc:
                log.warning("the testers on the shelf cannot be read: %s", exc)
        return self._names


def _names(bench: BenchService) -> Sequence[str]:
    with open_read(bench.data) as reader:
        living = [one.name for one in reader.shelf("tester") if not one.withdrawn]
    return sorted(living, key=str.casefold)
