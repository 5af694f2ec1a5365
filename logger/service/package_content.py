"""What of a bench belongs into a data package: all of it, a trial or a burn.

Of a trial or burn: what its record, verdict and estimates rest on, with the instruments of its
stations and of the whole bench, and the records on the shelf that it names; nothing of others.
"""

from collections.abc import Callable, Iterator, Mapping, Sequence
from dataclasses import dataclass, field, replace

from logger.alarms.lifecycle import AlarmEvent
from logger.burn.entries import Calibrated, Change, Photographed
from logger.burn.model import Burn
from logger.burn.span import joined, span_of
from logger.field_table import FieldForm
from logger.intake.shelf_bodies import SHELF
from logger.pipeline import Bench, Event
from logger.quantities import Estimate, Reading, Rule
from logger.service import records
from logger.shelf.versions import ShelfVersion
from logger.store.queries import Reader, StoredEntry
from logger.store.runs import settings_digest

_BEFORE_S = 86_400.0  # faults that may go on: as far back as a record looks
Span = tuple[float, float | None]


@dataclass(frozen=True, slots=True, kw_only=True)
class PackageSettings:
    """Settings in force at burns."""

    text: str
    bench: Bench

    @property
    def digest(self) -> str:
        """What the package calls them."""
        return settings_digest(self.text, self.bench)


@dataclass(frozen=True, slots=True, kw_only=True)
class PackageContent:
    """What belongs into it, but for readings and estimates, which are many."""

    burns: Sequence[Burn]
    settings_of: Mapping[str, PackageSettings]  # by id of the burn
    entries: Sequence[StoredEntry]
    events: Sequence[Event]
    records: Sequence[ShelfVersion]
    spans: Sequence[Span] = ((0.0, None),)
    other_stations: frozenset[str] = field(default_factory=frozenset)
    still_lit: Sequence[Burn] = ()  # left out

    @property
    def photographed(self) -> list[Photographed]:
        """Entries that name a photo."""
        return [one.entry for one in self.entries if isinstance(one.entry, Photographed)]

    @property
    def settings(self) -> dict[str, PackageSettings]:
        """Each once, by its digest."""
        return {one.digest: one for one in self.settings_of.values()}

    def channels(self) -> Callable[[str], bool]:
        """Says of a channel whether its readings and estimates belong into it."""
        others = {
            one.name
            for settings in self.settings.values()
            for one in settings.bench.channels
            if one.station in self.other_stations
        }
        by_hand = tuple(f"{station}-hand-" for station in sorted(self.other_stations))
        return lambda name: name not in others and not name.startswith(by_hand)


def whole_bench(reader: Reader) -> PackageContent:
    """Everything but what belongs to burns that are still lit."""
    burns = reader.burns()
    lit = {burn.id for burn in burns if burn.lit}
    return PackageContent(
        burns=[burn for burn in burns if burn.id not in lit],
        settings_of=_settings_of(reader, [burn for burn in burns if burn.id not in lit]),
        entries=[one for one in reader.entries() if one.burn not in lit],
        events=[one.event for one in reader.events() if one.event.burn not in lit],
        records=[
            version
            for kind in SHELF
            for latest in reader.shelf(kind)
            for version in reader.record_versions(kind, latest.name)
        ],
        still_lit=[burn for burn in burns if burn.lit],
    )


def of_burns(reader: Reader, wanted: Sequence[Burn], cool_down_s: float) -> PackageContent:
    """What concerns these burns."""
    burns = [burn for burn in wanted if not burn.lit]
    settings_of = _settings_of(reader, burns)
    stations = {burn.station for burn in burns}
    content = PackageContent(
        burns=burns,
        settings_of=settings_of,
        entries=(),
        events=_events_of(reader, burns),
        records=_records_of(reader, burns),
        spans=joined([span_of(burn, cool_down_s) for burn in burns]),
        other_stations=frozenset(
            station.name
            for one in settings_of.values()
            for station in one.bench.stations
            if station.name not in stations
        ),
        still_lit=[burn for burn in wanted if burn.lit],
    )
    return replace(content, entries=_entries_of(reader, content))


