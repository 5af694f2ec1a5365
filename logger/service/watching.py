"""The bench for a terminal, moment by moment: from the stream of the running service."""

import time
from collections.abc import Iterator
from dataclasses import dataclass, replace

from logger.clock import RealClock
from logger.errors import ServiceUnreachable
from logger.messages import Message
from logger.service.client import LiveBench
from logger.settings import Settings

SILENT_S = 4.0  # beats come every 2 s, as for the page
RETRY_S = 1.0
TOGETHER_S = 0.5  # what is raised together is asked for once
AGAIN_S = 15.0  # what no event tells is asked for so often, as by the page


@dataclass(frozen=True, slots=True, kw_only=True)
class WatchMoment:
    """The bench as a terminal shows it; where it is cut off, as it was last."""

    now: Message  # as GET /api/now says it
    shown: Message | None = None  # the figures in words, as the pages have them
    at_s: float = 0.0  # this machine's time
    cut_s: float | None = None  # since when nothing was heard; None: it is live
    trouble: str = ""
    frozen_s: float = 0.0  # for so long bench time has not gone on


def moments(settings: Settings) -> Iterator[WatchMoment]:
    """One after the other, without end. Raises ServiceUnreachable where no service runs at first;
    one that ends later is waited for.
    """
    clock = RealClock()
    moment: WatchMoment | None = None
    heard_s = clock.now_s()
    while True:
        try:
            for moment in _live(settings, clock):
                heard_s = moment.at_s
                yield moment
        except ServiceUnreachable as exc:
            if moment is None:
                raise
            moment = replace(moment, cut_s=heard_s, trouble=str(exc), at_s=clock.now_s())
            yield moment
            time.sleep(RETRY_S)


def _live(settings: Settings, clock: RealClock) -> Iterator[WatchMoment]:
    """Until it is cut off; raises ServiceUnreachable then."""
    bench = LiveBench(settings, SILENT_S)
    moment = WatchMoment(now=bench.now(), at_s=clock.now_s())
    asked_s = moved_s = time.monotonic()
    bench_s: object = None
    news = False
    yield moment
    for kind, content in bench.events():
        at_s = time.monotonic()
        news |= kind in ("alarm", "burn")
        if (news and at_s - asked_s >= TOGETHER_S) or at_s - asked_s >= AGAIN_S:
            moment = replace(moment, now=bench.now())
            asked_s, news = at_s, False
        if kind == "shown":
            moment = replace(moment, shown=content)
        if "time_s" in content and content["time_s"] != bench_s:
            bench_s, moved_s = content["time_s"], at_s
        frozen_s = at_s - moved_s
        moment = replace(
            moment, at_s=clock.now_s(), frozen_s=frozen_s if frozen_s > SILENT_S else 0.0
        )
        yield moment
