"""A data package: one ZIP file with a description, the tables and the photos; it blocks."""

import csv
import hashlib
import io
import json
import zipfile
from collections.abc import Iterable, Iterator, Sequence
from contextlib import ExitStack
from dataclasses import dataclass
from pathlib import Path
from typing import IO, Any

from logger.burn.model import BurnEvent
from logger.clock import RealClock
from logger.errors import DataError, NotKnown
from logger.service import package_content as content_of
from logger.service.core import VERSION
from logger.service.package_content import PackageContent
from logger.service.package_tables import DESCRIPTOR, FORMAT, TABLES
from logger.store import photos
from logger.store.beside import made_beside
from logger.store.codec import dump
from logger.store.queries import Reader
from logger.timestamps import rfc3339

_LICENCE_SIGNS = frozenset("abcdefghijklmnopqrstuvwxyzABCDEFGHIJKLMNOPQRSTUVWXYZ0123456789-._")
_ALWAYS = (1980, 1, 1, 0, 0, 0)  # the time of its parts: the earliest that a ZIP file can hold


@dataclass(frozen=True, slots=True, kw_only=True)
class WrittenPackage:
    """What a package holds."""

    path: Path
    rows: dict[str, int]  # by table
    still_lit: Sequence[str]  # burns left out, as people call them
    no_photos: Sequence[str]  # what could not be read of photos

    def message(self) -> dict[str, object]:
        """As JSON."""
        return {
            "file": str(self.path),
            "rows": self.rows,
            "still_lit": list(self.still_lit),
            "photos_missing": list(self.no_photos),
        }

    def lines(self) -> Iterator[str]:
        """For a person."""
        told = ("burns", "entries", "readings", "estimates", "records", "photos")
        held = ", ".join(f"{self.rows[name]} {name}" for name in told)
        yield f"{self.path}: a data package with {held}"
        for burn in self.still_lit:
            yield f"burn {burn} is still lit and not in it: export again once it is out"
        yield from self.no_photos


def write_package(
    reader: Reader,
    content: PackageContent,
    to: Path,
    *,
    title: str,
    licence: str = "",
    force: bool = False,
) -> WrittenPackage:
    """Write `content` to the file `to`, which takes its name once all of it is written.

    Raises DataError where rows that belong into it are damaged, and for a place that will not do.
    """
    resources: list[dict[str, object]] = []
    rows: dict[str, int] = {}
    shown, missing = _photos(reader, content)
    with ExitStack() as stack:
        part = stack.enter_context(made_beside(to, force=force))
        archive = stack.enter_context(zipfile.ZipFile(part, "w", zipfile.ZIP_DEFLATED))
        for name, values in _tables(reader, content, sorted(shown)).items():
            rows[name] = _write_table(archive, name, values, resources)
        for name in sorted(shown):
            jpeg = photos.load(reader.path, name)
            with archive.open(_part(f"photos/{name}.jpg"), "w") as file:
                file.write(jpeg)
            resources.append(_photo_resource(name, len(jpeg)))
        if reader.damage.lines:
            raise DataError(
                f"nothing was written: {reader.damage}. A package must be whole: put a backup in "
                "place, or export single burns that are"
            )
        with archive.open(_part(DESCRIPTOR), "w") as file:
            text = json.dumps(_descriptor(title, licence, resources), indent=2, ensure_ascii=False)
            file.write(f"{text}\n".encode())
    return WrittenPackage(
        path=to,
        rows=rows,
        still_lit=[burn.short_id for burn in content.still_lit],
        no_photos=missing,
    )


def licence_message(licence: str) -> dict[str, str]:
    """A licence as the specification has it: its name, or where it is to be read.

    Raises DataError.
    """
    if licence.startswith(("http://", "https://")):
        return {"path": licence}
    if not licence or not set(licence) <= _LICENCE_SIGNS:
        raise DataError(
            f'licence "{licence}": give a short name without spaces, as CC-BY-4.0, or an address '
            "where it can be read"
        )
    return {"name": licence}


def _descriptor(title: str, licence: str, resources: Sequence[object]) -> dict[str, object]:
    found: dict[str, object] = {
        "profile": "data-package",
        "name": "wickbench-data",
        "title": title,
        "description": (
            "Candles under test: what instruments read and people entered, and what was computed "
            "of it. Times are in UTC."
        ),
        "created": rfc3339(RealClock().now_s(), digits=0),
        "sources": [{"title": f"recorded by wickbench {VERSION}"}],
        "wickbench": {"format": FORMAT, "version": VERSION},
        "resources": list(resources),
    }
    if licence:
        found["licenses"] = [licence_message(licence)]
    return found


