"""What of a data package is not in a data folder yet, and what contradicts what is there.

What is there already, the same as in the package, is passed over. What is there and says something
else is a fault, since nobody could tell afterwards whose it is.
"""

from bisect import bisect_right
from collections.abc import Callable, Iterable, Iterator, Mapping
from dataclasses import dataclass, field, replace
from typing import Generic, TypeVar

from logger.burn.entries import Calibrated
from logger.burn.model import Burn
from logger.quantities import Estimate, Reading
from logger.service.package_reading import ReadPackage
from logger.shelf.versions import ShelfVersion
from logger.store.package_rows import PackageRows
from logger.store.queries import Reader, StoredEntry
from logger.timestamps import rfc3339

_GAP_S = 600.0  # rows of a channel that lie further apart are of two stretches (our choice)
_SLACK_S = 1.0  # that the clock of another machine may be ahead (our choice)

Row = TypeVar("Row", Reading, Estimate)
Times = dict[str, tuple[float, float]]
"""Earliest and latest of each channel."""


class Stored(Generic[Row]):
    """Rows of one channel that are there, and the stretches of time that they fill."""

    def __init__(self, rows: Iterable[Row]) -> None:
        self._rows: set[Row] = set(rows)
        self._begins: list[float] = []
        self._ends: list[float] = []
        for at_s in sorted(one.at_s for one in self._rows):
            if not self._ends or at_s - self._ends[-1] > _GAP_S:
                self._begins.append(at_s)
                self._ends.append(at_s)
            self._ends[-1] = at_s

    def __contains__(self, row: Row) -> bool:
        return row in self._rows

    def fills(self, at_s: float) -> bool:
        """Whether a row of that time would lie among those that are there."""
        index = bisect_right(self._begins, at_s) - 1
        return index >= 0 and at_s <= self._ends[index]


@dataclass(slots=True, kw_only=True)
class Held:
    """What a data folder holds that a package could meet; empty: there is none yet."""

    now_s: float
    burns: dict[str, Burn] = field(default_factory=dict)
    entries: dict[str, StoredEntry] = field(default_factory=dict)
    events: frozenset[object] = frozenset()
    records: dict[tuple[str, str], list[ShelfVersion]] = field(default_factory=dict)
    readings: dict[str, Stored[Reading]] = field(default_factory=dict)
    estimates: dict[str, Stored[Estimate]] = field(default_factory=dict)
    channels: frozenset[str] = frozenset()
    watched: bool = False  # it was recorded here, not only brought in
    imports: dict[str, str] = field(default_factory=dict)  # file, and when, by digest

    @classmethod
    def of(cls, reader: Reader, package: ReadPackage, now_s: float) -> "Held":
        """Of the folder that `reader` reads, at `now_s` by the clock of this machine."""
        channels = frozenset(reader.channels())
        names = {(one.kind, one.name) for one in package.records}
        return cls(
            now_s=max(now_s, reader.latest_s()),
            burns={one.id: one for one in reader.burns()},
            entries={one.entry.id: one for one in reader.entries()},
            events=frozenset((one.event.id, one.event.time_s) for one in reader.events()),
            records={key: list(reader.record_versions(*key)) for key in names},
            readings=_stored(reader.readings, package.readings(), channels),
            estimates=_stored(reader.estimates, package.estimates(), channels),
            channels=channels,
            watched=any(run.watching for run in reader.runs()),
            imports={
                one.sha256: f"{one.file} at {rfc3339(one.at_s, digits=0)}"
                for one in reader.imports()
            },
        )


def _stored(
    read: Callable[[str, float, float], Iterable[Row]],
    brought: Iterable[Row],
    channels: frozenset[str],
) -> dict[str, Stored[Row]]:
    times: Times = {}
    for one in brought:
        if one.channel in channels:
            low_s, high_s = times.get(one.channel, (one.at_s, one.at_s))
            times[one.channel] = min(low_s, one.at_s), max(high_s, one.at_s)
    return {
        channel: Stored(read(channel, low_s - _GAP_S, high_s + _GAP_S))
        for channel, (low_s, high_s) in times.items()
    }


def news(held: Held, package: ReadPackage) -> tuple[PackageRows, list[str]]:
    """What is not there yet, and in words all that contradicts what is."""
    faults: list[str] = []
    entries = list(_new_entries(held, package, faults))
    found = PackageRows(
        burns=[
            (burn, package.settings[digest].text, package.settings[digest].bench)
            for burn, digest in _new_burns(held, package, faults)
        ],
        trials=_first_named(package),
        entries=entries,
        events=[one for one in package.events if (one.id, one.time_s) not in held.events],
        records=[one for key in _names(package) for one in _versions(held, package, key, faults)],
        readings=_NewRows(package.readings, held.readings),
        estimates=_NewRows(package.estimates, held.estimates),
    )
    _check_rows(package.readings(), held.readings, held.now_s, faults)
    _check_rows(package.estimates(), held.estimates, held.now_s, faults)
    _check_calibrations(held, package, entries, faults)
    return found, faults


def _new_entries(held: Held, package: ReadPackage, faults: list[str]) -> Iterator[StoredEntry]:
    for one in package.entries:
        there = held.entries.get(one.entry.id)
        if there is None:
            yield one
        elif there.entry != one.entry:
            faults.append(f"entry {one.entry.id} is there already and says something else")


