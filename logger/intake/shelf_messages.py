"""Records as JSON."""

from collections.abc import Mapping, Sequence
from typing import Annotated

from typing_extensions import Doc, TypedDict

from logger.intake.shelf_bodies import SHELF, record_of
from logger.sheet_fields import FieldForm
from logger.shelf.versions import ShelfVersion, Written, unchanged_since
from logger.timestamps import rfc3339
from logger.words import Words


class RecordVersionMessage(TypedDict):
    """One version of a record."""

    kind: Annotated[str, Doc("of record, in the singular: vessel, tester, round")]
    name: str
    version: Annotated[int, Doc("1 is the first")]
    at: Annotated[str, Doc("when it was entered, RFC 3339")]
    by: Annotated[str, Doc("who entered it; empty where nobody said")]
    why: Annotated[str, Doc("the reason of a change or withdrawal, if one was given")]
    withdrawn: bool
    fields: Annotated[dict[str, str | int | float], Doc("what was written, quantities with unit")]


class RecordedMessage(RecordVersionMessage):
    """What became of a record that was entered."""

    text: Annotated[str, Doc("the same in a line")]
    new: Annotated[bool, Doc("false where this id was entered before: nothing was added")]


class CheckedMessage(TypedDict):
    """Who made a check, and when."""

    by: str
    at: Annotated[str, Doc("when it was entered, RFC 3339")]


class SheetMessage(RecordVersionMessage):
    """A record as it counts, with all its versions."""

    notes: Annotated[list[str], Doc("what follows from its fields, a line each")]
    checked: Annotated[dict[str, CheckedMessage], Doc("by check, since when it stands so")]
    versions: Annotated[list[RecordVersionMessage], Doc("the oldest first")]


class ShelfMessage(TypedDict):
    """All records of a kind, the newest version of each."""

    kind: str
    records: Annotated[list[RecordVersionMessage], Doc("by name; withdrawn ones last")]


def version_message(version: ShelfVersion) -> RecordVersionMessage:
    """One version."""
    return {
        "kind": version.kind,
        "name": version.name,
        "version": version.version,
        "at": rfc3339(version.at_s, digits=0),
        "by": version.by,
        "why": version.why,
        "withdrawn": version.withdrawn,
        "fields": dict(version.fields),
    }


def recorded_message(version: ShelfVersion, *, new: bool) -> RecordedMessage:
    """The answer to whoever entered it."""
    did = "withdrawn" if version.withdrawn else "added" if version.version == 1 else "changed"
    text = f"{version.kind} {version.name}: {did}"
    return {**version_message(version), "text": text, "new": new}


def shelf_message(kind: str, latest: Sequence[ShelfVersion]) -> ShelfMessage:
    """The newest version of each record of a kind."""
    ordered = sorted(latest, key=lambda one: (one.withdrawn, one.name.casefold()))
    return {"kind": kind, "records": [version_message(one) for one in ordered]}


def sheet_message(versions: Sequence[ShelfVersion], words: Words, now_s: float) -> SheetMessage:
    """A record with all its `versions`, the oldest first."""
    now = versions[-1]
    since = {
        one.key: unchanged_since(versions, one.key)
        for one in SHELF[now.kind].fields
        if one.form is FieldForm.CHECK and one.key in now.fields
    }
    return {
        **version_message(now),
        "notes": [*record_of(now).notes(words, now_s)],
        "checked": {
            k: {"by": one.by, "at": rfc3339(one.at_s, digits=0)} for k, one in since.items()
        },
        "versions": [version_message(one) for one in versions],
    }


def again(fields: Mapping[str, Written], kind: str) -> dict[str, Written]:
    """What another record takes over of `fields`: all but the checks, which are of one thing."""
    checks = {one.key for one in SHELF[kind].fields if one.form is FieldForm.CHECK}
    return {key: value for key, value in fields.items() if key not in checks}