def _photo_resource(name: str, size: int) -> dict[str, object]:
    return {
        "name": f"photo-{name[:16]}",
        "path": f"photos/{name}.jpg",
        "profile": "data-resource",
        "format": "jpg",
        "mediatype": "image/jpeg",
        "bytes": size,
        "hash": f"sha256:{name}",
    }


def _photos(reader: Reader, content: PackageContent) -> tuple[set[str], list[str]]:
    """The photos that can be read, and in words which cannot."""
    shown: set[str] = set()
    missing: list[str] = []
    for one in content.photographed:
        try:
            photos.load(reader.path, one.photo)
            shown.add(one.photo)
        except (NotKnown, DataError) as exc:
            missing.append(str(exc))
    return shown, missing


def _part(name: str) -> zipfile.ZipInfo:
    found = zipfile.ZipInfo(name, _ALWAYS)
    found.compress_type = zipfile.ZIP_DEFLATED
    found.external_attr = 0o644 << 16
    return found


class _Counting(io.RawIOBase):
    """Hands on what is written, and knows its length and digest."""

    def __init__(self, to: IO[bytes]) -> None:
        super().__init__()
        self._to = to
        self.size = 0
        self.digest = hashlib.sha256()

    def writable(self) -> bool:
        return True

    def write(self, data: Any) -> int:
        self.size += len(data)
        self.digest.update(data)
        return self._to.write(data)


def _write_table(
    archive: zipfile.ZipFile,
    name: str,
    values: Iterable[Sequence[Any]],
    resources: list[dict[str, object]],
) -> int:
    """Write a table and add its description; how many rows it has."""
    table, count = TABLES[name], 0
    with archive.open(_part(table.path), "w", force_zip64=True) as file:
        counting = _Counting(file)
        with io.TextIOWrapper(
            io.BufferedWriter(counting, 2**18), encoding="utf-8", newline="", write_through=False
        ) as out:
            row = csv.writer(out, lineterminator="\n").writerow
            row(table.header)
            for one in values:
                row(table.cells(one))
                count += 1
    resources.append(table.resource(counting.size, counting.digest.hexdigest()))
    return count


def _tables(
    reader: Reader, content: PackageContent, shown: Sequence[str]
) -> dict[str, Iterable[Sequence[Any]]]:
    """The rows of each table, in the order of its columns."""
    settings, wanted = content.settings, content.channels()
    entry_of = {one.photo: one.id for one in content.photographed}
    return {
        "settings": ((name, one.text, dump(one.bench)) for name, one in settings.items()),
        "channels": (
            (
                name,
                one.name,
                one.instrument,
                one.station,
                one.quantity.value,
                one.place.position.value,
                one.place.height_mm,
                one.place.clock,
                one.unit.name,
                one.quantity.unit,
                one.kind.value,
                one.accuracy,
                one.emissivity,
            )
            for name, found in settings.items()
            for one in found.bench.channels
            if wanted(one.name)
        ),
        "provenance": _provenance(reader, content),
        "records": (
            (
                one.id,
                one.kind,
                one.name,
                one.version,
                one.at_s,
                one.by,
                one.why,
                one.withdrawn,
                json.dumps(dict(one.fields), ensure_ascii=False),
            )
            for one in content.records
        ),
        "burns": (
            (
                one.id,
                one.number,
                one.station,
                one.trial,
                one.tester,
                one.lit_s,
                one.out_s,
                one.withdrawn,
                content.settings_of[one.id].digest,
                dump(one),
            )
            for one in content.burns
        ),
        "entries": (
            (
                stored.entry.id,
                type(stored.entry).__name__,
                stored.burn,
                stored.entry.at_s,
                stored.entry.entered_s,
                stored.entry.by,
                stored.text,
                dump(stored.entry),
            )
            for stored in content.entries
        ),
        "events": (
            (
                one.id,
                "burn" if isinstance(one, BurnEvent) else "alarm",
                one.burn,
                one.time_s,
                dump(one),
            )
            for one in content.events
        ),
        "photos": ((name, f"photos/{name}.jpg", entry_of[name]) for name in shown),
        "readings": (
            (one.at_s, one.channel, one.value) for one in content_of.readings(reader, content)
        ),
        "estimates": (
            (
                one.at_s,
                one.channel,
                one.value,
                one.standard_uncertainty,
                one.repeatability,
                one.used,
                one.rejected,
                one.quality.value,
            )
            for one in content_of.estimates(reader, content)
        ),
    }


def _provenance(reader: Reader, content: PackageContent) -> Iterator[Sequence[Any]]:
    for one in reader.taken():
        for from_s, to_s in content.spans:
            if one.to_s >= from_s and (to_s is None or one.from_s < to_s):
                first_s = max(one.from_s, from_s)
                yield first_s, one.to_s if to_s is None else min(one.to_s, to_s), one.of