def burns_for(reader: Reader, trial: str) -> list[Burn]:
    """Those of a trial, withdrawn ones too, and those of a pour that it shares with others.

    Raises NotKnown where there is no such trial.
    """
    known = records.burns_of(reader, trial)
    ids = {one.id for burn in known for one in records.trial_burns(reader, burn)}
    return [one for one in reader.burns() if one.id in ids or one.trial == trial]


def readings(reader: Reader, content: PackageContent) -> Iterator[Reading]:
    """Those that belong to it, in order of arrival within each stretch of time."""
    wanted = content.channels()
    for from_s, to_s in content.spans:
        found = reader.readings(None, from_s, to_s)
        yield from (one for one in found if wanted(one.channel))


def estimates(reader: Reader, content: PackageContent) -> Iterator[Estimate]:
    """As `readings`."""
    wanted = content.channels()
    for from_s, to_s in content.spans:
        found = reader.estimates(None, from_s, to_s)
        yield from (one for one in found if wanted(one.channel))


def _settings_of(reader: Reader, burns: Sequence[Burn]) -> dict[str, PackageSettings]:
    found = {}
    for burn in burns:
        bench, text = records.bench_and_text(reader, burn)
        found[burn.id] = PackageSettings(text=text, bench=bench)
    return found


def _entries_of(reader: Reader, content: PackageContent) -> list[StoredEntry]:
    """What was entered at the burns or moved there, what changed it, and calibrations."""
    ids = {one.id for burn in content.burns for one in reader.by_hand(burn)}
    burns = {burn.id for burn in content.burns}
    last_s = max((burn.out_s or 0.0 for burn in content.burns), default=0.0)
    of_channel = content.channels()
    found = []
    for one in reader.entries():
        entry = one.entry
        wanted = one.burn in burns or entry.id in ids
        if isinstance(entry, Calibrated):
            wanted = entry.entered_s <= last_s and of_channel(entry.channel)
        elif isinstance(entry, Change):
            wanted = wanted or entry.entry in ids
        if wanted:
            ids.add(entry.id)
            found.append(one)
    return found


def _events_of(reader: Reader, burns: Sequence[Burn]) -> list[Event]:
    """Of the burns, of the bench in their time, and of sensors at fault from before."""
    ids = {burn.id for burn in burns}
    times = [(burn.lit_s - _BEFORE_S, span_of(burn, 0.0)[1]) for burn in burns]
    return [
        one.event
        for one in reader.events()
        if one.event.burn in ids
        or (
            (one.event.burn is None or _of_sensor(one.event))
            and any(a <= one.event.time_s and (b is None or one.event.time_s < b) for a, b in times)
        )
    ]


def _of_sensor(event: Event) -> bool:
    return isinstance(event, AlarmEvent) and event.alarm.finding.rule == Rule.SENSOR_FAULT


def _records_of(reader: Reader, burns: Sequence[Burn]) -> list[ShelfVersion]:
    """All versions of what the burns name, and of what that names in turn."""
    waiting = [
        (kind, name)
        for burn in burns
        for kind, name in (
            ("trial", burn.trial),
            ("tester", burn.tester.strip()),
            ("vessel", burn.vessel),
            ("wick", burn.wick),
        )
        if name
    ]
    found: dict[tuple[str, str], list[ShelfVersion]] = {}
    while waiting:
        kind, name = waiting.pop()
        if (kind, name) in found:
            continue
        found[kind, name] = reader.record_versions(kind, name)
        waiting += [
            (one.refers_to, str(version.fields[one.key]))
            for version in found[kind, name]
            for one in SHELF[kind].fields
            if one.form is FieldForm.REFERENCE and one.key in version.fields
        ]
    order = list(SHELF)
    keys = sorted(found, key=lambda key: (order.index(key[0]), key[1]))
    return [version for key in keys for version in found[key]]
