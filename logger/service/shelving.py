"""Records without a running service, and as commands read them; every function here blocks."""

import asyncio
from pathlib import Path
from typing import Any

from pydantic import ValidationError

from logger.clock import RealClock
from logger.errors import NotKnown
from logger.intake.refusals import refusal
from logger.intake.shelf_bodies import SHELF, AddBody, RecordBody
from logger.intake.shelf_messages import (
    RecordedMessage,
    SheetMessage,
    ShelfMessage,
    recorded_message,
    sheet_message,
    shelf_message,
)
from logger.service.core import bench_of
from logger.service.offline import begin, held_store
from logger.settings import Settings
from logger.store import shelf_rows
from logger.store.opening import FILE_NAME
from logger.store.queries import open_read


def put_record_here(
    settings: Settings, kind: str, name: str, way: str, body: dict[str, Any]
) -> dict[str, Any]:
    """`add`, `change` or `withdraw` a record in the bench's own store; what was recorded.

    Raises DataError, NotKnown or Refused as the service does, StoreLocked where one has started.
    """
    bodies: dict[str, type[RecordBody]] = {
        "add": SHELF[kind].add,
        "change": SHELF[kind].change,
        "withdraw": SHELF[kind].withdraw,
    }
    try:
        checked = bodies[way].model_validate(body)
    except ValidationError as exc:
        raise refusal(exc) from None
    name = checked.name if isinstance(checked, AddBody) else name
    return {**asyncio.run(_put(settings, name, checked))}


async def _put(settings: Settings, name: str, body: RecordBody) -> RecordedMessage:
    now_s = RealClock().now_s()
    async with held_store(settings) as store:
        await begin(store, settings, bench_of(settings), now_s)
        version, new = await store.change(lambda con: shelf_rows.enter(con, body, name, now_s))
    return recorded_message(version, new=new)


def shelf_of(data: Path, kind: str) -> ShelfMessage:
    """All records of a kind; none where there is no database yet."""
    if not (data / FILE_NAME).exists():
        return shelf_message(kind, ())
    with open_read(data) as reader:
        return shelf_message(kind, reader.shelf(kind))


def sheet_of(settings: Settings, kind: str, name: str) -> SheetMessage:
    """A record with all its versions. Raises NotKnown where there is none."""
    data = settings.bench.data
    versions = []
    if (data / FILE_NAME).exists():
        with open_read(data) as reader:
            versions = reader.record_versions(kind, name)
    if not versions:
        known = ", ".join(one["name"] for one in shelf_of(data, kind)["records"][:5]) or "none yet"
        raise NotKnown(f"there is no {kind} {name} on the shelf; there is: {known}")
    return sheet_message(versions, settings.words, RealClock().now_s())
