"""The latest of everything, and those who follow it: a slow page is dropped, never the pipeline."""

import asyncio
from collections import deque
from collections.abc import Iterable, Iterator, Sequence
from contextlib import contextmanager, suppress

from logger.alarms.lifecycle import Alarm, AlarmEvent
from logger.announcements import Announcement
from logger.burn.entries import ManualReading
from logger.burn.forecast import Forecast
from logger.burn.model import Burn, BurnStatus
from logger.pipeline import Input, Output, Pipeline
from logger.quantities import Channel, Estimate, Forwarding, Reading, Tick

HEARD = 120  # readings of a channel that are kept for who sets up a probe: 12 s at ten a second
BACKLOG = 256  # outputs that wait for one follower; past it the oldest go


class Follower:
    """One page or terminal: what has come since it last looked, bounded."""

    def __init__(self) -> None:
        self._waiting: deque[Output | Announcement] = deque(maxlen=BACKLOG)
        self._news = asyncio.Event()
        self.dropped = 0
        self.closed = False

    def push(self, outputs: Iterable[Output | Announcement]) -> None:
        """Add news; where there is no room the oldest is dropped and counted."""
        for output in outputs:
            self.dropped += len(self._waiting) == BACKLOG
            self._waiting.append(output)
        self._news.set()

    async def next(self, patience_s: float) -> list[Output | Announcement]:
        """What waits, in order; nothing when nothing came within `patience_s` or on closing."""
        with suppress(TimeoutError):
            async with asyncio.timeout(patience_s):
                await self._news.wait()
        return self.take_waiting()

    def take_waiting(self) -> list[Output | Announcement]:
        """What waits now, in order."""
        outputs = list(self._waiting)
        self._waiting.clear()
        if not self.closed:
            self._news.clear()
        return outputs

    def close(self) -> None:
        """End it: nothing more will come."""
        self.closed = True
        self._news.set()


class Hub:
    """What pages read: the latest estimate, status and alarm of each, and the news."""

    def __init__(self) -> None:
        self.now_s: float | None = None  # of the latest tick: the pipeline is alive
        self.changes = 0  # how often more than time has changed
        self.estimates: dict[str, Estimate] = {}
        self.forecasts: dict[str, Forecast] = {}
        self.statuses: dict[str, BurnStatus] = {}
        self.alarms: dict[str, Alarm] = {}
        self.burns: dict[str, Burn] = {}  # the latest of each station
        self.by_hand: dict[str, Channel] = {}  # places that a person has read
        self.heard: dict[str, deque[Reading]] = {}  # the latest readings of each channel, raw
        self.forwarding: Forwarding | None = None  # None: no engine is configured
        self._followers: set[Follower] = set()

    def publish(self, item: Input, outputs: Sequence[Output]) -> None:
        """Take what the pipeline said of `item`; never waits."""
        if isinstance(item, Tick):
            self.now_s = item.at_s
        elif isinstance(item, Reading):
            heard = self.heard.get(item.channel)
            if heard is None:
                heard = self.heard[item.channel] = deque(maxlen=HEARD)
            heard.append(item)
        elif isinstance(item, ManualReading):
            self.by_hand[item.channel.name] = item.channel
        for output in outputs:
            self._keep(output)
        self.changes += any(not isinstance(output, BurnStatus) for output in outputs)
        self._push(outputs)

    def announce(self, announcements: Sequence[Announcement]) -> None:
        """Pass on what people are told; never waits."""
        self._push(announcements)

    def _push(self, news: Sequence[Output | Announcement]) -> None:
        if news:
            for follower in self._followers:
                follower.push(news)

    def _keep(self, output: Output) -> None:
        match output:
            case ManualReading():
                self.by_hand[output.channel.name] = output.channel
            case Estimate() if output.value is None and output.channel in self.by_hand:
                del self.by_hand[output.channel]  # its only reading is of another jar
                self.estimates.pop(output.channel, None)
            case Estimate():
                self.estimates[output.channel] = output
            case Forecast():
                self.forecasts[output.channel] = output
            case BurnStatus():
                self.statuses[output.station] = output
            case AlarmEvent():
                self.alarms[output.alarm.key] = output.alarm
            case Burn():
                self._keep_burn(output)
            case _:
                pass

    def _keep_burn(self, burn: Burn) -> None:
        """The latest of its station; an earlier one may be corrected, or one withdrawn."""
        known = self.burns.get(burn.station)
        if known is not None and known.id == burn.id and burn.withdrawn:
            del self.burns[burn.station]
        elif not burn.withdrawn and (
            known is None or known.id == burn.id or known.lit_s <= burn.lit_s
        ):
            self.burns[burn.station] = burn

    def resume(self, pipeline: Pipeline, now_s: float) -> None:
        """Begin with what a restarted pipeline remembers."""
        self.changes += 1
        self.alarms = {alarm.key: alarm for alarm in pipeline.alarms}
        self.burns = {burn.station: burn for burn in pipeline.burns}
        self.statuses = {status.station: status for status in pipeline.statuses(now_s)}
        self.by_hand = {channel.name: channel for channel in pipeline.places_by_hand}
        self.estimates = {estimate.channel: estimate for estimate in pipeline.estimates}

    @contextmanager
    def follow(self) -> Iterator[Follower]:
        """News from now on."""
        follower = Follower()
        self._followers.add(follower)
        try:
            yield follower
        finally:
            self._followers.discard(follower)

    def close(self) -> None:
        """End all followers: the service stops."""
        for follower in self._followers:
            follower.close()
