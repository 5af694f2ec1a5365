"""Burns of a table kept by hand into a data folder: all of them or none, marked as such.

Each burn is folded by a pipeline of its own that knows what came before it on its station, so that
its entries are checked as anybody's are; the alarms of that are dropped, for none was raised then.
A dry run does the same in an empty folder, and so says what would come in and what it proves.
"""

import re
import tempfile
from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass, replace
from pathlib import Path

from logger.burn.entries import Entry
from logger.burn.model import Burn, BurnEvent
from logger.clock import RealClock
from logger.errors import DataError, FileFaults, Refused, StoreLocked
from logger.intake.table_burn import Table, TableBurn
from logger.intake.table_map import TableMap, load_map
from logger.intake.table_rows import read_table
from logger.pipeline import Input, Memory, Output, Pipeline
from logger.quantities import Estimate
from logger.service import records
from logger.service.core import bench_of
from logger.service.lighting import with_records
from logger.service.offline import begin, held_store
from logger.settings import Settings
from logger.store.lock import holder
from logger.store.opening import FILE_NAME
from logger.store.queries import open_read
from logger.timestamps import local_minute, rfc3339
from logger.words import duration


@dataclass(frozen=True, slots=True, kw_only=True)
class ImportedBurn:
    """One burn that came in, or would, and what it proves."""

    line: int
    burn: Burn
    proves: str


@dataclass(frozen=True, slots=True, kw_only=True)
class TableOutcome:
    """What came of a table."""

    burns: tuple[ImportedBurn, ...]
    known: int  # rows whose burns were imported before
    empty_rows: int
    not_taken: tuple[str, ...]  # columns

    def message(self, *, imported: bool) -> Mapping[str, object]:
        """As JSON."""
        return {
            "burns": [
                {
                    "row": one.line,
                    "burn": one.burn.id,
                    "station": one.burn.station,
                    "trial": one.burn.trial,
                    "tester": one.burn.tester,
                    "lit": rfc3339(one.burn.lit_s, digits=0),
                    "elapsed_s": one.burn.elapsed_s(one.burn.lit_s),
                    "proves": one.proves,
                }
                for one in self.burns
            ],
            "known": self.known,
            "empty_rows": self.empty_rows,
            "not_taken": list(self.not_taken),
            "imported": imported and bool(self.burns),
        }

    def lines(self, *, imported: bool) -> Iterator[str]:
        """For a person."""
        for one in self.burns:
            burn = one.burn
            lit = local_minute(burn.lit_s)
            of = f"{burn.trial} {burn.tester}".rstrip()
            yield (
                f"row {one.line}: {burn.station}, {of}, lit {lit}, "
                f"{duration(burn.elapsed_s(burn.lit_s))}. {one.proves}"
            )
        if self.not_taken:
            yield f"columns that the map does not name: {', '.join(self.not_taken)}"
        if self.empty_rows:
            yield f"empty rows: {self.empty_rows}"
        if self.known:
            yield f"imported before, nothing changed: {self.known}"
        if self.burns and imported:
            yield f"{len(self.burns)} burns imported, marked as kept by hand"
        elif self.burns:
            yield f"{len(self.burns)} burns would be imported; with --yes they are"


async def import_burns(
    settings: Settings, path: Path, map_path: Path, *, dry_run: bool
) -> TableOutcome:
    """Bring the burns of `path` into the bench's data folder; a repeat changes nothing.

    Raises FileFaults with every wrong row, DataError, StoreError; StoreLocked while a service runs.
    """
    data, table_map = settings.bench.data, load_map(map_path)
    if not dry_run and (held := holder(data)) is not None:
        raise StoreLocked(
            f"the bench's service runs (process {held.pid}): stop it, import, start it again; "
            "the dry run can be tried meanwhile"
        )
    folding = _Folding(settings, sure=table_map.sure)
    table = _table(settings, path, table_map, folding.now_s)
    faults = list(table.faults)
    if not faults and not table.burns:
        raise DataError(f"{path}: no burn below the header")
    fresh = [one for one in table.burns if not folding.knows(one)]
    for one in fresh:
        try:
            folding.fold(one)
        except Refused as exc:
            faults.append(f"{path}:{one.line}: {exc}")
    if faults:
        raise FileFaults(sorted(faults, key=_line_of))
    proved: list[str] = []
    if fresh and dry_run:
        with tempfile.TemporaryDirectory() as folder:
            elsewhere = replace(
                settings, bench=settings.bench.model_copy(update={"data": Path(folder)})
            )
            proved = await _write(elsewhere, folding)
    elif fresh:
        proved = await _write(settings, folding)
    return TableOutcome(
        burns=tuple(
            ImportedBurn(line=one.line, burn=burn, proves=proves)
            for one, burn, proves in zip(fresh, folding.burns, proved, strict=True)
        ),
        known=len(table.burns) - len(fresh),
        empty_rows=table.empty_rows,
        not_taken=table.not_taken,
    )


