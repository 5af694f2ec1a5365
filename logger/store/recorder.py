"""Takes what the pipeline did and brings it to the disk, off the safety path.

`take` never waits. While the disk fails the rest goes on: what was taken stays in memory, its
events are offered to the way out from there, and the fault is news of the bench's health.
"""

import asyncio
import contextlib
import itertools
import logging
from collections import deque
from collections.abc import Callable, Iterable, Sequence
from dataclasses import dataclass

from logger.alarms.lifecycle import AlarmEvent
from logger.announcements import PhoneLine
from logger.burn.entries import Entry
from logger.burn.model import BurnEvent, BurnStatus
from logger.errors import DataError, StoreError
from logger.pipeline import Event, Input, Output
from logger.quantities import Estimate, Health, Part, Reading
from logger.store.outbox import Outbox, WaitingEvent
from logger.store.store import NO_ANSWER, Store

log = logging.getLogger(__name__)

NAME = "database"  # the subject of the alarm about it

_AT_ONCE = 5000  # steps in one commit: some 50 ms
_LOOKS = 20  # at a commit under way: a pause of any length counts for one of them (our choice)


@dataclass(frozen=True, slots=True, kw_only=True)
class RecorderTimes:
    """When the recorder does what, in real seconds; our choice where no source is named."""

    # A crash loses no more; each writes whole pages, and entries and events wait for none.
    commit_every_s: float = 1.0
    saved_within_s: float = 5.0  # a person waits no longer for an answer
    failing_s: float = 0.3  # ... and so long where it is known that the disk fails
    slow_after_s: float = 2.0  # a commit under way for so long holds up no event
    stalled_after_s: float = 10.0  # ... and counts as a failing disk: a crash would lose as much
    retry_first_s: float = 0.5
    retry_last_s: float = 15.0
    flush_within_s: float = 5.0  # at the end


