"""[pure] The candle of a trial in words: vessel, formula, pour, wicking, testers, lots."""

from collections.abc import Iterator
from datetime import UTC, datetime

from logger.decision.trial_facts import TrialFacts
from logger.field_table import FieldForm, FormField, filled
from logger.reports.si_beside import SiBeside
from logger.shelf.sheet import ShelfRecord
from logger.shelf.vessels import clearance

_LEFT_OUT = (FieldForm.REFERENCE, FieldForm.CHECK)  # told by the records named, and by clearance


def candle_facts(facts: TrialFacts) -> Iterator[tuple[str, str]]:
    """Each part with what the shelf has of it; what a price is stays with the maker."""
    words = SiBeside.of(facts.words)
    vessel = facts.vessel
    parts = (
        ("Vessel", [vessel]),
        ("Formula", [facts.formula]),
        ("Pour", facts.pours),
        ("Wicking", [facts.wicking]),
        ("Wick", [facts.wick]),
    )
    for part, found in parts:
        if known := [told(one, words) for one in found if one is not None]:
            yield part, "; ".join(known)
        if part == "Vessel" and vessel is not None:
            yield "Vessel cleared", clearance(vessel).text
    unknown = [part.lower() for part, found in parts if not any(found)]
    if unknown:
        yield "Not on the shelf", ", ".join(unknown)
    testers = "; ".join(told(one, words) for one in facts.testers)
    burned = ", ".join(dict.fromkeys(one.burn.tester for one in facts.burns if one.burn.tester))
    yield "Testers", testers or burned or "no code was given"
    yield "Lots", lots_line(facts) or "none was recorded: the verdict holds for nothing wider"
    if facts.record is not None and facts.record.question:
        yield "Question", facts.record.question


def lots_line(facts: TrialFacts) -> str:
    """Those that were burned."""
    return "; ".join(f"{part} {', '.join(lots)}" for part, lots in facts.lots.items())


def told(record: ShelfRecord, words: SiBeside) -> str:
    """A record in one line."""
    fields = (_field(one, value, words) for one, value in filled(record) if _shown(one))
    return ", ".join((record.name, *fields))


def _shown(one: FormField) -> bool:
    return one.form not in _LEFT_OUT and not one.attribute.endswith("price")


def _field(one: FormField, value: object, words: SiBeside) -> str:
    match one.form:
        case FieldForm.DAY:
            day = datetime.fromtimestamp(float(str(value)), UTC)
            return f"{one.label} {day:%Y-%m-%d}"
        case FieldForm.SHARE:
            return f"{one.label} {value:g} %"
        case _:
            return f"{one.label} {one.said(value, words)}"
