"""Readings of a CSV file into a data folder: all of them or none, and marked as imported.

They are read three times rather than kept: judged, compared, written. Times in which the bench was
recording itself, or that were imported before, take no more readings; so what is imported stands
beside nothing that was measured here, and a restart never takes it for live (`store/meaning`).
"""

import hashlib
from collections.abc import Iterator
from contextlib import closing
from dataclasses import dataclass
from pathlib import Path
from typing import NoReturn

from logger.clock import RealClock
from logger.errors import DataError, FileFaults, StoreLocked
from logger.quantities import Reading
from logger.service import readings_csv
from logger.service.imported_now import imported_now
from logger.settings import Settings
from logger.store import imported
from logger.store.imported import CoveredTime
from logger.store.lock import DataLock, holder
from logger.store.opening import FILE_NAME, open_to_write
from logger.store.queries import open_read
from logger.store.sqlite_errors import in_plain_words
from logger.timestamps import rfc3339

MOST_FAULTS = 20  # that are told: who has more has one cause (our choice)


@dataclass(frozen=True, slots=True, kw_only=True)
class ImportOutcome:
    """What came of a file."""

    rows: int
    from_s: float
    to_s: float
    before: str  # in words how they came to be there already; empty where they are new


@dataclass(frozen=True, slots=True, kw_only=True)
class _Seen:
    """A file that holds nothing wrong by itself."""

    rows: int
    from_s: float
    to_s: float
    sha256: str


def import_readings(settings: Settings, path: Path, *, dry_run: bool) -> ImportOutcome:
    """Bring the readings of `path` into the bench's data folder; a repeat changes nothing.

    Raises FileFaults with every wrong row, DataError, StoreError; StoreLocked while a service runs.
    """
    if not path.is_file():
        raise DataError(f"{path} is not a file")
    if dry_run:
        return _judged(settings, path)[1]
    data = settings.bench.data
    if (held := holder(data)) is not None:
        raise StoreLocked(
            f"the bench's service runs (process {held.pid}), and a whole file at once would hold "
            "up the saving of what it measures: once no candle burns, stop it, import, start it "
            "again; --dry-run can be tried meanwhile"
        )
    lock = DataLock.acquire(data)
    try:
        seen, found = _judged(settings, path)
        if not found.before:
            _write(settings, path, seen)
        return found
    finally:
        lock.release()


def _judged(settings: Settings, path: Path) -> tuple[_Seen, ImportOutcome]:
    """What would come of the file. Raises as `import_readings`."""
    now_s = RealClock().now_s()
    taken: list[CoveredTime] = []
    before = ""
    data = settings.bench.data
    if (data / FILE_NAME).exists():
        with open_read(data) as reader:
            taken, known = reader.taken(), {one.sha256: one for one in reader.imports()}
            now_s = max(now_s, reader.latest_s())
    else:
        known = {}
    seen = _seen(settings, path, now_s)
    if (one := known.get(seen.sha256)) is not None:
        before = f"imported from {one.file} at {rfc3339(one.at_s, digits=0)}"
    elif any(one.from_s <= seen.to_s and seen.from_s <= one.to_s for one in taken):
        if _stored_already(data, path, seen):
            before = "stored"
        else:
            _refuse_taken(path, taken)
    return seen, ImportOutcome(rows=seen.rows, from_s=seen.from_s, to_s=seen.to_s, before=before)


def _seen(settings: Settings, path: Path, now_s: float) -> _Seen:
    """Read all of it and tell everything that is wrong. Raises FileFaults, DataError."""
    said: list[str] = []
    count = rows = 0
    low_s, high_s = float("inf"), 0.0
    digest = hashlib.sha256()
    channels = {channel.name for channel in settings.channels}
    foreign: dict[str, readings_csv.CsvRow] = {}

    def note(what: object) -> None:
        nonlocal count
        count += 1
        if len(said) < MOST_FAULTS:
            said.append(str(what))

    for row in readings_csv.read(path, note):
        one = row.reading
        rows += 1
        low_s, high_s = min(low_s, one.at_s), max(high_s, one.at_s)
        _add(digest, one)
        if one.channel not in channels:
            foreign.setdefault(one.channel, row)
        if one.at_s > now_s:
            note(f"{path}:{row.line}: {rfc3339(one.at_s)} is in the future")
    if foreign:
        note(f"{path}: {readings_csv.unknown(foreign.values(), channels)}")
    if said:
        raise FileFaults(_bounded(path, said, count))
    if not rows:
        raise DataError(f"{path}: no reading below the header")
    return _Seen(rows=rows, from_s=low_s, to_s=high_s, sha256=digest.hexdigest())


def _add(digest: "hashlib._Hash", one: Reading) -> None:
    digest.update(f"{round(one.at_s * 1e6)},{one.channel},{one.value!r}\n".encode())


def _rows(path: Path) -> Iterator[readings_csv.CsvRow]:
    """Once more, of a file that was right a moment ago."""

    def changed(exc: DataError) -> NoReturn:
        raise exc

    return readings_csv.read(path, changed)


def _stored_already(data: Path, path: Path, seen: _Seen) -> bool:
    """Whether its rows are among those stored of that time, in this order: as an export's are."""
    with open_read(data) as reader:
        stored = reader.readings(None, seen.from_s, seen.to_s + 1e-6)
        return all(any(row.reading == one for one in stored) for row in _rows(path))


def _refuse_taken(path: Path, taken: list[CoveredTime]) -> None:
    """Raise FileFaults where rows lie in times that have their readings."""
    found: dict[CoveredTime, list[int]] = {}
    for row in _rows(path):
        for one in taken:
            if one.from_s <= row.reading.at_s <= one.to_s:
                found.setdefault(one, []).append(row.line)
                break
    said = [
        f"{path}:{lines[0]}: of {rfc3339(one.from_s, digits=0)} to {rfc3339(one.to_s, digits=0)} "
        f"there are readings already ({one.of}), and these are not changed; rows of that time in "
        f"the file: {len(lines)}; take them out, or import into another folder"
        for one, lines in found.items()
    ]
    if said:
        raise FileFaults(_bounded(path, said, len(said)))


def _bounded(path: Path, said: list[str], count: int) -> list[str]:
    more = count - MOST_FAULTS
    return said[:MOST_FAULTS] + ([f"{path}: and {more} more like these"] if more > 0 else [])


def _write(settings: Settings, path: Path, seen: _Seen) -> None:
    def readings() -> Iterator[Reading]:
        digest = hashlib.sha256()
        for row in _rows(path):
            _add(digest, row.reading)
            yield row.reading
        if digest.hexdigest() != seen.sha256:
            raise DataError(f"{path} was changed meanwhile; nothing was imported")

    database = settings.bench.data / FILE_NAME
    begun = imported_now(settings, RealClock().now_s())
    with in_plain_words(database), closing(open_to_write(database)) as con:
        run, _ = begun.note(con)
        imported.add(con, readings(), run=run, file=path.name, sha256=seen.sha256)
