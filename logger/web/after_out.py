"""What the latest burn amounts to once it is out, for its station's page: read once, then kept."""

import asyncio
import hashlib
import logging
from dataclasses import dataclass

from logger.burn.model import Burn
from logger.errors import WickbenchError
from logger.reports.record_messages import BurnMessage
from logger.web.bench_service import BenchService
from logger.web.work import aside

log = logging.getLogger(__name__)

PATIENCE_S = 1.0  # a page never waits longer for the disk: what comes late is on the next


@dataclass(frozen=True, slots=True, kw_only=True)
class BurnSummary:
    """A burn that is out, in lines; none where it could not be read yet."""

    card: tuple[str, ...] = ()
    proves: tuple[str, ...] = ()
    pool: tuple[str, ...] = ()
    wax: tuple[str, ...] = ()
    uncovered: str | None = None  # of the wall; None where it cannot be drawn

    @property
    def version(self) -> str:
        """Changes with anything that is shown."""
        said = (*self.card, *self.proves, *self.pool, *self.wax, self.uncovered or "")
        return hashlib.sha256("\n".join(said).encode()).hexdigest()[:16]


@dataclass(frozen=True, slots=True, kw_only=True)
class _Kept:
    marks: tuple[object, ...]
    reading: asyncio.Task[BurnMessage]


class AfterOut:
    """Reading a burn takes a second or so: many pages wait for one reading, none for a disk."""

    def __init__(self, bench: BenchService) -> None:
        self._bench = bench
        self._kept: dict[str, _Kept] = {}  # by station

    async def summary(self, burn: Burn) -> BurnSummary:
        """Of `burn`, which is out, as it stands after all that was entered."""
        marks = (burn, sum(1 + len(one.changes) for one in self._bench.entered_at(burn.station)))
        kept = self._kept.get(burn.station)
        if kept is None or kept.marks != marks:
            reading = asyncio.ensure_future(aside(self._bench.burn_message, burn.id))
            kept = self._kept[burn.station] = _Kept(marks=marks, reading=reading)
        done, _ = await asyncio.wait([kept.reading], timeout=PATIENCE_S)
        if not done:
            return BurnSummary()
        found = _read(kept.reading)
        if found is None or found["out"] is None:  # not saved yet: ask again next time
            if self._kept.get(burn.station) is kept:
                del self._kept[burn.station]
            return BurnSummary()
        wall = found["wall_coverage"]
        return BurnSummary(
            card=tuple(found["card"]),
            pool=tuple(found["melt_pool"]["words"]),
            proves=tuple(one["text"] for one in found["proves"]),
            wax=tuple(found["weighed"]["words"]),
            uncovered=None if wall is None else wall["never"],
        )


def _read(reading: asyncio.Task[BurnMessage]) -> BurnMessage | None:
    """What was read; None where it could not be: the page with its alarms opens without it."""
    try:
        return reading.result()
    except WickbenchError as exc:
        log.warning("the last burn cannot be read for its page: %s", exc)
    except Exception:
        log.exception("the last burn cannot be summed up for its page")
    return None