def _new_burns(held: Held, package: ReadPackage, faults: list[str]) -> Iterator[tuple[Burn, str]]:
    """Burns that are new, or that more was entered at since; each with a number of this bench."""
    numbers = {one.number for one in held.burns.values()}
    for burn, digest in sorted(package.burns, key=lambda one: one[0].lit_s):
        there = held.burns.get(burn.id)
        if burn.out_s is None or burn.out_s > held.now_s + _SLACK_S:
            faults.append(f"burn {burn.id} was still lit: export it again once it is out")
        elif there is None:
            number = burn.number
            if number is None or number in numbers:
                number = max((one or 0 for one in numbers), default=0) + 1
            numbers.add(number)
            if not burn.withdrawn:
                faults += _overlapping(held, burn, burn.out_s)
            # long ago: no wall of today tells of it
            yield replace(burn, number=number, cooled=True), digest
        elif _core(there) != _core(burn):
            here, brought = _ids(held.entries.values(), burn), _ids(package.entries, burn)
            if here < brought:
                yield replace(burn, number=there.number, cooled=True), digest
            elif not brought < here:  # else it is the older of the two
                faults.append(
                    f"burn {there.short_id} ({burn.id}) is there already and was changed on both "
                    "sides since: import into a folder of its own"
                )


def _core(burn: Burn) -> Burn:
    """What of a burn is the same wherever it is kept."""
    return replace(burn, number=None, cooled=True)


def _ids(entries: Iterable[StoredEntry], burn: Burn) -> set[str]:
    return {one.entry.id for one in entries if one.burn == burn.id}


def _overlapping(held: Held, burn: Burn, out_s: float) -> Iterator[str]:
    for other in held.burns.values():
        if (
            other.station == burn.station
            and not other.withdrawn
            and other.lit_s < out_s
            and (other.out_s is None or burn.lit_s < other.out_s)
        ):
            yield (
                f"burn {burn.id}: {burn.station} was burning here at that time, as burn "
                f"{other.short_id} of {other.trial}: import into a folder of its own"
            )


def _names(package: ReadPackage) -> list[tuple[str, str]]:
    return list(dict.fromkeys((one.kind, one.name) for one in package.records))


def _first_named(package: ReadPackage) -> dict[str, float]:
    found: dict[str, float] = {}
    for one in package.records:
        if one.kind == "trial":
            found.setdefault(one.name, one.at_s)
    return found


def _versions(
    held: Held, package: ReadPackage, key: tuple[str, str], faults: list[str]
) -> list[ShelfVersion]:
    """Versions of a record that are new: one side must go on where the other ends."""
    brought = [one for one in package.records if (one.kind, one.name) == key]
    here = held.records.get(key, [])
    both = min(len(here), len(brought))
    if here[:both] != brought[:both]:
        faults.append(
            f"{key[0]} {key[1]} is on the shelf already and says something else: import into a "
            "folder of its own"
        )
    return brought[both:]


class _NewRows(Generic[Row]):
    """Rows of the package that are not there yet; may be gone through more than once."""

    def __init__(self, rows: Callable[[], Iterator[Row]], held: Mapping[str, Stored[Row]]) -> None:
        self._rows: Callable[[], Iterator[Row]] = rows
        self._held: Mapping[str, Stored[Row]] = held

    def __iter__(self) -> Iterator[Row]:
        return (
            one
            for one in self._rows()
            if one.channel not in self._held or one not in self._held[one.channel]
        )


def _check_rows(
    rows: Iterable[Row], held: Mapping[str, Stored[Row]], now_s: float, faults: list[str]
) -> None:
    told: set[str] = set()
    for one in rows:
        there = held.get(one.channel)
        if one.channel in told:
            continue
        if one.at_s > now_s + _SLACK_S:
            what = "is in the future"
        elif there is not None and one not in there and there.fills(one.at_s):
            what = "lies among others of this channel that are there: import into another folder"
        else:
            continue
        told.add(one.channel)
        faults.append(f"{one.channel} of {rfc3339(one.at_s)} {what}")


def _check_calibrations(
    held: Held, package: ReadPackage, new: Iterable[StoredEntry], faults: list[str]
) -> None:
    """A calibration belongs to its channel's name: it must not correct what others measured."""
    for stored in new:
        entry = stored.entry
        if isinstance(entry, Calibrated) and held.watched and entry.channel in held.channels:
            faults.append(
                f"its calibration of {entry.channel} of {rfc3339(entry.at_s, digits=0)} would "
                "correct what this bench measures itself: import into a folder of its own"
            )
    brought = {one.entry.id for one in package.entries}
    last_s = max((burn.out_s or 0.0 for burn, _ in package.burns), default=0.0)
    channels = {channel.name for one in package.settings.values() for channel in one.bench.channels}
    for stored in held.entries.values():
        entry = stored.entry
        if (
            isinstance(entry, Calibrated)
            and entry.id not in brought
            and entry.channel in channels
            and entry.entered_s <= last_s
        ):
            faults.append(
                f"this bench has a calibration of its own of {entry.channel}, which would correct "
                "what the package holds: import into a folder of its own"
            )
