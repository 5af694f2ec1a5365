"""The curve for open pages: drawn once for all of them, and again when it would look different."""

import asyncio

from logger.burn.model import Burn
from logger.web.bench_service import BenchService
from logger.web.work import aside

NARROWEST_PX, WIDEST_PX = 280, 1200
_STEP_PX = 40  # widths are rounded down to it, so that pages of like size share a drawing
_MOST = 6  # drawings kept
_LEAST_S = 10.0  # pages ask every 15 s


class Curves:
    """Reading and drawing four hours takes 0.2 s; five pages that ask together wait for one."""

    def __init__(self, bench: BenchService) -> None:
        self._bench = bench
        self._kept: dict[tuple[str, int], tuple[float, int, str]] = {}
        self._lock = asyncio.Lock()

    async def svg(self, burn: Burn, width: int) -> str:
        """The curve of `burn`, about `width` CSS pixels wide; a pixel of its time old at most."""
        width = max(NARROWEST_PX, min(WIDEST_PX, width)) // _STEP_PX * _STEP_PX
        key = (burn.id, width)
        async with self._lock:
            now_s = self._bench.now_s()
            events = sum(alarm.count for alarm in self._bench.hub.alarms.values())
            lasts_s = max(_LEAST_S, burn.elapsed_s(now_s) / width)
            kept = self._kept.pop(key, None)
            if kept is None or now_s - kept[0] >= lasts_s or kept[1] != events:
                svg = await aside(self._bench.curve_svg, burn.id, width)
                kept = (now_s, events, svg)
            self._kept[key] = kept
            while len(self._kept) > _MOST:
                del self._kept[next(iter(self._kept))]
            return kept[2]
