"""Forwarding joined: the database, an engine, and who hears how it stands."""

from collections.abc import Callable
from typing import TYPE_CHECKING

from logger.quantities import Forwarding, Health
from logger.settings import Settings
from logger.store.spool import Spool
from logger.store.store import Store

if TYPE_CHECKING:
    from logger.publish.influx import Forwarder


def forwarder_of(
    settings: Settings,
    store: Store,
    *,
    report: Callable[[Health], None],
    now: Callable[[], float],
    on_state: Callable[[Forwarding], None],
) -> "Forwarder | None":
    """What brings the bench to its engine; None where none is configured."""
    if settings.influx is None:
        return None
    from logger.publish.influx import Forwarder  # 20 MB, and only for those who have an engine

    engine = settings.influx
    sink = " ".join([engine.url, engine.org or "-", engine.bucket])
    kinds = ["event", "estimate", *(["reading"] if engine.readings else [])]
    spool = Spool(store, settings.bench.data, sink, kinds, settings.channels)
    return Forwarder(engine, settings.bench.name, spool, report=report, now=now, on_state=on_state)
