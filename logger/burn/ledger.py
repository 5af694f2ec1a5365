"""What people entered at the burns, by id: as it was first, how it was changed since, and why.

Nothing is overwritten: an entry stays as it was typed, what changes it is an entry of its own, and
all that is computed goes by `now`, the entry as it counts.
"""

from collections.abc import Callable, Iterable
from contextlib import suppress
from dataclasses import dataclass, fields, replace

from logger.burn.entries import (
    Change,
    Corrected,
    Emergency,
    Entry,
    InSight,
    Lit,
    ManualReading,
    Moved,
    Note,
    Observed,
    Out,
    Photographed,
    WeighIn,
    Withdrawn,
)
from logger.burn.entry_words import named
from logger.burn.look import LOOK_FIELDS, Look
from logger.burn.stated import Circumstances, Ending
from logger.conditioning import infrared
from logger.errors import Refused
from logger.field_table import fields_of, filled
from logger.quantities import Place, Position, Unit

SHORTEST_ID = 4  # characters of an id that a person must type; more where they are not unique
SHOWN_ID = 6  # of one that is shown: of a thousand random ids one in 17 shares these with another

CHANGEABLE = (Lit, Out, Note, Observed, Photographed, WeighIn, ManualReading, Emergency, InSight)

_ABOUT = frozenset(f.name for f in fields(Entry)) | {
    "entry",
    "why",
    "new_trial",
    "stated",
    "emptied",
}
_GIVEN = tuple(f.name for f in fields(Corrected) if f.name not in _ABOUT)
_PLACE = ("position", "height_mm", "clock")
_LOOK = {one.attribute: one.label for one in LOOK_FIELDS}
_WORDS = {
    "happened_s": "time",
    "mass_g": "mass",
    "wax_g": "wax",
    "typed_in": "unit",
    "figures": "values",
    "what": "kind of emergency",
    "reflected_c": "reflected",
    "height_mm": "height",
    "emissivity_set": "emissivity set",
    "watched_by": "watcher",
    "tester": "code on the vessel",
} | {one.attribute: one.label for table in (Circumstances, Ending) for one in fields_of(table)}


@dataclass(frozen=True, slots=True, kw_only=True)
class LedgerLine:
    """One entry: as it was made, what changed it since, and what counts."""

    first: Entry
    burn: str | None = None  # that it was entered at
    now: Entry | None  # None: withdrawn
    changes: tuple[Change, ...] = ()


class Ledger:
    """The entries of the burns that are known, in order of entry."""

    def __init__(self, entries: Iterable[tuple[Entry, str | None]] = ()) -> None:
        """`entries` with the burn of each; a change that fits nothing known is left out."""
        self._lines: dict[str, LedgerLine] = {}
        for entry, burn in entries:
            self.take(entry, burn)

    @property
    def lines(self) -> tuple[LedgerLine, ...]:
        """All of them."""
        return tuple(self._lines.values())

    @property
    def readings(self) -> tuple[ManualReading, ...]:
        """Readings by hand, as they count."""
        now = (line.now for line in self._lines.values())
        return tuple(one for one in now if isinstance(one, ManualReading))

    def only(self, belongs: Callable[[LedgerLine], bool]) -> "Ledger":
        """A ledger of those lines that belong."""
        found = Ledger()
        for line in filter(belongs, self.lines):
            found.put(line)
        return found

    def take(self, entry: Entry, burn: str | None) -> None:
        """Take what was entered before, a change included."""
        if isinstance(entry, CHANGEABLE):
            self._lines[entry.id] = LedgerLine(first=entry, burn=burn, now=entry)
        elif isinstance(entry, Change) and entry.entry in self._lines:
            with suppress(Refused):  # of a database where what came before it is damaged
                self.put(self.changed(entry))

    def put(self, line: LedgerLine) -> None:
        """From now on it stands so."""
        self._lines[line.first.id] = line

    def find(self, id: str) -> LedgerLine:
        """The line with this id, or the only one whose id begins so. Raises Refused."""
        if id in self._lines:
            return self._lines[id]
        found = [line for known, line in self._lines.items() if known.startswith(id)]
        if len(id) >= SHORTEST_ID and len(found) == 1:
            return found[0]
        if len(id) >= SHORTEST_ID and found:
            ids = ", ".join(line.first.id for line in found[-3:])
            raise Refused(f"several entries begin with {id}: {ids}. Give more of it")
        latest = ", ".join(self.short_id(known) for known in list(self._lines)[-3:]) or "none"
        raise Refused(f"no entry {id} in the burns of the last month; the last ones are: {latest}")

    def short_id(self, id: str) -> str:
        """As much of the id as a person must type."""
        for length in range(SHOWN_ID, len(id)):
            if sum(known.startswith(id[:length]) for known in self._lines) <= 1:
                return id[:length]
        return id

    def changed(self, change: Change) -> LedgerLine:
        """The line as it is after `change`; nothing is changed yet. Raises Refused."""
        line = self.find(change.entry)
        if line.now is None:
            raise Refused(f"entry {self.short_id(line.first.id)} is withdrawn already")
        match change:
            case Withdrawn():
                now = None
            case Corrected():
                now = _corrected(line.now, change)
            case Moved():
                now = _moved(line.now, change.station)
        return replace(line, now=now, changes=(*line.changes, change))

    def of_burn(self, burn: str, changed: LedgerLine | None = None) -> tuple[Entry, ...]:
        """What counts of what was entered at `burn`, readings left out; `changed` as given."""
        lines = (
            changed if changed and line.first.id == changed.first.id else line
            for line in self._lines.values()
        )
        now = (line.now for line in lines if line.burn == burn)
        return tuple(one for one in now if one and not isinstance(one, ManualReading))

    def latest(self, channel: str) -> ManualReading | None:
        """The reading that was read last at this place; of two at one time the one entered last."""
        here = [one for one in self.readings if one.channel.name == channel]
        return max(reversed(here), key=lambda one: one.at_s, default=None)


