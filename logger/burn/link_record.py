"""What became of an instrument's link in a burn: a record of one that kept breaking says so."""

from collections.abc import Iterable
from dataclasses import dataclass, replace

from logger.quantities import Health

_SIGNAL_STEP_DB = 6  # half the distance: less is not worth another line in the database


@dataclass(frozen=True, slots=True, kw_only=True)
class LinkRecord:
    """One instrument over one burn; None where it tells nothing of the kind."""

    instrument: str
    reconnects: int = 0
    weakest_dbm: int | None = None
    battery_percent: int | None = None  # the lowest

    @property
    def telling(self) -> bool:
        """Whether there is anything to say of it."""
        return bool(self.reconnects) or (self.weakest_dbm, self.battery_percent) != (None, None)


def with_health(
    records: tuple[LinkRecord, ...], news: Health, before: Health | None = None
) -> tuple[LinkRecord, ...]:
    """`records` after `news` of an instrument; the same where nothing is worth noting.

    `before` is what was last heard of it: its reconnects are counted from the service's start.
    """
    known = next((one for one in records if one.instrument == news.name), None)
    record = known or LinkRecord(instrument=news.name)
    reconnects = news.reconnects - (0 if before is None else before.reconnects)
    weakest_dbm = _least(record.weakest_dbm, news.signal_dbm)
    if record.weakest_dbm is not None and weakest_dbm is not None:
        step_db = record.weakest_dbm - weakest_dbm
        weakest_dbm = weakest_dbm if step_db >= _SIGNAL_STEP_DB else record.weakest_dbm
    after = replace(
        record,
        reconnects=record.reconnects + max(0, reconnects),
        weakest_dbm=weakest_dbm,
        battery_percent=_least(record.battery_percent, news.battery_percent),
    )
    if after == record or not after.telling:
        return records
    return (*_others(records, news.name), after)


def _others(records: Iterable[LinkRecord], name: str) -> Iterable[LinkRecord]:
    return (one for one in records if one.instrument != name)


def _least(known: int | None, seen: int | None) -> int | None:
    if known is None or seen is None:
        return seen if known is None else known
    return min(known, seen)
