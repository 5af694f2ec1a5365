"""The records of burns, joined from what is stored; every function here blocks.

Each burn is told and judged by the bench that it was lit on.
"""

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import replace
from functools import lru_cache
from pathlib import Path

from logger.burn.entries import Entry, ManualReading, Observed, Photographed
from logger.burn.ledger import Ledger
from logger.burn.model import Burn
from logger.clock import RealClock
from logger.conditioning import manual
from logger.conditioning.calibration import Calibration, in_force
from logger.conditioning.uncertainty import assumes_accuracy
from logger.decision.proves import proved_line
from logger.decision.verdict import judge
from logger.errors import DataError, NotKnown, Refused, SettingsError
from logger.intake.entered import Entered
from logger.pipeline import Bench, Event
from logger.quantities import Channel, Estimate
from logger.reports import record_messages
from logger.reports.blocks import Document
from logger.reports.burn_document import burn_document
from logger.reports.burn_history import watchers
from logger.reports.burn_list import burn_filter, wanted_burns
from logger.reports.document import BurnRecord, Photo
from logger.reports.document_html import document_html
from logger.reports.looks import look_messages
from logger.reports.record_messages import BurnMessage, EntryMessage
from logger.reports.unrolled import unrolled
from logger.service.burn_story import BurnStory, burn_story, known_s, latest_s, to_s
from logger.service.core import bench_of
from logger.settings.config_file import parse
from logger.store import photos
from logger.store.opening import FILE_NAME
from logger.store.queries import Reader, open_read

_DAY_S = 86400.0  # a fault announced longer before the burn counts as old (our choice)


def load(reader: Reader, burn_id: str) -> BurnRecord:
    """The record of one burn by its number or id. Raises NotKnown where there is none."""
    stored = story_of(reader, burn_of(reader, burn_id))
    shown, missing = photos_of(reader, stored.burn)
    damage = (*reader.damage.lines, *missing)
    record = stored.record(trial_burns(reader, stored.burn), damage=damage)
    return replace(record, photos=shown)


def photos_of(reader: Reader, burn: Burn) -> tuple[tuple[Photo, ...], list[str]]:
    """The photos of a burn that count, in order of time, and which could not be read."""
    shown: list[Photo] = []
    missing: list[str] = []
    for one in photographed(reader, burn):
        try:
            jpeg = photos.load(reader.path, one.photo)
        except (NotKnown, DataError) as exc:
            missing.append(str(exc))
            continue
        shown.append(Photo(at_s=one.at_s, by=one.by, text=one.text, jpeg=jpeg))
    return tuple(shown), missing


def photographed(reader: Reader, burn: Burn) -> list[Photographed]:
    """The photos of a burn as they count, in order of time."""
    now = (line.now for line in reader.ledger(burn).lines)
    return sorted((o for o in now if isinstance(o, Photographed)), key=lambda one: one.at_s)


def trial_burns(reader: Reader, burn: Burn) -> list[Burn]:
    """The burns of its trial that count, and `burn` itself even where it was withdrawn.

    Of a shared pour also those of its other wicks: its mass goes on from one to the next.
    """
    return of_candles(reader, [burn])


def of_candles(reader: Reader, burns: Sequence[Burn]) -> list[Burn]:
    """`burns`, the others of their trials that count, and those of their shared pours."""
    shared = {burn.candle for burn in burns if burn.shared_pour}
    trials = {burn.trial for burn in burns}
    known = reader.burns() if shared or len(trials) != 1 else reader.burns(*trials)
    ids = {burn.id for burn in burns}
    return [
        one
        for one in known
        if one.id in ids or (not one.withdrawn and (one.trial in trials or one.candle in shared))
    ]


def record_document(data: Path, burn_id: str) -> Document:
    """The record of a burn. Raises NotKnown where there is no such burn."""
    with open_read(data) as reader:
        return burn_document(load(reader, burn_id))


def record_html(data: Path, burn_id: str) -> str:
    """The record of a burn as one page. Raises NotKnown where there is no such burn."""
    return document_html(record_document(data, burn_id))


def wall_svg(data: Path, burn_id: str) -> str:
    """Which parts of the wall were measured, drawn. Raises NotKnown where nothing can be."""
    with open_read(data) as reader:
        stored = story_of(reader, burn_of(reader, burn_id))
    if stored.wall_coverage is None:
        raise NotKnown(f"burn {burn_id}: no place on the wall has a height")
    return unrolled(stored.wall_coverage, stored.bench.words.length_in)


