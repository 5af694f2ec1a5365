"""Entries in the words of a person: what one is called, what it says, how two differ."""

from collections.abc import Iterator
from dataclasses import fields

from logger.burn.entries import (
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
from logger.burn.look import Look, look_words
from logger.burn.stated import Stated
from logger.field_table import fields_of
from logger.field_table import said as stated_words
from logger.words import Words, duration

_NAMES: dict[type[Entry], str] = {
    Lit: "the lighting",
    Out: "the extinguishing",
    Note: "the note",
    Observed: "the look",
    Photographed: "the photo",
    WeighIn: "the weighing",
    ManualReading: "the reading",
    Emergency: "the emergency",
    InSight: "the in-sight entry",
}

_FIELDS = {
    "trial": "trial",
    "tester": "code on the vessel",
    "watched_by": "watched by",
    "vessel": "vessel",
    "wick": "wick",
    "material": "material",
    "reason": "reason",
    "place": "place",
    "station": "station",
    "emissivity": "emissivity",
    "emissivity_set": "emissivity set",
    "text": "text",
}


def named(entry: Entry) -> str:
    """What an entry of this kind is called."""
    return _NAMES.get(type(entry), "an entry")


def contents(entry: Entry, words: Words) -> str:
    """What it says, in a few words; its time and who entered it left out."""
    match entry:
        case Lit():
            parts = [f"lit, a burn of {entry.trial}", entry.tester]
            parts.append(f"watched by {entry.watched_by}" if entry.watched_by else "")
            parts += [
                f"{what} {words.mass(mass_g)}"
                for what, mass_g in (("weighed", entry.mass_g), ("wax", entry.wax_g))
                if mass_g is not None
            ]
            return ", ".join(part for part in (*parts, *stated_words(entry.stated, words)) if part)
        case Out():
            return ", ".join(filter(None, ("out", entry.stated.words)))
        case Note():
            return f"note: {entry.text}"
        case Observed():
            return "; ".join(filter(None, (look_words(entry.look, words), entry.text)))
        case Photographed():
            return f"photo: {entry.text}" if entry.text else "photo"
        case WeighIn():
            wax = "" if entry.wax_g is None else f", wax {words.mass(entry.wax_g)}"
            return f"weighed {words.mass(entry.mass_g)}{wax}"
        case ManualReading():
            return read_by_hand(entry)
        case Emergency():
            return f"EMERGENCY: {entry.what.words} {entry.text}".rstrip()
        case InSight():
            return f"in sight of {entry.by or 'a person'}"
        case _:
            return named(entry)


def counting(first: Entry, now: Entry, words: Words) -> str:
    """What an entry says as it counts, and where, if that is elsewhere than it was typed."""
    moved = getattr(now, "station", "") != getattr(first, "station", "")
    return contents(now, words) + (f", of {getattr(now, 'station', '')}" if moved else "")


def read_by_hand(entry: ManualReading) -> str:
    """Place and values, both in the units of its bench."""
    return f"read by hand, {entry.place}: {figures(entry)}"


def figures(entry: ManualReading) -> str:
    """Its values as they were typed, with the unit."""
    values = ", ".join(f"{entry.typed_in.outside(value):.1f}" for value in entry.values)
    return f"{values} {entry.typed_in.symbol}"


def difference(before: Entry, now: Entry, words: Words) -> str:
    """What `now` says otherwise than `before`, both of one kind: new first, then the earlier."""
    said: list[str] = []
    for name in (field.name for field in fields(before)):
        old, new = getattr(before, name), getattr(now, name)
        if old == new:
            continue
        match name:
            case "at_s":
                way = "earlier" if new < old else "later"
                said.append(f"{duration(abs(new - old))} {way}")
            case "mass_g" | "wax_g":
                what = "weighed" if name == "mass_g" else "wax"
                was = "nothing" if old is None else words.mass(old)
                now_is = "nothing" if new is None else words.mass(new)
                said.append(f"{what} {now_is}, not {was}")
            case "values" if isinstance(before, ManualReading) and isinstance(now, ManualReading):
                said.append(f"{figures(now)}, not {figures(before)}")
            case "look" if isinstance(old, Look) and isinstance(new, Look):
                said.extend(_stated_difference(old, new, words))
            case "reflected_c":
                was = "none" if old is None else words.temperature(old)
                now_is = "none" if new is None else words.temperature(new)
                said.append(f"reflected {now_is}, not {was}")
            case "what":
                said.append(f"{new.words}, not: {old.words}")
            case "lacks":
                said.extend(new)
            case "stated":
                said.extend(_stated_difference(old, new, words))
            case _ if name in _FIELDS:
                said.append(f"{_FIELDS[name]} {new or 'none'}, not {old or 'none'}")
    return "; ".join(said)


def _stated_difference(before: Stated | Look, now: Stated | Look, words: Words) -> Iterator[str]:
    for one in fields_of(type(now)):
        old, new = getattr(before, one.attribute), getattr(now, one.attribute)
        if old != new:
            was, is_now = (
                "left out" if value == one.empty else one.said(value, words) for value in (old, new)
            )
            yield f"{one.label} {is_now}, not {was}"
