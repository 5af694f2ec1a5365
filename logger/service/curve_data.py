"""What the charts of the pages are made of, read from the store; every function here blocks."""

import math
from collections.abc import Collection, Sequence
from dataclasses import replace
from pathlib import Path

from logger.burn.entries import Photographed
from logger.burn.model import Burn, BurnEvent, BurnEventKind
from logger.burn.places import Places
from logger.errors import DataError, NotKnown
from logger.pipeline import FOLD_BACK_S, Bench
from logger.quantities import Channel, Position
from logger.reports import curve_messages, curve_places
from logger.reports.burn_history import diary, stories
from logger.reports.curve import Curve
from logger.reports.curve_happened import CurveMark, curve_marks
from logger.reports.curve_messages import CurveMessage
from logger.reports.curve_places import Pen
from logger.reports.curve_series import (
    CurveSeriesMessage,
    CurveSubject,
    SingleReading,
    SingleReadingsMessage,
    Span,
    figures,
    single_readings,
)
from logger.reports.document import with_letters
from logger.reports.looks import look_lines
from logger.reports.place_line import PlaceLine
from logger.service import records
from logger.service.burn_curve import curve_of
from logger.service.burn_story import marks_of
from logger.store.buckets import Spans
from logger.store.queries import Reader, open_read
from logger.words import Words

MOST_BURNS = 12  # on one chart: nobody tells more lines apart (our choice)
SINGLE_S = 300.0  # of a chart this short the readings are shown one by one (our choice)


def curve_message(data: Path, subject: CurveSubject, bench: Bench, now_s: float) -> CurveMessage:
    """All of a chart but its series. Raises NotKnown for what is not there, DataError."""
    with open_read(data) as reader:
        if subject.station:
            return _station(reader, subject.station, bench, now_s)
        burns = burns_of(reader, subject)
        if len(burns) == 1 and not subject.trials:
            return _burn(reader, burns[0], now_s)
        return _burns(reader, burns, bench.words)


def curve_series(
    data: Path,
    subject: CurveSubject,
    bench: Bench,
    *,
    channels: Collection[str],
    span_s: Span,
    points: int,
) -> CurveSeriesMessage:
    """The places of a burn or a station, or those of `channels`, over `span_s`."""
    with open_read(data) as reader:
        known = _channels(reader, subject, bench)
        names = [one.name for one in known if not channels or one.name in channels]
        every_s = max(1.0, *(math.ceil(one.averaging.every_s) for one in known))
        (from_s, to_s), drawn_at = span_s, 0.5
        if to_s - from_s <= points * every_s:  # a bucket holds one estimate
            from_s, to_s = from_s // every_s * every_s, -(-to_s // every_s) * every_s
            drawn_at = 0.0
        spans = Spans.of(from_s, to_s, points, every_s)
        found = reader.several(names, spans)
    first_s = spans.from_s + drawn_at * spans.width_s
    return {
        "bucket_s": spans.width_s,
        "times_s": [round(first_s + number * spans.width_s, 3) for number in range(spans.count)],
        "series": [
            {
                "channel": name,
                "min": figures(one.low for one in buckets),
                "max": figures(one.high for one in buckets),
                "expanded": figures((one.standard_uncertainty for one in buckets), 2.0),
                "doubtful": [number for number, one in enumerate(buckets) if one.doubtful],
            }
            for name, buckets in found.items()
        ],
    }


def readings_one_by_one(
    data: Path,
    subject: CurveSubject,
    bench: Bench,
    *,
    channels: Collection[str],
    span_s: Span,
) -> SingleReadingsMessage:
    """Readings as the running estimates took them, which are folded anew from a while before.

    Raises DataError where they are too many to be shown one by one.
    """
    from_s, to_s = span_s
    if to_s - from_s > SINGLE_S:
        raise DataError(f"readings are shown one by one over {SINGLE_S:.0f} s at most")
    with open_read(data) as reader:
        if not subject.station:
            burn = records.burn_of(reader, _one(subject))
            bench, _ = records.bench_and_text(reader, burn)
        asked = [one.name for one in bench.channels if one.name in channels]
        places = Places(_needed(bench, asked), reader.calibrations())
        found: dict[str, list[SingleReading]] = {name: [] for name in asked}
        for reading in reader.readings(None, from_s - FOLD_BACK_S, to_s):
            if reading.channel not in places.channels:
                continue
            places.add(reading)
            latest = places.latest_reading(reading.channel)
            if latest is not None and reading.channel in found and reading.at_s >= from_s:
                one = SingleReading(at_s=reading.at_s, value=latest[0], used=latest[1])
                found[reading.channel].append(one)
    return single_readings(found)


def _needed(bench: Bench, asked: Collection[str]) -> list[Channel]:
    """The channels `asked` for, and those that correct them or tell what is too cold for them."""
    reflected = {one.reflected for one in bench.channels if one.name in asked}
    return [
        one
        for one in bench.channels
        if one.name in asked or one.name in reflected or one.place.position is Position.ROOM
    ]


