"""What pages need of the shelf, as the disk gave it last: a page waits for no disk."""

import asyncio
import logging
from collections.abc import Mapping
from dataclasses import dataclass, field
from typing import cast

from logger.errors import WickbenchError
from logger.intake.shelf_bodies import record_of
from logger.shelf.vessels import VesselRecord
from logger.store.queries import open_read
from logger.web.bench_service import BenchService
from logger.web.work import aside

log = logging.getLogger(__name__)

PATIENCE_S = 1.0  # what comes later is on the next page (our choice)
BRIEFLY_S = 0.1  # so long for what is only drawn, on the page of a burning candle (our choice)


@dataclass(frozen=True, slots=True, kw_only=True)
class KnownRecords:
    """Records that are on the shelf."""

    testers: tuple[str, ...] = ()  # their codes, in order
    vessels: Mapping[str, VesselRecord] = field(default_factory=dict)


class ShelfReading:
    """One reading of the shelf at a time, for all pages."""

    def __init__(self, bench: BenchService) -> None:
        self._bench = bench
        self._known = KnownRecords()
        self._reading: asyncio.Task[KnownRecords] | None = None

    async def records(self, patience_s: float = PATIENCE_S) -> KnownRecords:
        """As they are now, or as they were last where the disk takes longer than that."""
        if self._reading is None:
            self._reading = asyncio.ensure_future(aside(_read, self._bench))
        reading = self._reading
        done, _ = await asyncio.wait([reading], timeout=patience_s)
        if done:
            if self._reading is reading:  # who was woken before may have begun the next
                self._reading = None
            try:
                self._known = reading.result()
            except WickbenchError as exc:
                log.warning("the shelf cannot be read for a page: %s", exc)
        return self._known


def _read(bench: BenchService) -> KnownRecords:
    with open_read(bench.data) as reader:
        testers = [one.name for one in reader.shelf("tester") if not one.withdrawn]
        vessels = [record_of(one) for one in reader.shelf("vessel") if not one.withdrawn]
    return KnownRecords(
        testers=tuple(sorted(testers, key=str.casefold)),
        vessels={one.name: cast("VesselRecord", one) for one in vessels},
    )
