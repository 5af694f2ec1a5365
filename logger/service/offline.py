"""Entries without a running service: the same pipeline and the same store, for a moment."""

from dataclasses import replace
from functools import partial

from logger.burn.entries import Entry
from logger.errors import Doubted, Refused
from logger.pipeline import Pipeline
from logger.service.core import VERSION, bench_of
from logger.service.earlier_settings import changed_since
from logger.settings import Settings
from logger.store.lock import DataLock
from logger.store.store import Store


async def enter_offline(settings: Settings, entry: Entry, *, sure: bool = False) -> None:
    """Fold `entry` into what the store remembers and save it.

    Raises Refused as the pipeline does, Doubted where it is improbable and nobody is `sure`,
    StoreLocked where a service has just started.
    """
    data, bench = settings.bench.data, bench_of(settings)
    lock = DataLock.acquire(data)
    try:
        store = await Store.open(data, partial(changed_since, settings))
        try:
            if await store.entry_seen(entry.id):
                raise Refused("this entry is already recorded")
            run = await store.begin_run(
                settings_text=settings.text,
                bench=bench,
                started_s=entry.entered_s,
                version=VERSION,
                watching=False,
                broker=settings.mqtt is not None,
            )
            late_s = run.started_s - entry.entered_s
            if late_s > 0.0:  # the clock is behind what was recorded: time goes on from there
                entry = replace(entry, at_s=entry.at_s + late_s, entered_s=run.started_s)
            memory = await store.memory(entry.entered_s)
            pipeline = Pipeline(bench, entry.entered_s, memory)
            question = None if sure else pipeline.doubt(entry)
            if question is not None:
                raise Doubted(question)
            await store.append([(entry, pipeline.step(entry))])
        finally:
            await store.close()
    finally:
        lock.release()
