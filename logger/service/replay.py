"""Recorded readings through the same pipeline as live ones; what it says as JSON lines."""

import csv
import json
from collections.abc import Iterable, Iterator
from dataclasses import dataclass, replace
from heapq import merge
from pathlib import Path

from logger import messages
from logger.alarms.lifecycle import AlarmEvent
from logger.burn.entries import Entry, Lit, Out
from logger.burn.forecast import Forecast
from logger.burn.model import BurnEvent
from logger.burn.phases import LightingFinder
from logger.errors import DataError, UsageError
from logger.pipeline import Bench, Input, Memory, Output, Pipeline, ticks
from logger.quantities import Channel, Estimate, Reading
from logger.service.core import bench_of
from logger.service.engine import stamp_of
from logger.settings import Settings
from logger.store.queries import known_burn, known_calibrations
from logger.timestamps import parse_instant
from logger.units import parse_number

COLUMNS = ["time", "channel", "value"]


@dataclass(frozen=True, slots=True)
class _Row:
    line: int
    reading: Reading


def read_csv(path: Path, channels: Iterable[Channel]) -> list[Reading]:
    """Readings of `path`, in order of time, then of the configuration, then of the file.

    Raises DataError that names every channel the configuration lacks, or the first wrong row by
    line and column.
    """
    order = {channel.name: position for position, channel in enumerate(channels)}
    rows: list[_Row] = []
    unknown: dict[str, int] = {}
    try:
        with path.open(newline="", encoding="utf-8") as file:
            reader = csv.reader(file, strict=True)
            header = next(reader, None)
            if header != COLUMNS:
                raise DataError(f"{path}:1: the first line must read {','.join(COLUMNS)}")
            for row in reader:
                if not row:
                    continue
                reading = _reading(f"{path}:{reader.line_num}", row)
                if reading.channel not in order:
                    unknown.setdefault(reading.channel, reader.line_num)
                rows.append(_Row(reader.line_num, reading))
    except FileNotFoundError:
        raise DataError(f"{path}: no such file") from None
    except (OSError, UnicodeDecodeError, csv.Error) as exc:
        raise DataError(f"{path}: cannot be read as CSV in UTF-8: {exc}") from exc
    if unknown:
        names = ", ".join(f"{name} (line {line})" for name, line in unknown.items())
        raise DataError(f"{path}: the configuration lacks these channels: {names}")
    rows.sort(key=lambda row: (row.reading.at_s, order[row.reading.channel], row.line))
    return [row.reading for row in rows]


def _reading(where: str, row: list[str]) -> Reading:
    if len(row) != len(COLUMNS):
        raise DataError(f"{where}: {len(row)} columns, must be {len(COLUMNS)}: {','.join(COLUMNS)}")
    time, channel, value = row
    try:
        at_s = parse_instant(time)
    except DataError as exc:
        raise DataError(f"{where}: column time: {exc}") from None
    try:
        return Reading(channel=channel, value=parse_number(value), at_s=at_s)
    except DataError as exc:
        raise DataError(f"{where}: column value: {exc}") from None


def lines(
    settings: Settings, path: Path, lit_s: float | None = None, out_s: float | None = None
) -> Iterator[str]:
    """What the bench would have said of the readings in `path`, one JSON object a line.

    Where no lighting is given, it is looked for in the readings. Each reading is corrected by the
    calibration in force at its time, and a burn lit at `lit_s` starts from what it started from
    then, as far as the data folder holds any. Raises DataError.
    """
    bench = replace(bench_of(settings), ask_every_s=None)  # nobody is there to answer
    readings = read_csv(path, bench.channels)
    if not readings:
        raise DataError(f"{path}: no reading below the header")
    memory = Memory(calibrations=tuple(known_calibrations(settings.bench.data)))
    if lit_s is None:
        if out_s is not None:
            raise UsageError("--out needs --lit: without it both are looked for in the readings")
        outputs = _fold_and_find(Pipeline(bench, readings[0].at_s, memory), bench, readings)
    else:
        pipeline = Pipeline(bench, min(lit_s, readings[0].at_s), memory)
        outputs = _fold(pipeline, merge(_entries(settings, lit_s, out_s), readings, key=stamp_of))
    channels = {channel.name: channel for channel in bench.channels}
    for output in outputs:
        line = json_line(output, channels)
        if line is not None:
            yield line


def _entries(settings: Settings, lit_s: float, out_s: float | None) -> list[Entry]:
    """A lighting and an extinguishing of every station, at the times given."""
    made: list[Entry] = []
    for station in settings.stations:
        known = known_burn(settings.bench.data, f"{station.name}-{int(lit_s)}")
        lit = _lit(station.name, lit_s, lit_s)
        made.append(replace(lit, expected=known.expected) if known else lit)
    if out_s is not None:
        made += [_out(station.name, out_s, out_s) for station in settings.stations]
    return made


def _lit(station: str, at_s: float, entered_s: float) -> Lit:
    return Lit(at_s=at_s, entered_s=entered_s, id="replay", station=station, trial="replay")


def _out(station: str, at_s: float, entered_s: float) -> Entry:
    return Out(at_s=at_s, entered_s=entered_s, id="replay", station=station)


def _fold(pipeline: Pipeline, inputs: Iterable[Input]) -> Iterator[Output]:
    """Everything that `pipeline` says of `inputs`, with the ticks between them."""
    ticked_s: float | None = None
    for item in inputs:
        now_s = stamp_of(item)
        for tick in ticks(now_s - 1e-6 if ticked_s is None else ticked_s, now_s):
            yield from pipeline.step(tick)
            ticked_s = tick.at_s
        yield from pipeline.step(item)


def _fold_and_find(
    pipeline: Pipeline, bench: Bench, readings: Iterable[Reading]
) -> Iterator[Output]:
    """As `_fold`, with a lighting and an extinguishing entered where the walls show one."""
    finders = {station.name: LightingFinder() for station in bench.stations}
    station_of = {c.name: c.station for c in bench.channels if c.on_vessel and c.station}
    for output in _fold(pipeline, readings):
        yield output
        if isinstance(output, Estimate) and output.channel in station_of:
            station = station_of[output.channel]
            found = finders[station].see(output)
            if found is not None:
                make = _lit if found.lit else _out
                yield from pipeline.step(make(station, found.since_s, output.at_s))


def json_line(output: Output, channels: dict[str, Channel]) -> str | None:
    """An output as one line of JSON; None for what replay does not print."""
    match output:
        case Estimate():
            message = messages.estimate(output, channels[output.channel])
        case Forecast():
            message = messages.forecast(output)
        case AlarmEvent() | BurnEvent():
            message = messages.event(output)
        case _:
            return None
    return json.dumps(message, ensure_ascii=False, separators=(",", ":"))
