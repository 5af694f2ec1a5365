"""The service: every part of a bench joined, started, and stopped in order.

Instruments and the tick are sources; the engine folds what they bring through the pipeline; hub,
publisher and recorder take what comes of it. Sources stop first, then the queue is emptied, then
the record is written to its end.
"""

import asyncio
import logging
import uuid
from collections.abc import Awaitable, Callable, Sequence
from dataclasses import dataclass
from importlib.metadata import version
from pathlib import Path
from typing import Any

from logger.burn.entries import Entry, Resumed
from logger.clock import Clock, year_is_plausible
from logger.errors import WickbenchError
from logger.hub import Hub
from logger.instruments.drivers import build
from logger.instruments.link import Link
from logger.instruments.supervisor import supervise
from logger.pipeline import Input, Output, Pipeline
from logger.publish.mqtt import Publisher
from logger.quantities import Health, Part, Tick
from logger.service import records
from logger.service.core import bench_of
from logger.service.engine import Engine
from logger.settings import Settings
from logger.store.lock import DataLock
from logger.store.recorder import Recorder
from logger.store.store import Store
from logger.web import app, server

log = logging.getLogger(__name__)

HEARTBEAT_S = 5.0  # of real time


@dataclass(frozen=True, kw_only=True)
class Service:
    """A bench, running: what pages, the demonstration and tests reach it by."""

    settings: Settings
    clock: Clock
    url: str
    links: Sequence[Link]
    hub: Hub
    engine: Engine
    store: Store
    recorder: Recorder

    @property
    def data(self) -> Path:
        """Folder of the database."""
        return self.settings.bench.data

    def now_s(self) -> float:
        """Bench time."""
        return self.clock.now_s()

    async def enter(self, entry: Entry) -> bool:
        """Fold and save what a person entered; False when this id was entered before.

        Raises Refused where it cannot be so, StoreError where it could not be saved.
        """
        if await self.store.entry_seen(entry.id):
            return False
        await self.engine.enter(entry)
        await self.recorder.saved()
        return True

    def burn_message(self, burn: str) -> dict[str, Any]:
        """A stored burn as JSON. Raises DataError where there is no such burn."""
        return records.burn_message(self.data, burn)

    def record_html(self, burn: str) -> str:
        """The record of a burn as one page. Raises DataError where there is no such burn."""
        return records.record_html(self.data, burn)

    def verdict(self, trial: str) -> dict[str, Any]:
        """The verdict of a trial as JSON. Raises DataError where there is no such trial."""
        return records.verdict_message(self.data, trial)


async def run(
    settings: Settings, clock: Clock, body: Callable[[Service], Awaitable[None]]
) -> None:
    """Run the bench until `body` returns.

    Raises StoreLocked where another service holds the data folder, StoreUnusable, WickbenchError
    where the page's address is taken.
    """
    lock = DataLock.acquire(settings.bench.data)
    try:
        bound = server.listen(settings.web or server.DEFAULT)
        try:
            lock.publish_address(server.url_of(bound))
            store = await Store.open(settings.bench.data)
            try:
                await _run(settings, clock, store, bound, body)
            finally:
                await store.close()
        finally:
            bound.close()
    finally:
        lock.release()
