"""[pure] What was entered at a burn, as its page lists it: the latest first, with its changes."""

from collections.abc import Sequence
from dataclasses import dataclass

from logger.burn.entries import (
    Change,
    Emergency,
    Entry,
    InSight,
    Lit,
    ManualReading,
    Note,
    Observed,
    Out,
    Photographed,
    WeighIn,
)
from logger.burn.entry_words import contents, counting
from logger.burn.ledger import LedgerLine, filled_in
from logger.burn.look import AFTER_OUT
from logger.field_table import filled
from logger.intake.correction_bodies import CLEARABLE
from logger.web.bench_service import BenchService
from logger.web.look_form import FieldGroup, look_form
from logger.words import Words

_FORMS: dict[type[Entry], str] = {
    Lit: "lit",
    Out: "out",
    Note: "note",
    Observed: "look",
    Photographed: "photo",
    WeighIn: "weigh-in",
    ManualReading: "reading",
    Emergency: "emergency",
    InSight: "in-sight",
}


@dataclass(frozen=True, slots=True, kw_only=True)
class EntryView:
    """One entry on the page."""

    line: LedgerLine
    id: str  # as short as it may be typed
    first: str
    now: str | None  # None: withdrawn, or as it was first
    form: str  # which fields can be corrected
    groups: tuple[FieldGroup, ...] = ()  # of a look

    @property
    def counts(self) -> Entry | None:
        """The entry as it counts."""
        return self.line.now

    @property
    def clearable(self) -> list[tuple[str, str]]:
        """Fields that can be left empty: name and words."""
        filled = {} if self.counts is None else filled_in(self.counts)
        return [(name, filled[core]) for name, core in CLEARABLE.items() if core in filled]

    @property
    def changes(self) -> tuple[Change, ...]:
        """What changed it, in order."""
        return self.line.changes

    @property
    def version(self) -> str:
        """Changes with anything that is shown."""
        return f"{self.line.first.id} {len(self.line.changes)}"

    @property
    def photo(self) -> str:
        """Name of the photo that counts; empty for any other entry."""
        return self.counts.photo if isinstance(self.counts, Photographed) else ""

    @property
    def unit(self) -> str:
        """That a reading's values are in."""
        return self.counts.typed_in.name if isinstance(self.counts, ManualReading) else ""


def entries(
    bench: BenchService, lines: Sequence[LedgerLine], words: Words, *, most: int | None = None
) -> list[EntryView]:
    """What was entered at a burn, the latest first by its own time."""
    return [
        EntryView(
            line=line,
            id=bench.short_id(line.first.id),
            first=contents(line.first, words),
            now=None
            if line.now is None or line.now == line.first
            else counting(line.first, line.now, words),
            form=_FORMS[type(line.first)],
            groups=_groups(line.now, words),
        )
        for line in sorted(reversed(lines), key=_at_s, reverse=True)[:most]
    ]


def _at_s(line: LedgerLine) -> float:
    """When it was, as it counts; when it was said to be, if it counts no more."""
    return (line.now or line.first).at_s


def _groups(entry: Entry | None, words: Words) -> tuple[FieldGroup, ...]:
    """The fields of a look that may be corrected, each with what it says."""
    if not isinstance(entry, Observed):
        return ()
    lit = not any(field.attribute in AFTER_OUT for field, _ in filled(entry.look))
    return look_form([entry], words, lit=lit, now_s=None)
