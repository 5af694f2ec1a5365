"""Recorded readings through the same pipeline as live ones; what it says as JSON lines."""

import json
from array import array
from collections.abc import Iterable, Iterator, Mapping, Sequence
from dataclasses import replace
from heapq import merge
from pathlib import Path
from typing import NoReturn

from logger import messages
from logger.alarms.lifecycle import AlarmEvent
from logger.burn.entries import Calibrated, Lit, Out
from logger.burn.forecast import Forecast
from logger.burn.marks import MarkTimes
from logger.burn.model import Burn, BurnEvent
from logger.burn.phases import LightingFinder
from logger.conditioning.calibration import Calibration
from logger.decision.verdict import judge
from logger.errors import DataError, UsageError
from logger.pipeline import Bench, Event, Input, Memory, Output, Pipeline, stamp_of, with_ticks
from logger.quantities import Channel, Estimate, Reading
from logger.reports.document_html import record_html
from logger.reports.write import write
from logger.service import readings_csv
from logger.service.burn_story import BurnStory, burn_story, to_s
from logger.service.core import bench_of
from logger.settings import Settings
from logger.store.queries import known_burn, known_calibrations
from logger.timestamps import rfc3339

_JSON = json.JSONEncoder(ensure_ascii=False, separators=(",", ":"))


class RecordedReadings:
    """Readings in their order, as three columns: 20 bytes each, so that days of them fit."""

    def __init__(
        self,
        names: Sequence[str],
        at_s: "array[float]",
        channel: "array[int]",
        value: "array[float]",
    ) -> None:
        """`channel` numbers the `names`; of one moment, the lower comes first."""
        self._names = names
        self._columns = at_s, channel, value

    def __len__(self) -> int:
        return len(self._columns[0])

    def __iter__(self) -> Iterator[Reading]:
        import numpy as np

        at_s, channel, value = (np.frombuffer(column, column.typecode) for column in self._columns)
        order = np.lexsort((channel, at_s))  # stable: what is equal stays in the order of the file
        for first in range(0, len(order), 10_000):
            some = order[first : first + 10_000]
            taken = (column[some].tolist() for column in (at_s, channel, value))
            for moment_s, number, shown in zip(*taken, strict=True):
                yield Reading(channel=self._names[number], value=shown, at_s=moment_s)

    @property
    def first_s(self) -> float:
        """When the first of them was taken."""
        return min(self._columns[0])


def read_csv(path: Path, channels: Iterable[Channel]) -> RecordedReadings:
    """Readings of `path`, in order of time, then of the configuration, then of the file.

    Raises DataError that names every channel the configuration lacks, or the first wrong row by
    line and column.
    """

    def refuse(exc: DataError) -> NoReturn:
        raise exc

    numbers = {channel.name: number for number, channel in enumerate(channels)}
    at_s, channel, value = array("d"), array("H"), array("d")
    strangers: dict[str, readings_csv.CsvRow] = {}  # the first row of each
    for row in readings_csv.read(path, refuse):
        number = numbers.get(row.reading.channel)
        if number is None:
            strangers.setdefault(row.reading.channel, row)
            continue
        at_s.append(row.reading.at_s)
        channel.append(number)
        value.append(row.reading.value)
    if strangers:
        raise DataError(f"{path}: {readings_csv.unknown(strangers.values(), numbers)}")
    return RecordedReadings([*numbers], at_s, channel, value)


def lines(
    settings: Settings,
    path: Path,
    lit_s: float | None = None,
    out_s: float | None = None,
    record: Path | None = None,
) -> Iterator[str]:
    """What the bench would have said of the readings in `path`, one JSON object a line.

    Where no lighting is given, it is looked for in the readings. With `out_s` a verdict for each
    station ends it, and `record` is written. Each reading is corrected by the calibration in force
    at its time, and a burn lit at `lit_s` starts from what it started from then, as far as the data
    folder holds any. Raises DataError, UsageError.
    """
    if record is not None and out_s is None:
        raise UsageError("--record needs --lit and --out: a record is of a burn that is over")
    # nobody is there to answer, or to look at marks
    bench = replace(bench_of(settings), ask_every_s=None, marks=MarkTimes())
    readings = read_csv(path, bench.channels)
    if not readings:
        raise DataError(f"{path}: no reading below the header")
    calibrations = tuple(known_calibrations(settings.bench.data))
    memory = Memory(calibrations=calibrations)
    entries: list[Lit | Out] = []
    if lit_s is None:
        if out_s is not None:
            raise UsageError("--out needs --lit: without it both are looked for in the readings")
        pipeline = Pipeline(bench, readings.first_s, memory)
        outputs = _fold_and_find(pipeline, bench, readings)
    else:
        pipeline = Pipeline(bench, min(lit_s, readings.first_s), memory)
        entries = _entries(settings, lit_s, out_s)
        outputs = _fold(pipeline, merge(entries, readings, key=stamp_of))
    channels = {channel.name: channel for channel in bench.channels}
    told = _Told(settings, calibrations)
    for output in outputs:
        if out_s is not None:
            told.take(output)
        line = json_line(output, channels)
        if line is not None:
            yield line
    if out_s is not None:
        burns = [told.story(burn, entries) for burn in pipeline.burns]
        for burn in burns:
            yield _verdict_line(burn)
        if record is not None:
            _write_records(burns, record)


