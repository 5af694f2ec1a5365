"""The one queue of the bench and the task that empties it into the pipeline.

Stamping and enqueueing are one step on the loop, so the queue is in order of time; the whole
seconds that have passed go in ahead of whatever is stamped after them. Where many have passed at
once the computer was asleep, or stopped: nothing was watched, so they are left out and said.
"""

import asyncio
import logging
from collections import Counter
from collections.abc import Callable, Collection, Mapping, Sequence

from logger.burn.entries import Entry, Resumed
from logger.errors import Refused
from logger.intake.entered import Entered, text_of
from logger.pipeline import Input, Output, Pipeline, begun, stamp_of
from logger.quantities import Reading

log = logging.getLogger(__name__)

Sink = Callable[[Input, Sequence[Output]], None]


GAP_S = 5.0  # of no tick: longer than the loop is ever busy (our choice)
BACKLOG_S = 1.0  # after waking: time for what lay in the ports to be read and dropped (our choice)


class Engine:
    """Folds every input through `pipeline` and hands what came of it to the sinks, in order."""

    def __init__(
        self,
        pipeline: Pipeline,
        started_s: float,
        sinks: Mapping[str, Sink],
        keepers: Collection[str] | None = None,
    ) -> None:
        """`sinks` by what each does, in words: an alarm names one that fails.

        A reading of which nothing came, as of nearly all, goes only to the `keepers` among them.
        """
        self._pipeline = pipeline
        self._sinks = sinks
        self._keepers = sinks if keepers is None else {name: sinks[name] for name in keepers}
        self._seconds = begun(started_s)
        self._fresh_s = started_s  # readings stamped earlier lay in a port: their time is not known
        self._queue: asyncio.Queue[tuple[Input, asyncio.Future[Entered] | None]] = asyncio.Queue()
        self.done: Counter[str] = Counter()  # readings folded, by channel

    def put(self, item: Input) -> bool:
        """Take one input; never waits. False for a reading from before a waking, left out."""
        self.tick(stamp_of(item))
        if isinstance(item, Reading) and item.at_s < self._fresh_s:
            return False
        self._queue.put_nowait((item, None))
        return True

    def tick(self, now_s: float) -> None:
        """Put in the whole seconds up to `now_s` that are missing; of a long gap the last."""
        ticked_s = self._seconds.after_s
        if now_s - ticked_s > GAP_S:
            log.warning(
                "nothing was watched for %.0f s: the computer slept, or was stopped",
                now_s - ticked_s,
            )
            self._fresh_s = now_s + BACKLOG_S
            self.resume(ticked_s, now_s // 1.0)
            self._seconds = begun(now_s // 1.0)
        for tick in self._seconds.upto(now_s):
            self._queue.put_nowait((tick, None))

    def resume(self, last_s: float, now_s: float, *, length_known: bool = True) -> None:
        """Say that nothing was watched from `last_s` to `now_s`."""
        entry = Resumed(
            at_s=last_s, entered_s=now_s, id=f"resumed-{now_s:.6f}", length_known=length_known
        )
        self._queue.put_nowait((entry, None))

    async def enter(self, entry: Entry) -> Entered:
        """Take what a person entered, and say what came of it once it is folded.

        Raises Refused where it contradicts what the bench knows; nothing was changed then.
        """
        folded: asyncio.Future[Entered] = asyncio.get_running_loop().create_future()
        self.tick(entry.entered_s)
        self._queue.put_nowait((entry, folded))
        return await folded

    async def run(self) -> None:
        """Empty the queue for ever; on cancellation what is in it is folded first."""
        try:
            while True:
                self._fold(*await self._queue.get())
        except Exception:
            log.critical("the watch cannot be relied on any more and ends: stay with the candle")
            raise
        finally:
            while not self._queue.empty():
                self._fold(*self._queue.get_nowait())

    def _fold(self, item: Input, folded: asyncio.Future[Entered] | None) -> None:
        try:
            outputs = self._pipeline.step(item)
        except Refused as exc:
            if folded is not None and not folded.done():
                folded.set_exception(exc)
            return
        plain = isinstance(item, Reading) and not outputs
        for name, sink in (self._keepers if plain else self._sinks).items():
            with self._pipeline.guard.over(name, stamp_of(item)):
                sink(item, outputs)
        if isinstance(item, Reading):
            self.done[item.channel] += 1
        if isinstance(item, Entry) and folded is not None and not folded.done():
            burn, text = self._pipeline.burn_of(item, outputs), text_of(item, outputs)
            number = self._pipeline.number_of(burn)
            folded.set_result(Entered(entry=item, burn=burn, number=number, text=text))
