"""Whether what is stored is whole, and every burn's record can still be written from it.

Only reads, so it may be asked while the service runs, and of a backup as well.
"""

import itertools
import statistics
from collections.abc import Iterator, Mapping, Sequence
from contextlib import closing
from dataclasses import dataclass
from pathlib import Path

from logger.burn.model import Burn
from logger.errors import DataError, StoreUnusable, WickbenchError
from logger.quantities import Channel
from logger.reports.document_html import record_html
from logger.service import records
from logger.service.check_items import Item, Report
from logger.store import integrity, photos
from logger.store.opening import FILE_NAME, open_to_read
from logger.store.queries import Reader
from logger.store.schema import MIGRATIONS, snapshot
from logger.store.sqlite_errors import in_plain_words
from logger.timestamps import rfc3339
from logger.words import duration

_SILENT_S = 15.0  # as the alarm `silent` counts where the configuration states nothing
_INTERVALS = 3.0
_MOST_FAULTS = 3  # of the pages that are told: more say nothing new
_MOST_GAPS = 5  # of a burn that are told one by one (our choice)


@dataclass(frozen=True, slots=True, kw_only=True)
class Interruption:
    """A stretch of a burn for which channels brought no reading."""

    channels: tuple[str, ...]
    from_s: float
    to_s: float


def verify(path: Path) -> Report:
    """Look through the database `path`, or that in the folder `path`.

    Raises DataError where there is none.
    """
    file = path / FILE_NAME if path.is_dir() else path
    if not file.is_file():
        raise DataError(f"{path} holds no database: name a backup, or a data folder")
    try:
        return Report(items=tuple(_items(file)))
    except StoreUnusable as exc:
        text = f"{file} is damaged: {exc.__cause__}" if exc.__cause__ else str(exc)
        return Report(items=(Item(what="file", ok=False, text=text),))


def _items(file: Path) -> Iterator[Item]:
    with in_plain_words(file), closing(open_to_read(file, older=True)) as con, snapshot(con):
        (version,) = con.execute("PRAGMA user_version").fetchone()
        faults = integrity.faults(con)
        rows = 0 if faults else sum(integrity.counts(con).values())
    if not version:
        yield Item(what="file", ok=False, text=f"{file} is empty: nothing was ever recorded in it")
        return
    size_mb = file.stat().st_size / 1e6
    yield Item(what="file", ok=True, text=f"{file}, {size_mb:.1f} MB, version {version}")
    text = "; ".join(faults[:_MOST_FAULTS]) or f"pages and references are sound; {rows} rows"
    yield Item(what="integrity", ok=not faults, text=text)
    if faults:
        return  # what is read of it means nothing
    if version < len(MIGRATIONS):
        text = (
            "not tried: an older wickbench wrote this file; put it into a data folder, and the "
            "next `wickbench run` brings it up to date"
        )
        yield Item(what="records", ok=True, text=text)
        return
    with Reader(open_to_read(file), file) as reader:
        yield from _imports(reader)
        yield from _records(reader)
        yield from _photos(reader)
        yield from _rows(reader)


def _imports(reader: Reader) -> Iterator[Item]:
    for one in reader.imports():
        text = (
            f"{one.rows} readings from {one.file} at {rfc3339(one.at_s, digits=0)}, of "
            f"{rfc3339(one.from_s, digits=0)} to {rfc3339(one.to_s, digits=0)}"
        )
        yield Item(what="imported", ok=True, text=text)


def _records(reader: Reader) -> Iterator[Item]:
    burns = reader.burns()
    failed = 0
    for burn in burns:
        try:
            record_html(records.load(reader, burn.id))
            gaps = _gaps(reader, burn)
        except (WickbenchError, ValueError, TypeError, KeyError) as exc:
            failed += 1
            text = f"its record cannot be written: {exc or type(exc).__name__}"
            yield Item(what=f"burn {burn.short_id}", ok=False, text=text)
            continue
        if gaps:
            yield Item(what=f"burn {burn.short_id}", ok=True, text=_said(gaps))
    text = f"{len(burns) - failed} of {len(burns)} could be written"
    yield Item(what="records", ok=not failed, text=text)