def _corrected(entry: Entry, change: Corrected) -> Entry:
    given = {name: value for name in _GIVEN if (value := getattr(change, name)) is not None}
    given |= change.stated
    for name in change.emptied:
        if name in given:
            raise Refused(f"{_WORDS.get(name, name)} cannot be given and emptied at once")
        given[name] = _empty(entry, name)
    if isinstance(entry, Lit | Out):
        may_be = {one.attribute for one in fields_of(type(entry.stated))}
        stated = {name: given.pop(name) for name in may_be & {*given}}
        given["stated"] = replace(entry.stated, **stated)
    if "happened_s" in given:
        given["at_s"] = given.pop("happened_s")
    if isinstance(entry, Observed):
        emptied = tuple(one for one in change.emptied if one in _LOOK)
        given = {name: value for name, value in given.items() if name not in emptied}
        given["look"] = (change.look or Look()).over(entry.look, emptied)
    if isinstance(entry, ManualReading):
        _of_reading(entry, given)
    elif "station" in given:
        raise Refused(
            "only a reading can be moved to another station: withdraw this entry, and record it "
            "there"
        )
    known = {field.name for field in fields(entry)}
    alien = [_WORDS.get(name, name) for name in given if name not in known]
    if alien:
        raise Refused(f"{named(entry)} has no {', '.join(alien)}")
    if isinstance(entry, Lit) and "trial" in given:
        given["new_trial"] = change.new_trial
    after = replace(entry, **given)
    if after == entry:
        raise Refused(f"{named(entry)} says that already: give only what is to change")
    return after


def filled_in(entry: Entry) -> dict[str, str]:
    """What was filled in of `entry` that may be empty as well, in words, by name."""
    parts = (entry, entry.place) if isinstance(entry, ManualReading) else (entry,)
    told: Look | Circumstances | Ending | None = None
    if isinstance(entry, Lit | Out):
        told = entry.stated
    elif isinstance(entry, Observed):
        told = entry.look
    return {one.attribute: one.label for one, _ in (filled(told) if told else ())} | {
        field.name: _WORDS.get(field.name, field.name)
        for part in parts
        for field in fields(part)
        if field.name in _GIVEN and field.default in ("", None)
        if getattr(part, field.name) not in ("", None)
    }


def _empty(entry: Entry, name: str) -> object:
    """What `name` is where nothing was entered. Raises Refused where something must be."""
    on_place = isinstance(entry, ManualReading) and name in _PLACE
    known = {field.name: field.default for field in fields(Place if on_place else entry)}
    if isinstance(entry, Lit | Out):
        known |= {one.attribute: one.empty for one in fields_of(type(entry.stated))}
    if name in known and known[name] not in ("", None):
        raise Refused(f"{named(entry)} must have a {_WORDS.get(name, name)}: withdraw the entry")
    return known.get(name)


def _of_reading(entry: ManualReading, given: dict[str, object]) -> None:
    """The fields of a correction as a reading has them."""
    given_place = {name: given.pop(name) for name in _PLACE if name in given}
    if given_place:
        place = replace(entry.place, **given_place)  # type: ignore[arg-type]  # checked at intake
        if place.position is Position.WALL and place.height_mm is None:
            raise Refused("a wall place needs its height above the base: give it too")
        given["place"] = place
    unit, figures = given.get("typed_in", entry.typed_in), given.pop("figures", None)
    if figures is None:
        figures = tuple(entry.typed_in.outside(value) for value in entry.values)
    assert isinstance(unit, Unit)
    assert isinstance(figures, tuple)
    if unit != entry.typed_in or figures != tuple(map(entry.typed_in.outside, entry.values)):
        given["values"] = values = tuple(unit.inside(figure) for figure in figures)
        if not all(infrared.is_on_scale(value) for value in values):
            raise Refused(f"in {unit.name} that is not a reading of a candle: check the unit")


def _moved(entry: Entry, station: str) -> Entry:
    if not isinstance(entry, ManualReading):
        raise Refused(f"only a reading can be moved, not {named(entry)}")
    if entry.station == station:
        raise Refused(f"reading {entry.id} is at {station} already")
    return replace(entry, station=station)
