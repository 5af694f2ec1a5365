"""A data package read back: checked whole before anything of it is believed.

Every file must be there with the length and SHA-256 that the description names; then every row must
say what its table says. `faults` has all that is wrong, a line each.
"""

import csv
import hashlib
import io
import json
import re
import zipfile
import zlib
from collections.abc import Callable, Iterator
from contextlib import contextmanager
from dataclasses import dataclass, field
from pathlib import Path
from typing import Any

from logger.burn.model import Burn
from logger.errors import DataError, FileFaults
from logger.intake.shelf_bodies import SHELF, record_of
from logger.pipeline import Bench, Event
from logger.quantities import Estimate, Quality, Reading
from logger.service.package_content import PackageSettings
from logger.service.package_tables import DESCRIPTOR, FORMAT, TABLES, PackageTable
from logger.shelf.versions import ShelfVersion
from logger.store.codec import load, load_entry, load_event
from logger.store.queries import StoredEntry

MOST_FAULTS = 20  # that are told: who has more has one cause (our choice)
_UNREADABLE = (OSError, zipfile.BadZipFile, zlib.error, EOFError, RuntimeError, ValueError)
_BLOCK = 2**20
_PHOTO = re.compile(r"photos/([0-9a-f]{64})\.jpg")

Root = Path | zipfile.Path


@dataclass(slots=True)
class ReadPackage:
    """What a whole package holds; readings and estimates are read again each time."""

    root: Root
    name: str
    sha256: str  # of all its files
    settings: dict[str, PackageSettings] = field(default_factory=dict)
    burns: list[tuple[Burn, str]] = field(default_factory=list)  # with its settings' digest
    entries: list[StoredEntry] = field(default_factory=list)
    events: list[Event] = field(default_factory=list)
    records: list[ShelfVersion] = field(default_factory=list)
    photos: list[str] = field(default_factory=list)

    def readings(self) -> Iterator[Reading]:
        """In their order."""
        yield from _rows(self.root, TABLES["readings"], _reading, _raise)

    def estimates(self) -> Iterator[Estimate]:
        """In their order."""
        yield from _rows(self.root, TABLES["estimates"], _estimate, _raise)

    def photo(self, name: str) -> bytes:
        """A photo of it."""
        return (self.root / f"photos/{name}.jpg").read_bytes()


class _Faults:
    """Collects what is wrong, the first of it in words."""

    def __init__(self, name: str) -> None:
        self._name = name
        self.lines: list[str] = []
        self.count = 0

    def note(self, what: object) -> None:
        self.count += 1
        if len(self.lines) < MOST_FAULTS:
            self.lines.append(f"{self._name}: {what}")

    def check(self) -> None:
        """Raise FileFaults where anything is wrong."""
        more = self.count - len(self.lines)
        if more:
            self.lines.append(f"{self._name}: and {more} more like these")
        if self.lines:
            raise FileFaults(self.lines)


def is_package(path: Path) -> bool:
    """Whether a path names a data package rather than a table."""
    return path.is_dir() or path.name == DESCRIPTOR or path.suffix.lower() == ".zip"


@contextmanager
def opened(path: Path) -> Iterator[ReadPackage]:
    """The package in a ZIP file or folder. Raises DataError, FileFaults with all that is wrong."""
    if path.name == DESCRIPTOR and path.is_file():
        path = path.parent
    if path.is_dir():
        yield _read(path, path.name)
        return
    try:
        archive = zipfile.ZipFile(path)
    except FileNotFoundError:
        raise DataError(f"{path}: no such file") from None
    except (OSError, zipfile.BadZipFile) as exc:
        raise DataError(f"{path} cannot be read as a ZIP file: {exc}") from exc
    with archive:
        yield _read(zipfile.Path(archive), path.name)


def _read(root: Root, name: str) -> ReadPackage:
    faults = _Faults(name)
    resources = _resources(root, name)
    digest = hashlib.sha256()
    photos: list[str] = []
    for path, size, sha256 in resources:
        if path not in {table.path for table in TABLES.values()}:
            match = _PHOTO.fullmatch(path)
            if match is None or match[1] != sha256:
                faults.note(f"{path} is none of the files of such a package")
                continue
            photos.append(sha256)
        _check_file(root, path, size, sha256, faults)
        digest.update(f"{path} {sha256}\n".encode())
    there = {path for path, _, _ in resources}
    for table in TABLES.values():
        if table.path not in there:
            faults.note(f"{DESCRIPTOR} does not name the table {table.path}")
    faults.check()
    package = ReadPackage(root, name, digest.hexdigest(), photos=photos)
    _fill(package, faults)
    _check_rows(package, faults)
    faults.check()
    return package


def _resources(root: Root, name: str) -> list[tuple[str, int, str]]:
    """Path, length and digest of each file that the description names. Raises DataError."""
    where = f"{name}: {DESCRIPTOR}"
    try:
        found = json.loads((root / DESCRIPTOR).read_text(encoding="utf-8"))
    except FileNotFoundError:
        raise DataError(f"{where} is missing: this is not a data package") from None
    except KeyError:  # a ZIP file without it
        raise DataError(f"{where} is missing: this is not a data package") from None
    except _UNREADABLE as exc:
        raise DataError(f"{where} cannot be read: {exc}") from exc
    ours = found.get("wickbench") if isinstance(found, dict) else None
    if not isinstance(ours, dict) or not isinstance(ours.get("format"), int):
        raise DataError(f"{where}: this package was not written by wickbench's export")
    if ours["format"] != FORMAT:
        raise DataError(
            f"{where}: its tables are of version {ours['format']}, this program knows {FORMAT}: "
            "import it with the wickbench that wrote it, or a newer one"
        )
    listed = found.get("resources")
    try:
        return [
            (str(one["path"]), int(one["bytes"]), str(one["hash"]).removeprefix("sha256:"))
            for one in listed
        ]
    except (TypeError, KeyError, ValueError):
        raise DataError(f"{where}: a file lacks its path, bytes or hash") from None


