"""What is stored into files: readings as CSV, all as a data package; it blocks."""

import sys
from collections.abc import Generator, Sequence
from contextlib import ExitStack, closing
from dataclasses import dataclass
from pathlib import Path
from typing import TextIO

from logger.burn.span import joined, span_of
from logger.errors import UsageError
from logger.quantities import Reading
from logger.service import readings_csv, records
from logger.service.package_content import burns_for, of_burns, whole_bench
from logger.service.package_writing import WrittenPackage, licence_message, write_package
from logger.settings import Settings
from logger.store.beside import made_beside
from logger.store.queries import Reader, open_read

Span = tuple[float, float | None]


@dataclass(frozen=True, slots=True, kw_only=True)
class Selection:
    """One burn, those of a trial, a stretch of time (from_s <= t < to_s), or else everything."""

    burn: str = ""
    trial: str = ""
    from_s: float | None = None
    to_s: float | None = None


def export(settings: Settings, wanted: Selection, to: Path | None, *, force: bool = False) -> int:
    """Write what is `wanted` to the file `to`, else to standard output; how many readings.

    A burn goes from the hour before it was lit to the end of its cool-down, with all channels of
    the bench, in order of arrival. Raises NotKnown, UsageError, DataError, StoreError.
    """
    with ExitStack() as stack:
        reader = stack.enter_context(open_read(settings.bench.data))
        spans = _spans(reader, wanted, settings.limits.cool_down_s)
        readings = stack.enter_context(closing(_readings(reader, spans)))
        if to is None:
            return readings_csv.write(readings, sys.stdout)
        part = stack.enter_context(made_beside(to, force=force))
        file = stack.enter_context(part.open("w", encoding="utf-8", newline=""))
        return readings_csv.write(readings, file)


def export_package(
    settings: Settings, wanted: Selection, to: Path, *, licence: str = "", force: bool = False
) -> WrittenPackage:
    """Write a data package of the bench, a trial or a burn to the file `to`.

    Raises NotKnown, UsageError, DataError, StoreError.
    """
    if wanted.from_s is not None or wanted.to_s is not None:
        raise UsageError("a data package is of the whole bench, a trial or a burn, not of a time")
    if wanted.burn and wanted.trial:
        raise UsageError("name one of these: a burn, a trial")
    if licence:
        licence_message(licence)
    title = settings.bench.name
    cool_down_s = settings.limits.cool_down_s
    with open_read(settings.bench.data) as reader, reader.moment():
        if wanted.burn:
            burns = [records.burn_of(reader, wanted.burn)]
            title += f", burn {burns[0].short_id}"
            content = of_burns(reader, burns, cool_down_s)
        elif wanted.trial:
            title += f", trial {wanted.trial}"
            content = of_burns(reader, burns_for(reader, wanted.trial), cool_down_s)
        else:
            content = whole_bench(reader)
        return write_package(reader, content, to, title=title, licence=licence, force=force)


def export_all(data: Path, out: TextIO, from_s: float = 0.0, to_s: float | None = None) -> int:
    """Write the readings of a time, by default all; how many they were."""
    with open_read(data) as reader:
        return readings_csv.write(reader.readings(None, from_s, to_s), out)


def _spans(reader: Reader, wanted: Selection, cool_down_s: float) -> Sequence[Span]:
    by_time = wanted.from_s is not None or wanted.to_s is not None
    if sum((bool(wanted.burn), bool(wanted.trial), by_time)) > 1:
        raise UsageError("name one of these: a burn, a trial, a time (--from, --to)")
    if wanted.burn:
        return [span_of(records.burn_of(reader, wanted.burn), cool_down_s)]
    if wanted.trial:
        return joined([span_of(one, cool_down_s) for one in records.burns_of(reader, wanted.trial)])
    if wanted.from_s is not None and wanted.to_s is not None and wanted.from_s >= wanted.to_s:
        raise UsageError("--from must lie before --to")
    return [(wanted.from_s or 0.0, wanted.to_s)]


def _readings(reader: Reader, spans: Sequence[Span]) -> Generator[Reading, None, None]:
    for from_s, to_s in spans:
        yield from reader.readings(None, from_s, to_s)