def entered_before(data: Path, entry: Entry) -> Entered:
    """What is stored of an entry that is posted again.

    Raises NotKnown without one, Refused where its id stands for something else: answered as
    before, what is new would be lost without a word.
    """
    with open_read(data) as reader:
        stored = reader.entry(entry.id)
        burn = reader.burn(stored.burn) if stored and stored.burn else None
    if stored is None:
        raise NotKnown(f"there is no entry {entry.id}")
    if _concerns(stored.entry) != _concerns(entry):
        raise Refused(
            f"nothing was recorded: the id {entry.id} stands for another entry "
            f"({stored.text}); send this one with an id of its own"
        )
    number = None if burn is None else burn.number
    return Entered(entry=stored.entry, burn=stored.burn, number=number, text=stored.text, new=False)


def _concerns(entry: Entry) -> tuple[object, ...]:
    """The kind of an entry, and the station or alarm it is of."""
    return type(entry), getattr(entry, "station", ""), getattr(entry, "alarm", "")


def sensed(data: Path, from_s: float, to_s: float | None) -> list[Estimate]:
    """Every estimate of that time, in order of arrival; none where there is not a database yet."""
    if not (data / FILE_NAME).exists():
        return []
    with open_read(data) as reader:
        return list(reader.estimates(None, from_s, to_s))


def entries_of(data: Path, station: str) -> list[EntryMessage]:
    """What was entered at the latest burn of a station, as it was and as it counts."""
    with open_read(data) as reader:
        burn = _latest(reader, station)
        bench, _ = bench_and_text(reader, burn)
        return record_messages.entries(reader.ledger(burn), bench.words)


def latest_burn(data: Path, station: str) -> str:
    """The id of the latest burn at a station. Raises NotKnown."""
    with open_read(data) as reader:
        return _latest(reader, station).id


def _latest(reader: Reader, station: str) -> Burn:
    burns = [one for one in reader.burns() if one.station == station and not one.withdrawn]
    if not burns:
        raise NotKnown(f"no burn is recorded at {station}")
    return burns[-1]


def listed(data: Path, asked: Mapping[str, str]) -> list[Burn]:
    """The burns that are asked for; none where there is not a database yet."""
    looked_for = burn_filter(asked, RealClock().now_s())
    if not (data / FILE_NAME).exists():
        return []
    with open_read(data) as reader:
        return wanted_burns(reader.burns(), looked_for)


def trial_names(data: Path) -> list[str]:
    """Of all trials so far; none where there is not a database yet."""
    if not (data / FILE_NAME).exists():
        return []
    with open_read(data) as reader:
        return [trial.name for trial in reader.trials()]


def burn_message(data: Path, burn_id: str) -> BurnMessage:
    """A stored burn and its verdict as JSON. Raises NotKnown where there is no such burn."""
    with open_read(data) as reader:
        burn = burn_of(reader, burn_id)
        stored = story_of(reader, burn)
        of_trial = trial_burns(reader, burn)
        entered = record_messages.entries(reader.ledger(burn), stored.bench.words)
    return record_messages.burn_message(
        burn,
        until_s=stored.until_s,
        watched_by=watchers(burn, stored.entries),
        entered=entered,
        consumption=stored.consumption(of_trial),
        limits=stored.limits,
        looks=look_messages(stored.looks, stored.marks, burn.lit_s, stored.bench.words),
        marks=stored.marks,
        pool=stored.melt_pool,
        proofs=stored.proofs(of_trial),
        coverage=stored.wall_coverage,
        words=stored.bench.words,
        places=stored.heat,
        judged=judge([stored.evidence], stored.bench.words),
    )


def proved(data: Path, burn_id: str) -> str:
    """What a burn still proves, in one line. Raises NotKnown where there is no such burn."""
    with open_read(data) as reader:
        burn = burn_of(reader, burn_id)
        return proved_line(story_of(reader, burn).proofs(trial_burns(reader, burn)))


def bench_and_text(reader: Reader, burn: Burn) -> tuple[Bench, str]:
    """The bench it was lit on, and the settings as they stood.

    Raises DataError where they are not stored, or damaged.
    """
    found = reader.burn_settings(burn.id)
    if found is None:
        raise DataError(f"burn {burn.short_id}: the settings it was burned with are not stored")
    return found.bench or _bench_of_text(found.text), found.text


@lru_cache(maxsize=8)
def _bench_of_text(text: str) -> Bench:
    """Of a burn lit when the text alone was kept (schema 2), as far as it is still understood."""
    try:
        return bench_of(parse(text, Path("stored settings")))
    except SettingsError as exc:
        raise DataError(
            f"table settings: this program does not understand a text of before ({exc.problems[0]})"
        ) from exc