def _channels(reader: Reader, subject: CurveSubject, bench: Bench) -> list[Channel]:
    """The temperature channels of a burn's station, or of a station."""
    if subject.station:
        mine = [one for one in bench.channels if one.station in (subject.station, None)]
    else:
        burn = records.burn_of(reader, _one(subject))
        mine = records.channels_at(records.bench_and_text(reader, burn)[0], burn)
    return [channel for _, channel in with_letters(mine)]


def _one(subject: CurveSubject) -> str:
    if len(subject.burns) != 1:
        raise DataError("burn: name one, or a station")
    return subject.burns[0]


def burns_of(reader: Reader, subject: CurveSubject) -> list[Burn]:
    """Those that are asked for, each once. Raises NotKnown, DataError where there are too many."""
    found = [records.burn_of(reader, burn) for burn in subject.burns]
    for trial in subject.trials:
        found += records.burns_of(reader, trial)
    burns = list({one.id: one for one in found}.values())
    if not burns:
        raise DataError("name a burn, a trial or a station: ?burn=12, ?trial=cedar-6, ?station=")
    if len(burns) > MOST_BURNS:
        raise DataError(
            f"{len(burns)} burns are too many for one chart: name {MOST_BURNS} at most, by ?burn="
        )
    return burns


def _burn(reader: Reader, burn: Burn, now_s: float) -> CurveMessage:
    curve = curve_of(reader, burn)
    marks = _marks(reader, burn, curve.to_s, curve.words)
    now = now_s if burn.lit else None
    return curve_messages.of_burn(curve, marks, burn=burn.id, now_s=now)


def _marks(reader: Reader, burn: Burn, known_s: float, words: Words) -> list[CurveMark]:
    """Alarms, looks, photos, and what else people entered."""
    bench, _ = records.bench_and_text(reader, burn)
    events = records.events_of(reader, burn, known_s)
    entered = [stored.entry for stored in reader.entries(burn.id)]
    looks = sorted(records.looks_at(entered, burn), key=lambda one: one.at_s)
    planned = marks_of(burn, bench, looks, known_s)
    photos = [_photo(one) for one in records.photographed(reader, burn)]
    others = [
        one
        for one in events
        if isinstance(one, BurnEvent) and one.event is not BurnEventKind.PHOTOGRAPHED
    ]
    return curve_marks(
        stories(events),
        look_lines(looks, planned, lit_s=burn.lit_s, words=words),
        diary(others, reader.by_hand(burn), words),
        photos,
        lit_s=burn.lit_s,
    )


def _photo(one: Photographed) -> CurveMark:
    text = f"photo: {one.text}" if one.text else "photo"
    return CurveMark(at_s=one.at_s, kind="photo", text=text, page=f"/photos/{one.photo}")


def _burns(reader: Reader, burns: Sequence[Burn], words: Words) -> CurveMessage:
    """The hottest measured place of each, over time since lighting."""
    found: list[tuple[Curve, Pen, str]] = []
    for number, burn in enumerate(burns):
        if burn.hottest is None:
            continue  # nothing was measured
        curve = curve_of(reader, burn, only=burn.hottest.channel)
        for letter, line in zip(_letters(len(burns))[number:], curve.lines, strict=False):
            pen = curve_places.pen(number, replace(line, letter=letter), hottest=False)
            named = f"burn {burn.short_id}, {burn.trial}"
            named += f", tester {burn.tester}" if burn.tester else ""
            found.append((curve, replace(pen, label=f"{named}: {pen.label}"), burn.id))
    return curve_messages.of_burns(found, words)


def _letters(count: int) -> str:
    return "ABCDEFGHIJKLMNOPQRSTUVWXYZ"[:count]


def _station(reader: Reader, station: str, bench: Bench, now_s: float) -> CurveMessage:
    """All that its channels measured, with its burns as marks."""
    if all(one.name != station for one in bench.stations):
        raise NotKnown(f"the bench has no station {station}")
    burns = [one for one in reader.burns() if one.station == station and not one.withdrawn]
    mine = [one for one in bench.channels if one.station in (station, None)]
    lines = [PlaceLine.of_estimates(letter, one, ()) for letter, one in with_letters(mine)]
    pens = [curve_places.pen(n, line, hottest=False) for n, line in enumerate(lines)]
    begun = [run.started_s for run in reader.runs()][:1]
    marks = [
        CurveMark(
            at_s=one.lit_s,
            to_s=one.out_s,
            kind="burn",
            text=f"burn {one.short_id} of {one.trial}",
            page=f"/burns/{one.short_id}/curve",
        )
        for one in burns
    ]
    return curve_messages.of_station(
        list(zip(pens, lines, strict=True)),
        marks,
        span_s=(min([*begun, *(one.lit_s for one in burns), now_s - 1.0]), now_s),
        words=bench.words,
    )
