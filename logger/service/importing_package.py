"""A data package into a data folder: all of it or nothing; twice in is harmless."""

from collections.abc import Iterator, Mapping
from contextlib import closing
from dataclasses import dataclass
from pathlib import Path

from logger.clock import RealClock
from logger.errors import FileFaults, StoreLocked
from logger.service import package_reading
from logger.service.imported_now import imported_now
from logger.service.package_news import Held, news
from logger.service.package_reading import MOST_FAULTS, ReadPackage
from logger.settings import Settings
from logger.store import package_rows, photos
from logger.store.lock import DataLock, holder
from logger.store.opening import FILE_NAME, open_to_write
from logger.store.package_rows import PackageRows
from logger.store.queries import open_read
from logger.store.sqlite_errors import in_plain_words


@dataclass(frozen=True, slots=True, kw_only=True)
class PackageOutcome:
    """What came of a package: how much of it is new, by table."""

    name: str
    new: Mapping[str, int]
    before: str = ""  # in words how all of it came to be there already

    def message(self, *, imported: bool) -> dict[str, object]:
        """As JSON."""
        return {
            "new": dict(self.new),
            "imported": imported and not self.before,
            "before": self.before or None,
        }

    def lines(self, *, imported: bool) -> Iterator[str]:
        """For a person."""
        if self.before:
            yield f"nothing was changed: all of {self.name} was {self.before} before"
            return
        held = ", ".join(f"{count} {name}" for name, count in self.new.items())
        yield f"{self.name}: {held} {'imported' if imported else 'would be imported'}"


def import_package(settings: Settings, path: Path, *, dry_run: bool) -> PackageOutcome:
    """Bring a package into the bench's data folder.

    Raises FileFaults with all that is wrong, DataError, StoreError; StoreLocked while a service
    runs.
    """
    data = settings.bench.data
    if not dry_run and (held := holder(data)) is not None:
        raise StoreLocked(
            f"the bench's service runs (process {held.pid}), and a whole package at once would "
            "hold up the saving of what it measures: once no candle burns, stop it, import, start "
            "it again; --dry-run can be tried meanwhile"
        )
    with package_reading.opened(path) as package:
        if dry_run:
            return _judged(data, package)[1]
        lock = DataLock.acquire(data)
        try:
            new, found = _judged(data, package)
            if new is not None and not found.before:
                _write(settings, package, new)
            return found
        finally:
            lock.release()


def _judged(data: Path, package: ReadPackage) -> tuple[PackageRows | None, PackageOutcome]:
    """What is new of it; None where nothing is. Raises FileFaults."""
    now_s = RealClock().now_s()
    held = Held(now_s=now_s)
    if (data / FILE_NAME).exists():
        with open_read(data) as reader:
            held = Held.of(reader, package, now_s)
    if (before := held.imports.get(package.sha256)) is not None:
        return None, PackageOutcome(name=package.name, new={}, before=f"imported from {before}")
    found, faults = news(held, package)
    if faults:
        more = len(faults) - MOST_FAULTS
        told = faults[:MOST_FAULTS] + ([f"and {more} more like these"] if more > 0 else [])
        raise FileFaults([f"{package.name}: {one}" for one in told])
    counts = {
        "burns": len(found.burns),
        "entries": len(found.entries),
        "events": len(found.events),
        "records": len(found.records),
        "readings": sum(1 for _ in found.readings),
        "estimates": sum(1 for _ in found.estimates),
    }
    before = "" if any(counts.values()) else "stored"
    return found, PackageOutcome(name=package.name, new=counts, before=before)


def _write(settings: Settings, package: ReadPackage, found: PackageRows) -> None:
    """Photos first, which are taken back where the rest fails; then all else at once."""
    database = settings.bench.data / FILE_NAME
    begun = imported_now(settings, RealClock().now_s())
    folder = photos.folder_of(database)
    mine = [name for name in package.photos if not (folder / f"{name}.jpg").exists()]
    try:
        with in_plain_words(database), closing(open_to_write(database)) as con:
            for name in mine:
                photos.keep(settings.bench.data, package.photo(name))
            run, _ = begun.note(con)
            package_rows.add(con, found, run=run, file=package.name, sha256=package.sha256)
    except BaseException:
        for name in mine:
            (folder / f"{name}.jpg").unlink(missing_ok=True)
        raise