def _check_file(root: Root, path: str, size: int, sha256: str, faults: _Faults) -> None:
    digest, length = hashlib.sha256(), 0
    try:
        with (root / path).open("rb") as file:
            while length <= size and (block := file.read(_BLOCK)):
                digest.update(block)
                length += len(block)
    except (FileNotFoundError, KeyError):
        faults.note(f"{path} is missing")
        return
    except _UNREADABLE as exc:
        faults.note(f"{path} cannot be read: {exc}")
        return
    if length != size:
        faults.note(f"{path} has not the {size} bytes that it was written with")
    elif digest.hexdigest() != sha256:
        faults.note(f"{path} is damaged or was changed since: its SHA-256 is another")


def _rows(
    root: Root,
    table: PackageTable,
    make: Callable[..., Any],
    on_fault: Callable[[DataError], None],
) -> Iterator[Any]:
    """What `make` makes of each row; `on_fault` hears of those that are wrong."""
    with (
        (root / table.path).open("rb") as binary,
        io.TextIOWrapper(binary, encoding="utf-8", newline="") as file,
    ):
        reader = csv.reader(file, strict=True)
        try:
            if next(reader, None) != table.header:
                raise DataError(f"must read {','.join(table.header)}")
            for cells in reader:
                try:
                    made = make(*table.values(cells))
                except (DataError, ValueError, TypeError, KeyError) as exc:  # pydantic's are too
                    said = " ".join(str(exc).split())[:200]
                    on_fault(DataError(f"{table.path}:{reader.line_num}: {said}"))
                else:
                    yield made
        except (DataError, csv.Error, *_UNREADABLE) as exc:  # no more can be read
            said = str(exc) or "it ends too early"
            on_fault(DataError(f"{table.path}:{reader.line_num or 1}: {said}"))


def _raise(fault: DataError) -> None:
    raise fault


def _fill(package: ReadPackage, faults: _Faults) -> None:
    root = package.root

    def each(name: str, make: Callable[..., Any]) -> list[Any]:
        return list(_rows(root, TABLES[name], make, faults.note))

    package.settings = dict(each("settings", _settings))
    package.records = each("records", _record)
    package.burns = each("burns", _burn)
    package.entries = each("entries", _entry)
    package.events = each("events", _event)
    for name in ("channels", "provenance", "photos"):  # for people; their cells must be right too
        each(name, lambda *values: values)
    for name, make in (("readings", _reading), ("estimates", _estimate)):
        for _ in _rows(root, TABLES[name], make, faults.note):
            pass


def _check_rows(package: ReadPackage, faults: _Faults) -> None:
    """What rows say of one another."""
    for burn, settings in package.burns:
        if settings not in package.settings:
            faults.note(f"data/burns.csv: the settings of burn {burn.id} are not in the package")
    for what, ids in (
        ("burns", [burn.id for burn, _ in package.burns]),
        ("entries", [one.entry.id for one in package.entries]),
        ("events", [one.id for one in package.events]),
        ("records", [one.id for one in package.records]),
    ):
        seen: set[str] = set()
        for one in ids:
            if one in seen:
                faults.note(f"data/{what}.csv: {one} is there twice")
            seen.add(one)


def _same(column: str, value: object, of_body: object) -> None:
    if value != of_body:
        raise DataError(f"column {column} and its body differ")


def _settings(digest: str, text: str | None, bench: str) -> tuple[str, PackageSettings]:
    return digest, PackageSettings(text=text or "", bench=load(Bench, bench))


def _burn(*values: Any) -> tuple[Burn, str]:
    id_, _, station, trial, _, lit_s, out_s, _, settings, body = values
    burn = load(Burn, body)
    _same("burn", id_, burn.id)
    _same("station", station, burn.station)
    _same("trial", trial, burn.trial)
    _same("lit", lit_s, round(burn.lit_s, 6))
    _same("out", out_s, None if burn.out_s is None else round(burn.out_s, 6))
    return burn, str(settings)


def _entry(*values: Any) -> StoredEntry:
    id_, kind, burn, _, _, _, text, body = values
    entry = load_entry(kind, body)
    _same("entry", id_, entry.id)
    return StoredEntry(entry=entry, burn=burn, text=text or "")


def _event(id_: str, kind: str, burn: str | None, time_s: float, body: str) -> Event:
    event = load_event(kind, body)
    _same("event", id_, event.id)
    return event


def _record(*values: Any) -> ShelfVersion:
    id_, kind, name, version, at_s, by, why, withdrawn, fields = values
    if kind not in SHELF:
        raise DataError(f'column kind: there is no "{kind}" on a shelf')
    found = ShelfVersion(
        id=id_,
        kind=kind,
        name=name,
        version=version,
        at_s=at_s,
        by=by or "",
        why=why or "",
        withdrawn=withdrawn,
        fields=json.loads(fields),
    )
    record_of(found)
    return found


def _reading(at_s: float, channel: str, value: float) -> Reading:
    return Reading(channel=channel, value=value, at_s=at_s)


def _estimate(*values: Any) -> Estimate:
    at_s, channel, value, standard_uncertainty, repeatability, used, rejected, quality = values
    return Estimate(
        channel=channel,
        at_s=at_s,
        value=value,
        standard_uncertainty=standard_uncertainty,
        repeatability=repeatability,
        used=used,
        rejected=rejected,
        quality=Quality(quality),
    )
