"""The curve for open pages: drawn once for all of them, and again when it would look different."""

import asyncio
from dataclasses import dataclass

from logger.burn.model import Burn
from logger.reports.curve_places import COLUMN_PX
from logger.web.bench_service import BenchService
from logger.web.work import aside

NARROWEST_PX, WIDEST_PX = 280, 1200
_STEP_PX = 40  # widths are rounded down to it, so that pages of like size share a drawing
_MOST = 6  # drawings kept
_LEAST_S = 10.0  # pages ask every 15 s


@dataclass(frozen=True, slots=True, kw_only=True)
class _Kept:
    at_s: float
    marks: tuple[object, ...]
    svg: str


class Curves:
    """Reading and drawing four hours takes 0.1 s; five pages that ask together wait for one."""

    def __init__(self, bench: BenchService) -> None:
        self._bench = bench
        self._kept: dict[tuple[str, int], _Kept] = {}
        self._lock = asyncio.Lock()

    async def svg(self, burn: Burn, width: int) -> str:
        """The curve of `burn`, about `width` CSS pixels wide; a column of its time old at most.

        What marks a moment is drawn at once: an alarm, a reading by hand, out.
        """
        width = max(NARROWEST_PX, min(WIDEST_PX, width)) // _STEP_PX * _STEP_PX
        key = (burn.id, width)
        async with self._lock:
            now_s = self._bench.now_s()
            marks = self._marks(burn)
            lasts_s = max(_LEAST_S, COLUMN_PX * burn.elapsed_s(now_s) / width)
            kept = self._kept.pop(key, None)
            if kept is None or now_s - kept.at_s >= lasts_s or kept.marks != marks:
                svg = await aside(self._bench.curve_svg, burn.id, width)
                kept = _Kept(at_s=now_s, marks=marks, svg=svg)
            self._kept[key] = kept
            while len(self._kept) > _MOST:
                del self._kept[next(iter(self._kept))]
            return kept.svg

    def _marks(self, burn: Burn) -> tuple[object, ...]:
        hub = self._bench.hub
        by_hand = sum(hub.estimates[name].at_s for name in hub.by_hand if name in hub.estimates)
        return burn.out_s, by_hand, sum(alarm.count for alarm in hub.alarms.values())
