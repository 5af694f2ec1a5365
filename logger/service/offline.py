"""Entries without a running service: the same pipeline and the same store, for a moment."""

from logger.burn.entries import Entry
from logger.errors import Doubted, Refused
from logger.pipeline import Pipeline
from logger.service.core import VERSION, bench_of
from logger.settings import Settings
from logger.store.lock import DataLock
from logger.store.store import Store


async def enter_offline(settings: Settings, entry: Entry, *, sure: bool = False) -> None:
    """Fold `entry` into what the store remembers and save it.

    Raises Refused as the pipeline does, Doubted where it is improbable and nobody is `sure`,
    StoreLocked where a service has just started.
    """
    data = settings.bench.data
    lock = DataLock.acquire(data)
    try:
        store = await Store.open(data)
        try:
            if await store.entry_seen(entry.id):
                raise Refused("this entry is already recorded")
            await store.begin_run(
                settings_text=settings.text,
                started_s=entry.entered_s,
                version=VERSION,
                watching=False,
                broker=settings.mqtt is not None,
            )
            memory = await store.memory(entry.entered_s)
            pipeline = Pipeline(bench_of(settings), entry.entered_s, memory)
            question = None if sure else pipeline.doubt(entry)
            if question is not None:
                raise Doubted(question)
            await store.append([(entry, pipeline.step(entry))])
        finally:
            await store.close()
    finally:
        lock.release()