def story_of(reader: Reader, burn: Burn) -> BurnStory:
    """All that is stored of `burn`. Raises DataError where its settings are not."""
    bench, settings_text = bench_and_text(reader, burn)
    read_here = reader.by_hand(burn)  # as they count: some may have been typed elsewhere
    entered = [stored.entry for stored in reader.entries(burn.id)]
    entries = (*(entry for entry in entered if not isinstance(entry, ManualReading)), *read_here)
    channels = channels_at(bench, burn)
    calibrations = calibrations_of(reader, burn.out_s)
    estimates = {
        **{one.name: _estimates(reader, one, burn, calibrations) for one in channels},
        **estimates_by_hand(read_here, burn),
    }
    channels.extend({one.channel.name: one.channel for one in read_here}.values())
    end_s = known_s(burn, latest_s(estimates))
    return burn_story(
        burn,
        bench,
        settings_text,
        channels,
        estimates,
        events=events_of(reader, burn, end_s),
        before=events_before(reader, burn),
        entries=entries,
        calibrations=calibrations,
        looks=looks_at(entered, burn),
    )


def looks_at(entered: Iterable[Entry], burn: Burn) -> list[Observed]:
    """Looks at the candle as they count."""
    now = (line.now for line in Ledger((entry, burn.id) for entry in entered).lines)
    return [one for one in now if isinstance(one, Observed)]


def channels_at(bench: Bench, burn: Burn) -> list[Channel]:
    """Those that an instrument read at its station, and those of the whole bench."""
    return [one for one in bench.channels if one.station in (burn.station, None)]


def calibrations_of(reader: Reader, until_s: float | None) -> dict[str, list[Calibration]]:
    """Those that the estimates up to `until_s`, or so far, can have been corrected by."""
    found: dict[str, list[Calibration]] = {}
    for entry in reader.calibrations():
        if until_s is None or entry.entered_s <= until_s:
            found.setdefault(entry.channel, []).append(entry.record)
    return found


def _estimates(
    reader: Reader,
    channel: Channel,
    burn: Burn,
    calibrations: Mapping[str, Sequence[Calibration]],
) -> list[Estimate]:
    """Of the channel in order of time, with the mark that its accuracy is assumed.

    That is not stored: it follows from channel and calibrations.
    """
    compared = calibrations.get(channel.name, ())
    unstated = assumes_accuracy(channel, None)

    def assumed(at_s: float) -> bool:
        if not (unstated and compared):
            return unstated
        return assumes_accuracy(channel, in_force(compared, at_s))

    return list(reader.estimates(channel.name, burn.lit_s, to_s(burn), assumed=assumed))


def estimates_by_hand(readings: Sequence[ManualReading], burn: Burn) -> dict[str, list[Estimate]]:
    """Computed again from what was typed: the stored ones do not know what was moved since."""
    end_s = to_s(burn)
    found: dict[str, list[Estimate]] = {one.channel.name: [] for one in readings}
    for one in sorted(readings, key=lambda reading: reading.at_s):
        if end_s is None or one.at_s < end_s:
            found[one.channel.name].append(
                manual.estimate(one.channel, one.values, one.at_s, one.reflected_c)
            )
    return found


def events_of(reader: Reader, burn: Burn, known_s: float) -> tuple[Event, ...]:
    """Of the burn, and of the whole bench (room, broker, disk) while it lasted."""
    of_burn = reader.events(burn.id, from_s=burn.lit_s)
    in_its_time = reader.events(from_s=burn.lit_s, to_s=known_s + 1e-6)
    of_bench = (one for one in in_its_time if one.event.burn is None)
    return tuple(one.event for one in sorted((*of_burn, *of_bench), key=lambda one: one.seq))


def events_before(reader: Reader, burn: Burn) -> list[Event]:
    """Of the bench, from before it was lit: what of it may go on."""
    found = reader.events(from_s=burn.lit_s - _DAY_S, to_s=burn.lit_s)
    return [one.event for one in found]


def burn_of(reader: Reader, burn_id: str) -> Burn:
    """The burn with this number or id. Raises NotKnown where there is none."""
    burn = reader.burn(burn_id)
    if burn is None:
        known = ", ".join(one.short_id for one in reader.burns()[-5:]) or "none"
        raise NotKnown(f"there is no burn {burn_id}; the latest are: {known}")
    return burn


def burns_of(reader: Reader, trial: str) -> list[Burn]:
    """Those of a trial, by time of lighting. Raises NotKnown where there is no such trial."""
    burns = [burn for burn in reader.burns(trial) if not burn.withdrawn]
    if reader.damage.lines:
        raise DataError(
            f"{trial}: {reader.damage}. Without it there is no verdict on the trial: put a backup "
            "in place"
        )
    if not burns:
        known = ", ".join(one.name for one in reader.trials()[-5:]) or "none"
        raise NotKnown(f"there is no trial {trial}; the latest are: {known}")
    return burns
