"""The curve for open pages: drawn once for all of them, and again when it would look different."""

import asyncio
import json
from collections.abc import Callable
from dataclasses import dataclass
from functools import partial

from logger.burn.model import Burn
from logger.messages import rounded
from logger.reports.curve_messages import CurveForecastMessage
from logger.reports.curve_places import COLUMN_PX
from logger.reports.curve_series import CurveSubject
from logger.web.bench_service import BenchService
from logger.web.views import FORECAST_AGE_S
from logger.web.work import aside

NARROWEST_PX, WIDEST_PX = 280, 1200
_STEP_PX = 40  # widths are rounded down to it, so that pages of like size share a drawing
_MOST = 6  # drawings kept
_LEAST_S = 10.0  # pages ask every 15 s


@dataclass(frozen=True, slots=True, kw_only=True)
class _Kept:
    at_s: float
    marks: tuple[object, ...]
    text: str


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
        column_s = COLUMN_PX * burn.elapsed_s(self._bench.now_s()) / width
        make = partial(self._bench.curve_svg, burn.id, width)
        return await self._kept_text(burn, width, max(_LEAST_S, column_s), make)

    async def message(self, burn: Burn) -> str:
        """All of a chart of `burn` but its series, as JSON; _LEAST_S old at most."""
        return await self._kept_text(burn, 0, _LEAST_S, partial(self._message, burn))

    def _message(self, burn: Burn) -> str:
        found = self._bench.curve_message(CurveSubject(burns=(burn.id,)))
        found["forecasts"] = forecasts(self._bench, burn)
        return json.dumps(found, separators=(",", ":"))

    async def _kept_text(
        self, burn: Burn, width: int, lasts_s: float, make: Callable[[], str]
    ) -> str:
        key = (burn.id, width)
        async with self._lock:
            now_s = self._bench.now_s()
            marks = self._marks(burn)
            kept = self._kept.pop(key, None)
            if kept is None or now_s - kept.at_s >= lasts_s or kept.marks != marks:
                kept = _Kept(at_s=now_s, marks=marks, text=await aside(make))
            self._kept[key] = kept
            while len(self._kept) > _MOST:
                del self._kept[next(iter(self._kept))]
            return kept.text

    def _marks(self, burn: Burn) -> tuple[object, ...]:
        hub = self._bench.hub
        by_hand = sum(hub.estimates[name].at_s for name in hub.by_hand if name in hub.estimates)
        return burn.out_s, by_hand, sum(alarm.count for alarm in hub.alarms.values())


def forecasts(bench: BenchService, burn: Burn) -> list[CurveForecastMessage]:
    """Where the places of a burn that is lit are expected to be, as far as anything is."""
    now_s = bench.now_s()
    return [
        {
            "channel": one.channel,
            "from_s": one.at_s,
            "at_s": one.target_s,
            "value": rounded(one.value_c),
            "low": rounded(one.low_c),
            "high": rounded(one.high_c),
        }
        for one in bench.hub.forecasts.values()
        if burn.lit
        and now_s - one.at_s <= FORECAST_AGE_S
        and bench.channel(one.channel).station == burn.station
    ]