class Recorder:
    """A bounded queue before the store; `run` empties it.

    `now_s` is bench time, `report` hears of the disk's health, `on_events` is called with the
    number of events that can newly be sent. `entry_ids` are of the latest entries before, so that
    what a person enters waits for no question to the disk. `bound` is in steps of the pipeline:
    the default is 100 minutes of 16 channels at 1 Hz.
    """

    def __init__(
        self,
        store: Store,
        *,
        now_s: Callable[[], float],
        report: Callable[[Health], None],
        on_events: Callable[[int], None] = lambda count: None,
        entry_ids: Iterable[str] = (),
        bound: int = 100_000,
        pace: RecorderTimes | None = None,
    ) -> None:
        self._store = store
        self._now_s = now_s
        self._report = report
        self._on_events = on_events
        self._bound = bound
        self._pace = pace or RecorderTimes()
        self._queue: deque[tuple[Input, tuple[Output, ...]]] = deque()
        self._outbox = Outbox()
        self._entry_ids = set(entry_ids)
        self._taken = 0
        self._saved = 0
        self._waiters: deque[tuple[int, asyncio.Future[None]]] = deque()
        self._changed = asyncio.Event()
        self._urgent = False  # what is queued shall not wait for the next commit
        self._stopping = False
        self._stalled = False  # a commit is under way and takes long
        self._one_by_one = 0  # steps to be written singly, since one of them cannot be
        self._fault: str | None = None
        self._lost = 0  # readings, in the present fault

        self.dropped = 0
        """Readings that were lost because the memory for them was full."""
        self.unstorable = 0
        """Steps that no database could hold; each is in the log."""

    @property
    def longest_commit_s(self) -> float:
        """The longest that a commit of this run has taken."""
        return self._store.longest_commit_s

    @property
    def unsaved(self) -> int:
        """How many steps of the pipeline are not on the disk yet."""
        return len(self._queue)

    @property
    def fault(self) -> str | None:
        """What is wrong with the disk; None while it does its work."""
        return self._fault

    def take(self, item: Input, outputs: Sequence[Output]) -> None:
        """Keep one step of the pipeline until it is saved."""
        kept = tuple([output for output in outputs if not isinstance(output, BurnStatus)])
        if len(self._queue) >= self._bound and not isinstance(item, Entry | Health):
            kept = tuple(output for output in kept if not isinstance(output, Estimate))
            if not kept:
                if isinstance(item, Reading):
                    self._drop()
                return
        events = _events(kept) if kept else []
        self._queue.append((item, kept))
        self._outbox.add(events)
        self._taken += 1
        if isinstance(item, Entry):
            self._entry_ids.add(item.id)
        self._urgent = self._urgent or bool(events) or isinstance(item, Entry)
        if self._urgent or len(self._queue) == 1:
            self._changed.set()
        if events and self._from_memory:
            self._on_events(len(events))

    async def saved(self) -> None:
        """Return once all that was taken so far is on the disk.

        Raises StoreError when that takes too long; it is kept and saved later all the same.
        """
        if self._saved == self._taken:
            return
        waiter: asyncio.Future[None] = asyncio.get_running_loop().create_future()
        self._waiters.append((self._taken, waiter))
        self._urgent = True
        self._changed.set()
        pace = self._pace
        within_s = pace.saved_within_s if self._fault is None else pace.failing_s
        try:
            async with asyncio.timeout(within_s):
                await waiter
        except TimeoutError:
            why = f" ({self._fault})" if self._fault else ""
            raise StoreError(
                f"it counts already, but is not saved yet{why}: that follows as soon as the disk "
                "allows; do not enter it again"
            ) from None

    def entry_seen(self, id: str) -> bool:
        """Whether an entry with this id was taken, saved already or not."""
        return id in self._entry_ids

    def remember(self, entry_ids: Iterable[str]) -> None:
        """Ids of entries before, which a hanging disk gave late."""
        self._entry_ids.update(entry_ids)

    async def waiting_events(self, limit: int) -> list[WaitingEvent]:
        """The oldest events that are not yet delivered; while the disk is slow, from memory too."""
        stored: list[WaitingEvent] = []
        if not self._stalled:  # else the answer would wait behind the commit
            try:
                stored = await self._store.waiting_events(limit)
            except StoreError as exc:
                log.warning("no events from the database: %s", exc)
        return self._outbox.offer(stored, limit, unsaved=self._from_memory)

    @property
    def _from_memory(self) -> bool:
        """Whether events go out before they are saved."""
        return self._stalled or self._fault is not None

    async def mark_delivered(self, seqs: Iterable[int]) -> None:
        """These events have arrived; the next commit marks them."""
        self._outbox.mark_delivered(seqs)
        self._changed.set()

    def keep_line(self, line: PhoneLine) -> None:
        """Keep a line for the phone until it is done: a restart has it then. Never waits."""
        self._outbox.keep_line(line)
        self._changed.set()

    def mark_lines_done(self, ids: Iterable[str]) -> None:
        """These lines are sent, or will not be."""
        self._outbox.mark_lines_done(ids)
        self._changed.set()

    async def run(self) -> None:
        """Save until cancelled, then save what is left; a write that has begun is finished."""
        work = asyncio.create_task(self._save(), name="recorder")
        try:
            await asyncio.shield(work)
        except asyncio.CancelledError:
            self._stopping = True
            self._changed.set()
            while not work.done():  # being told twice to stop does not lose what is left
                with contextlib.suppress(asyncio.CancelledError):
                    await asyncio.wait({work})
            work.result()
            raise

    async def _save(self) -> None:
        now_s = asyncio.get_running_loop().time
        begun_s = now_s() - self._pace.commit_every_s
        give_up_s = None
        failures = 0
        if self._store.fault_at_start is not None:
            self._fail(self._store.fault_at_start)
        while True:
            await self._until(lambda: self._queue or self._outbox.marks or self._stopping)
            due_s = begun_s + self._pace.commit_every_s
            await self._until(lambda: self._urgent or self._stopping, latest_s=due_s)
            if self._stopping and not self._queue and not self._outbox.marks:
                return
            begun_s = now_s()
            if await self._commit():
                failures = 0
                continue
            failures += 1
            if self._stopping:
                give_up_s = give_up_s or now_s() + self._pace.flush_within_s
                if now_s() >= give_up_s:
                    log.error("stopped with %d steps unsaved: %s", len(self._queue), self._fault)
                    return
            await self._pause(failures)

    async def _until(self, true: Callable[[], object], *, latest_s: float | None = None) -> None:
        """Wait until it is `true`, or the loop's time is `latest_s`."""
        with contextlib.suppress(TimeoutError):
            async with asyncio.timeout_at(latest_s):
                while not true():
                    self._changed.clear()
                    await self._changed.wait()

    async def _pause(self, failures: int) -> None:
        """Wait before the next try; a request to stop cuts it short."""
        stopping = self._stopping
        longest_s = self._pace.flush_within_s / 10.0 if stopping else self._pace.retry_last_s
        delay_s = min(longest_s, self._pace.retry_first_s * 2.0 ** min(failures - 1, 10))
        until_s = asyncio.get_running_loop().time() + delay_s
        await self._until(lambda: self._stopping != stopping, latest_s=until_s)

    async def _commit(self) -> bool:
        """Write the oldest steps, which leave the queue once they are on the disk."""
        batch = list(itertools.islice(self._queue, 1 if self._one_by_one else _AT_ONCE))
        events = sum(len(_events(outputs)) for _, outputs in batch)
        marks = self._outbox.to_mark(events)
        self._urgent = len(self._queue) > len(batch)
        lines = self._outbox.line_changes()
        write = asyncio.ensure_future(self._store.append(batch, delivered=marks, lines=lines))
        pace = self._pace
        if not await self._ends_within(write, pace.slow_after_s):
            self._stalled = True
            if len(self._outbox):
                self._on_events(len(self._outbox))
            if not await self._ends_within(write, pace.stalled_after_s - pace.slow_after_s):
                self._fail(NO_ANSWER)
        fresh = 0
        try:
            fresh = await write
        except DataError as exc:
            self._urgent = True
            if len(batch) > 1:
                self._one_by_one = len(batch)
                return True
            log.error("%s: %s", exc, ascii(batch))
            self.unstorable += 1
            self._fail("something that was read or entered cannot be stored, see the log")
            self._refuse(StoreError(f"it counts, but cannot be saved: {exc}"))
        except StoreError as exc:
            self._urgent = True
            self._fail(str(exc))
            return False
        finally:
            self._stalled = False
        for _ in batch:
            self._queue.popleft()
        self._outbox.mark_saved(events, marks)
        self._outbox.mark_lines_saved(lines)
        self._one_by_one = max(0, self._one_by_one - len(batch))
        self._saved += len(batch)
        self._answer()
        self._recover()
        if fresh:
            self._on_events(fresh)
        return True

    async def _ends_within(self, write: "asyncio.Future[int]", within_s: float) -> bool:
        """Whether `write` ends before the program has run for `within_s` meanwhile.

        A process that was paused, or starved by others, is no stalled disk: each of the looks
        counts for its own length, however late the loop comes to the next.
        """
        for _ in range(_LOOKS):
            await asyncio.wait({write}, timeout=within_s / _LOOKS)
            if write.done():
                return True
        return False

    def _refuse(self, exc: StoreError) -> None:
        """Whoever waits for what was taken so far must not believe it saved."""
        for _, waiter in self._waiters:
            if not waiter.done():
                waiter.set_exception(exc)
        self._waiters.clear()

    def _answer(self) -> None:
        while self._waiters and self._waiters[0][0] <= self._saved:
            _, waiter = self._waiters.popleft()
            if not waiter.done():
                waiter.set_result(None)

    def _drop(self) -> None:
        self.dropped += 1
        self._lost += 1
        if self._fault is None:
            self._fail("readings come faster than the disk can take them, new ones are lost")

    def _fail(self, reason: str) -> None:
        if self._lost:
            reason = f"{reason}; the memory for readings is full, new ones are lost"
        if reason == self._fault:
            return
        kept_back = not self._from_memory
        self._fault = reason
        log.error("%s", reason)
        self._tell(ok=False, reason=f"{reason}; readings are not being saved")
        if kept_back and len(self._outbox):
            self._on_events(len(self._outbox))

    def _recover(self) -> None:
        if self._fault is None:
            return
        reason = "what was kept in memory is saved"
        if self._lost:
            reason = f"saving again, but {self._lost} readings were lost meanwhile"
        self._fault = None
        self._lost = 0
        log.warning("%s", reason)
        self._tell(ok=True, reason=reason)

    def _tell(self, *, ok: bool, reason: str) -> None:
        self._report(Health(part=Part.STORAGE, name=NAME, ok=ok, reason=reason, at_s=self._now_s()))


def _events(outputs: Iterable[Output]) -> list[Event]:
    return [output for output in outputs if isinstance(output, AlarmEvent | BurnEvent)]