def _table(settings: Settings, path: Path, table_map: TableMap, now_s: float) -> Table:
    stations = [station.name for station in settings.stations]
    source = table_map.columns.station
    if len(stations) != 1 and not (source.column or source.always):
        raise DataError(
            "the map must say on which station each burn was: columns.station, a column or "
            f'{{ always = "{stations[0] if stations else "jar-a"}" }}'
        )
    return read_table(
        path,
        table_map,
        now_s=now_s,
        station=stations[0] if len(stations) == 1 else "",
        cool_down_s=settings.limits.cool_down_s,
    )


def _line_of(fault: str) -> int:
    """The row that a fault is of, to tell all in their order."""
    found = re.search(r":(\d+): ", fault)
    return int(found[1]) if found else 0


class _Folding:
    """Makes burns of rows, beside what the data folder holds."""

    def __init__(self, settings: Settings, *, sure: bool) -> None:
        self._sure = sure
        self.steps: list[tuple[Input, Sequence[Output]]] = []
        self.burns: list[Burn] = []  # one a row, as it ends
        self.now_s = RealClock().now_s()
        self._data = settings.bench.data
        self._bench = replace(bench_of(settings), ask_every_s=None)  # nobody is there to answer
        self._before: list[Burn] = []
        self._ids: frozenset[str] = frozenset()
        self._trials: set[str] = set()
        self._last_number = 0  # of the bench's burns
        if not (self._data / FILE_NAME).exists():
            return
        with open_read(self._data) as reader:
            self.now_s = max(self.now_s, reader.latest_s())
            burns = reader.burns()
            self._before = [one for one in burns if not one.withdrawn]
            self._last_number = max((one.number or 0 for one in burns), default=0)
            self._ids = frozenset(stored.entry.id for stored in reader.entries())
            self._trials = {trial.name for trial in reader.trials()}

    def knows(self, row: TableBurn) -> bool:
        """Whether all of it came in before."""
        return all(entry.id in self._ids for entry in row.entries)

    def fold(self, row: TableBurn) -> None:
        """Take one row, after all that were lit before it. Raises Refused."""
        here = [one for one in (*self._before, *self.burns) if one.station == row.station]
        for one in here:
            if one.lit_s < row.out_s and (one.out_s is None or row.lit_s < one.out_s):
                raise Refused(
                    f"{row.station} was burning at that time already, as burn {one.short_id} of "
                    f"{one.trial}: name another station, or correct that burn (`wickbench "
                    "burn correct`)"
                )
        last = max((one for one in here if one.lit_s < row.lit_s), key=_lit_s, default=None)
        pipeline = Pipeline(
            self._bench,
            self.now_s,
            Memory(
                earlier=() if last is None else (last,),
                trials=tuple(sorted(self._trials)),
                last_number=self._last_number + len(self.burns),
            ),
        )
        steps: list[tuple[Entry, list[Output]]] = []
        first = row.lit
        if (self._data / FILE_NAME).exists():
            first = with_records(self._data, first)
        burn: Burn | None = None
        for entry in (first, *row.entries[1:]):
            question = None if self._sure else pipeline.doubt(entry)
            if question is not None:
                raise Refused(f"{question} Change it, or write sure = true into the map")
            kept: list[Output] = [
                one for one in pipeline.step(entry) if isinstance(one, Burn | BurnEvent | Estimate)
            ]
            burn = next((one for one in reversed(kept) if isinstance(one, Burn)), burn)
            steps.append((entry, kept))
        assert burn is not None
        burn = replace(burn, cooled=True)  # long ago: no wall of today tells of it
        steps[-1][1].append(burn)
        self.steps += steps
        self.burns.append(burn)
        self._trials.add(burn.trial)


def _lit_s(burn: Burn) -> float:
    return burn.lit_s


async def _write(settings: Settings, folding: _Folding) -> list[str]:
    """Write all in one transaction; what each burn proves."""
    async with held_store(settings) as store:
        await begin(store, settings, bench_of(settings), folding.now_s)
        # Of long ago: a broker need not hear of them.
        told = [
            one.id for _, outputs in folding.steps for one in outputs if isinstance(one, BurnEvent)
        ]
        await store.append(folding.steps, delivered=told)
    return [records.proved(settings.bench.data, burn.id) for burn in folding.burns]
