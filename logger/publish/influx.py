"""Forwarding of what is stored to a time-series engine; the database is what waits for it.

Nothing here is on the way of an alarm: it reads what was committed, in batches, and moves a cursor
once the engine has confirmed one. Whatever is interrupted is sent again, and a point sent again is
the same point.
"""

import asyncio
import logging
import random
from collections import deque
from collections.abc import Awaitable, Callable, Collection, Mapping, Sequence
from contextlib import suppress
from dataclasses import replace
from typing import Protocol

from logger.errors import SettingsError, StoreError
from logger.publish.delivery_times import DeliveryTimes
from logger.publish.engine_link import EngineAway, EngineLink, EngineRefuses, PointsRefused
from logger.publish.points import PointToForward, check_line, line, title
from logger.quantities import Forwarding, Health, Part
from logger.settings import InfluxSettings

log = logging.getLogger(__name__)

# Our choice, all of them.
AT_ONCE = 2000  # points in one batch, some 0.4 MB
_MORE = 100  # points more after each that went well, where a slow engine was given less
EVERY_S = 5.0  # of real time, between two looks at the database: as often as estimates come
LATE_S = 300.0  # behind by more than an engine's restart takes: it is said


class PointsToForward(Protocol):
    """Some points, and where the cursors stand once an engine has them."""

    @property
    def points(self) -> Sequence[PointToForward]:
        """In the order of their rows."""
        ...

    @property
    def ends(self) -> Mapping[str, int]:
        """The last row of each kind."""
        ...

    @property
    def more(self) -> bool:
        """Whether others may wait behind them."""
        ...


class StillToForward(Protocol):
    """What waits for an engine, and what it refused."""

    @property
    def waiting(self) -> int:
        """Points."""
        ...

    @property
    def oldest_s(self) -> float | None:
        """Of what waits."""
        ...

    @property
    def set_aside(self) -> int:
        """Points."""
        ...

    @property
    def refused(self) -> str:
        """The latest that was set aside, and why."""
        ...


class PointStore(Protocol):
    """Where points wait, on disk; all of it raises StoreError."""

    async def next(self, limit: int) -> PointsToForward:
        """At most `limit` points that the engine does not have."""
        ...

    async def again(self, limit: int) -> PointsToForward:
        """At most `limit` points that were set aside."""
        ...

    async def forwarded(
        self,
        ends: Mapping[str, int],
        *,
        refused: Mapping[tuple[str, int], str],
        taken_back: Collection[tuple[str, int]] = (),
    ) -> None:
        """Move the cursors; note what was refused and why, and what is set aside no more."""
        ...

    async def backlog(self) -> StillToForward:
        """What waits now."""
        ...

    def close(self) -> None:
        """End reading."""
        ...


