"""Entries without a running service: the same pipeline and the same store, for a moment."""

from collections.abc import AsyncIterator
from contextlib import asynccontextmanager
from dataclasses import replace
from functools import partial

from logger.burn.entries import Corrected, Entry, Lit
from logger.errors import Doubted
from logger.intake.entered import Entered, text_of
from logger.pipeline import Bench, Pipeline
from logger.service.core import VERSION, bench_of
from logger.service.earlier_settings import changed_since
from logger.service.lighting import with_records, with_records_again
from logger.service.records import entered_before, sensed
from logger.settings import Settings
from logger.store.lock import DataLock
from logger.store.runs import Run
from logger.store.store import Store


async def enter_offline(settings: Settings, entry: Entry, *, sure: bool = False) -> Entered:
    """Fold `entry` into what the store remembers and save it; what was recorded, if it was before.

    Raises Refused as the pipeline does, Doubted where it is improbable and nobody is `sure`,
    StoreLocked where a service has just started.
    """
    data, bench = settings.bench.data, bench_of(settings)
    async with held_store(settings) as store:
        if await store.entry_seen(entry.id):
            return entered_before(data, entry)
        run = await begin(store, settings, bench, entry.entered_s)
        late_s = run.started_s - entry.entered_s
        if late_s > 0.0:  # the clock is behind what was recorded: time goes on from there
            entry = replace(entry, at_s=entry.at_s + late_s, entered_s=run.started_s)
        memory = await store.memory(entry.entered_s)
        pipeline = Pipeline(bench, entry.entered_s, memory)
        entry = pipeline.resolved(entry)
        if isinstance(entry, Lit):
            entry = with_records(data, entry)
        again = pipeline.lit_by_other_records(entry)
        if again is not None and isinstance(entry, Corrected):
            entry = with_records_again(data, entry, again)
        question = None if sure else pipeline.doubt(entry)
        if question is not None:
            raise Doubted(question)
        otherwise = pipeline.lit_otherwise(entry)
        if otherwise is not None:
            pipeline.remember(entry, sensed(data, *otherwise))
        outputs = pipeline.step(entry)
        await store.append([(entry, outputs)])
        burn = pipeline.burn_of(entry, outputs)
        number = pipeline.number_of(burn)
        return Entered(entry=entry, burn=burn, number=number, text=text_of(entry, outputs))


@asynccontextmanager
async def held_store(settings: Settings) -> AsyncIterator[Store]:
    """The bench's store, held as the only writer. Raises StoreLocked where a service has it."""
    lock = DataLock.acquire(settings.bench.data)
    try:
        store = await Store.open(settings.bench.data, partial(changed_since, settings))
        try:
            yield store
        finally:
            await store.close()
    finally:
        lock.release()


async def begin(store: Store, settings: Settings, bench: Bench, now_s: float) -> Run:
    """The run of a command that only records something."""
    return await store.begin_run(
        settings_text=settings.text,
        bench=bench,
        started_s=now_s,
        version=VERSION,
        watching=False,
        broker=settings.mqtt is not None,
    )