def _photos(reader: Reader) -> Iterator[Item]:
    """Every photo that counts, held against its name."""
    names = [one.photo for burn in reader.burns() for one in records.photographed(reader, burn)]
    faults = []
    for name in names:
        try:
            photos.load(reader.path, name)
        except WickbenchError as exc:
            faults.append(str(exc))
    if names:
        text = "; ".join(faults[:_MOST_FAULTS]) or f"all {len(names)} are there and intact"
        yield Item(what="photos", ok=not faults, text=text)


def _rows(reader: Reader) -> Iterator[Item]:
    """Every reading, entry, event and record of the shelf once; what cannot be read was noted."""
    readings = sum(1 for _ in reader.readings())
    estimates = sum(1 for _ in reader.estimates())
    entries, events = len(reader.entries()), len(reader.events())
    reader.calibrations()
    shelf = reader.readable_records()
    text = (
        f"{readings} readings, {estimates} estimates, {entries} entries, {events} events,"
        f" {shelf} versions of records on the shelf"
    )
    lines = reader.damage.lines
    yield Item(what="rows", ok=not lines, text=str(reader.damage) if lines else text)


def _gaps(reader: Reader, burn: Burn) -> list[Interruption]:
    """Stretches of the flame for which a channel that watched it brought nothing."""
    bench, _ = records.bench_and_text(reader, burn)
    channels = {one.name: one for one in bench.channels if one.station in (burn.station, None)}
    stamps: dict[str, list[float]] = {name: [] for name in channels}
    for reading in reader.readings(None, burn.lit_s, burn.out_s):
        if reading.channel in stamps:
            stamps[reading.channel].append(reading.at_s)
    end_s = burn.out_s
    if end_s is None:
        end_s = max((found[-1] for found in stamps.values() if found), default=burn.lit_s)
    return gaps(channels, stamps, burn.lit_s, end_s)


def gaps(
    channels: Mapping[str, Channel],
    stamps: Mapping[str, Sequence[float]],
    from_s: float,
    to_s: float,
) -> list[Interruption]:
    """Where the stamps of a channel lie further apart than it may be silent, in order of time.

    Gaps of several channels that begin or end within one interval of each other are told as one:
    a pulled plug.
    """
    found: list[Interruption] = []
    for name, channel in channels.items():
        times = [from_s, *sorted(stamps[name]), to_s]
        apart = [b - a for a, b in itertools.pairwise(times)]
        usual_s = statistics.median(apart[1:-1]) if len(apart) > 2 else 0.0
        allowed_s = channel.silent_after_s or max(_SILENT_S, _INTERVALS * usual_s)
        found += [
            Interruption(channels=(name,), from_s=a, to_s=b)
            for a, b in itertools.pairwise(times)
            if b - a > allowed_s
        ]
    joined: list[Interruption] = []
    for gap in sorted(found, key=lambda one: one.from_s):
        last = joined[-1] if joined else None
        if last and abs(last.from_s - gap.from_s) < _SILENT_S > abs(last.to_s - gap.to_s):
            names = (*last.channels, *gap.channels)
            end_s = max(last.to_s, gap.to_s)
            joined[-1] = Interruption(channels=names, from_s=last.from_s, to_s=end_s)
        else:
            joined.append(gap)
    return joined


def _said(found: Sequence[Interruption]) -> str:
    told = [
        f"{', '.join(gap.channels)} for {duration(gap.to_s - gap.from_s)} from "
        f"{rfc3339(gap.from_s, digits=0)}"
        for gap in found[:_MOST_GAPS]
    ]
    more = f"; and {len(found) - _MOST_GAPS} more" if len(found) > _MOST_GAPS else ""
    return f"its record can be written; without readings: {'; '.join(told)}{more}"