class Forwarder:
    """Brings what is stored to one engine, and reports how far it is behind.

    `now` is bench time; `on_state` hears whenever something of the state has changed.
    """

    def __init__(
        self,
        settings: InfluxSettings,
        bench: str,
        spool: PointStore,
        *,
        report: Callable[[Health], None],
        now: Callable[[], float],
        on_state: Callable[[Forwarding], None] = lambda state: None,
        sleep: Callable[[float], Awaitable[None]] = asyncio.sleep,
        chance: Callable[[], float] = random.random,  # noqa: S311 - spreads retries, keeps no secret
        times: DeliveryTimes | None = None,
    ) -> None:
        self._settings = settings
        self._bench = bench
        self._spool = spool
        self._report = report
        self._now = now
        self._on_state = on_state
        self._sleep = sleep
        self._chance = chance
        self._times = times or DeliveryTimes()
        self._most = AT_ONCE  # that the engine takes in one batch
        self._limit = AT_ONCE  # as above, and fewer for a while after it took too long
        self._tried_again = False  # what was set aside before this start
        self._failures = 0
        self._said: tuple[bool, str] | None = None
        self.state = Forwarding(
            engine=settings.name,
            behind_s=0.0,
            waiting=0,
            set_aside=0,
            refused="",
            trouble="not tried yet",
        )

    async def run(self) -> None:
        """Forward, for ever; on cancellation what is stored by then goes out first, if it can."""
        self._on_state(self.state)
        try:
            while True:
                try:
                    await self._session()
                except SettingsError as exc:
                    await self._say("; ".join(exc.problems), refuses=True)
                except EngineRefuses as exc:
                    await self._say(str(exc), refuses=True)
                except (EngineAway, StoreError) as exc:
                    await self._say(str(exc))
                except Exception as exc:  # a fault in here must not end the watch
                    log.exception("%s: forwarding failed", self._settings.name)
                    await self._say(f"a fault of this program, see its log ({type(exc).__name__})")
                self._failures += 1
                await self._sleep(self._times.retry_s(self._failures, self._chance()))
        finally:
            self._spool.close()

    async def _session(self) -> None:
        async with await EngineLink.open(self._settings, self._times.give_up_s) as link:
            try:
                while True:
                    await self._catch_up(link)
                    await self._sleep(EVERY_S)
            except asyncio.CancelledError:
                last = asyncio.ensure_future(self._catch_up(link))
                await asyncio.wait({last}, timeout=self._times.farewell_s)
                last.cancel()
                await asyncio.gather(last, return_exceptions=True)
                raise

    async def _catch_up(self, link: EngineLink) -> None:
        """Send all that waits."""
        if not self._tried_again:
            batch = await self._spool.again(AT_ONCE)
            refused = await self._send(link, batch.points)
            taken = {(one.kind, one.row) for one in batch.points} - refused.keys()
            await self._spool.forwarded({}, refused=refused, taken_back=taken)
            self._tried_again = True
        more = True
        while more:
            batch = await self._spool.next(self._limit)
            refused = await self._send(link, batch.points)
            await self._spool.forwarded(batch.ends, refused=refused)
            self._failures = 0
            self._limit = min(self._most, self._limit + _MORE)
            await self._say("")
            more = batch.more

    async def _send(
        self, link: EngineLink, points: Sequence[PointToForward]
    ) -> dict[tuple[str, int], str]:
        """Have the engine take them; the answer: which it refused for themselves, and why."""
        refused: dict[tuple[str, int], str] = {}
        # on a thread: it takes 30 ms, which the loop must not miss
        lines = await asyncio.to_thread(lambda: [(one, line(self._bench, one)) for one in points])
        parts = deque([lines] if lines else [])
        while parts:
            part = parts.popleft()
            half = len(part) // 2
            try:
                await link.write([text for _, text in part])
            except PointsRefused as exc:
                if exc.too_long:
                    self._most = max(1, min(self._most, half))
                if half:
                    parts.extendleft([part[half:], part[:half]])
                    continue
                await self._make_sure(link, exc)
                ((point, _),) = part
                why = f"{title(point)}: {exc}"
                log.warning("%s: set aside: %s", self._settings.name, why)
                refused[point.kind, point.row] = why
            except EngineAway as exc:
                if exc.slow:  # it may yet take fewer
                    self._limit = max(1, self._limit // 2)
                raise
        return refused

    async def _make_sure(self, link: EngineLink, refusal: PointsRefused) -> None:
        """Raise EngineRefuses where it takes no point at all: then none is set aside."""
        try:
            await link.write([check_line(self._bench, self._now())])
        except PointsRefused:
            raise EngineRefuses(
                f"the engine takes no point of ours ({refusal}); check url and bucket in [influx]"
            ) from None

    async def _say(self, trouble: str, *, refuses: bool = False) -> None:
        """How it stands now, to whoever asks; and as news of the bench's health what changes."""
        state = replace(self.state, trouble=trouble)
        with suppress(StoreError):  # storage has its own alarm
            found = await self._spool.backlog()
            age_s = 0.0 if found.oldest_s is None else max(0.0, self._now() - found.oldest_s)
            state = Forwarding(
                engine=state.engine,
                behind_s=age_s,
                waiting=found.waiting,
                set_aside=found.set_aside,
                refused=found.refused,
                trouble=trouble,
            )
        if trouble and trouble != self.state.trouble:
            log.warning("%s: %s", state.engine, trouble)
        if state != self.state:
            self.state = state
            self._on_state(state)
        if refuses or state.behind_s >= LATE_S:
            self._tell(False, trouble or "it is behind, and catching up")
        elif state.set_aside:
            self._tell(False, f"it refused some points; they are set aside, as {state.refused}")
        else:
            self._tell(True, "it has what is stored")

    def _tell(self, ok: bool, reason: str) -> None:
        if self._said != (ok, reason):
            self._said = (ok, reason)
            name = self._settings.name
            log.log(logging.INFO if ok else logging.WARNING, "%s: %s", name, reason)
            self._report(
                Health(part=Part.FORWARDING, name=name, ok=ok, reason=reason, at_s=self._now())
            )