def _entries(settings: Settings, lit_s: float, out_s: float | None) -> list[Lit | Out]:
    """A lighting and an extinguishing of every station, at the times given."""
    made: list[Lit | Out] = []
    for station in settings.stations:
        known = known_burn(settings.bench.data, f"{station.name}-{int(lit_s)}")
        lit = _lit(station.name, lit_s, lit_s)
        made.append(replace(lit, expected=known.expected) if known else lit)
    if out_s is not None:
        made += [_out(station.name, out_s, out_s) for station in settings.stations]
    return made


def _lit(station: str, at_s: float, entered_s: float) -> Lit:
    return Lit(at_s=at_s, entered_s=entered_s, id="replay", station=station, trial="replay")


def _out(station: str, at_s: float, entered_s: float) -> Out:
    return Out(at_s=at_s, entered_s=entered_s, id="replay", station=station)


def _fold(pipeline: Pipeline, inputs: Iterable[Input]) -> Iterator[Output]:
    """Everything that `pipeline` says of `inputs`, with the ticks between them."""
    for item in with_ticks(inputs):
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


class _Told:
    """What was said, kept to judge the burns by."""

    def __init__(self, settings: Settings, calibrations: Iterable[Calibrated]) -> None:
        self._settings = settings
        self._calibrations: dict[str, list[Calibration]] = {}
        for entry in calibrations:
            self._calibrations.setdefault(entry.channel, []).append(entry.record)
        self._estimates: dict[str, list[Estimate]] = {}
        self._events: list[Event] = []

    def take(self, output: Output) -> None:
        """Keep one more."""
        match output:
            case Estimate():
                self._estimates.setdefault(output.channel, []).append(output)
            case AlarmEvent() | BurnEvent():
                self._events.append(output)

    def story(self, burn: Burn, entries: Iterable[Lit | Out]) -> BurnStory:
        """All that is known of `burn`."""
        end_s = to_s(burn)
        estimates = {
            channel.name: [
                one
                for one in self._estimates.get(channel.name, ())
                if one.at_s >= burn.lit_s and (end_s is None or one.at_s < end_s)
            ]
            for channel in self._settings.channels
            if channel.station in (burn.station, None)
        }
        return burn_story(
            burn,
            bench_of(self._settings),
            self._settings.text,
            [one for one in self._settings.channels if one.name in estimates],
            estimates,
            events=[one for one in self._events if one.burn == burn.id or self._beside(one, burn)],
            before=[one for one in self._events if one.time_s < burn.lit_s],
            entries=[one for one in entries if one.station == burn.station],
            calibrations=self._calibrations,
        )

    @staticmethod
    def _beside(event: Event, burn: Burn) -> bool:
        """Whether it is of the whole bench while the burn lasted."""
        return event.burn is None and event.time_s >= burn.lit_s


def _verdict_line(story: BurnStory) -> str:
    """The verdict on one burn as a line of JSON."""
    found = judge([story.evidence], story.bench.words)
    return _line(
        {
            "kind": "verdict",
            "time": rfc3339(story.known_s),
            "station": story.burn.station,
            "outcome": found.outcome.value,
            "reasons": [one.reason for one in found.judgements],
            "missing": [gap.text for gap in found.missing if gap.decides],
            "notes": [gap.text for gap in found.missing if not gap.decides],
        }
    )


def _write_records(burns: Sequence[BurnStory], path: Path) -> None:
    """The record of the burn at `path`; of several that were measured, each named by its station.

    Raises WickbenchError where the disk refuses.
    """
    measured = [one for one in burns if one.burn.hottest is not None] or burns[:1]
    for one in measured:
        name = path if len(measured) == 1 else path.with_stem(f"{path.stem}-{one.burn.station}")
        write(name, record_html(one.record([one.burn])))


def _line(message: Mapping[str, object]) -> str:
    return _JSON.encode(message)


def json_line(output: Output, channels: dict[str, Channel]) -> str | None:
    """An output as one line of JSON; None for what replay does not print."""
    match output:
        case Estimate():
            return _line(messages.estimate(output, channels[output.channel]))
        case Forecast():
            return _line(messages.forecast(output))
        case AlarmEvent() | BurnEvent():
            return _line(messages.event(output))
        case _:
            return None
