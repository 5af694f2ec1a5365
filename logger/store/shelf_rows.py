"""Records of vessels, formulas and the like as rows: every version stays."""

import json
import sqlite3
from collections.abc import Iterable

from logger.errors import NotKnown, Refused
from logger.field_table import FieldForm
from logger.intake.shelf_bodies import SHELF, RecordBody, record_of
from logger.shelf.sheet import ShelfRecord
from logger.shelf.versions import ShelfVersion
from logger.store.codec import micros, seconds, storable
from logger.store.damage import Damage

_COLUMNS = "id, kind, name, version, at_us, who, why, withdrawn, body"
_LATEST = (
    "version = (SELECT max(version) FROM record AS o WHERE o.kind = r.kind AND o.name = r.name)"
)
_LOST = "this version of a record"


def versions(con: sqlite3.Connection, damage: Damage, kind: str, name: str) -> list[ShelfVersion]:
    """All of a record, the oldest first; empty where there is none."""
    found = con.execute(
        f"SELECT seq, {_COLUMNS} FROM record WHERE kind = ? AND name = ? ORDER BY version",
        (kind, storable(name)),
    )
    return list(damage.each("record", found, _version, _LOST))


def readable(con: sqlite3.Connection, damage: Damage) -> int:
    """Read every version of every record, and what it says; how many can be read."""
    found = con.execute(f"SELECT seq, {_COLUMNS} FROM record ORDER BY seq")
    return sum(1 for _ in damage.each("record", found, _whole, _LOST))


def latest(con: sqlite3.Connection, damage: Damage, kind: str) -> list[ShelfVersion]:
    """The newest version of each record of a kind, withdrawn ones too, by name."""
    found = con.execute(
        f"SELECT seq, {_COLUMNS} FROM record AS r WHERE kind = ? AND {_LATEST} ORDER BY name",
        (kind,),
    )
    return list(damage.each("record", found, _version, _LOST))


def enter(
    con: sqlite3.Connection, body: RecordBody, name: str, now_s: float
) -> tuple[ShelfVersion, bool]:
    """Add the next version of a record; it and whether it is new, not sent before.

    Raises NotKnown, Refused or DataError, and writes nothing then.
    """
    damage = Damage()
    repeated = con.execute(f"SELECT seq, {_COLUMNS} FROM record WHERE id = ?", (body.id,))
    for one in damage.each("record", repeated, _version, _LOST):
        if (one.kind, one.name) != (body.kind, name):
            raise Refused(f"the id {body.id} stands for another record: send an id of its own")
        return one, False
    known = latest(con, damage, body.kind)
    before = next((one for one in known if one.name == name), None)
    if before is None:  # a code on a vessel is the same in small letters
        before = next((one for one in known if one.name.casefold() == name.casefold()), None)
    after = body.after(name, before, now_s)
    _check_references(con, damage, body)
    put(con, after)
    return after, True


def put(con: sqlite3.Connection, version: ShelfVersion) -> None:
    """Write a version as it is."""
    con.execute(
        f"INSERT INTO record ({_COLUMNS}) VALUES (?, ?, ?, ?, ?, ?, ?, ?, ?)",
        (
            version.id,
            version.kind,
            storable(version.name),
            version.version,
            micros(version.at_s),
            storable(version.by),
            storable(version.why),
            version.withdrawn,
            storable(json.dumps(dict(version.fields), ensure_ascii=False)),
        ),
    )


def add_trial(con: sqlite3.Connection, name: str, at_us: int) -> None:
    """The record of a trial that was named when a candle was lit; none where it has one."""
    con.execute(
        f"INSERT INTO record ({_COLUMNS})"
        " SELECT 'trial ' || ?1, 'trial', ?1, 1, ?2, '', 'named when it was lit', 0, '{}'"
        " WHERE NOT EXISTS (SELECT 1 FROM record WHERE kind = 'trial' AND name = ?1)",
        (name, at_us),
    )


def _check_references(con: sqlite3.Connection, damage: Damage, body: RecordBody) -> None:
    """Raises NotKnown where a record is named that is not on the shelf."""
    given = body.given()
    for one in SHELF[body.kind].fields:
        if one.form is FieldForm.REFERENCE and one.key in given:
            living = _names(latest(con, damage, one.refers_to))
            if given[one.key] not in living:
                there = ", ".join(living[:10]) or "none yet"
                raise NotKnown(
                    f"{one.key}: there is no {one.refers_to} {given[one.key]} on the shelf; "
                    f"there is: {there}"
                )


def _names(found: Iterable[ShelfVersion]) -> list[str]:
    return [one.name for one in found if not one.withdrawn]


def _whole(*columns: object) -> ShelfRecord:
    return record_of(_version(*columns))


def _version(*columns: object) -> ShelfVersion:
    id_, kind, name, version, at_us, who, why, withdrawn, body = columns
    return ShelfVersion(
        id=str(id_),
        kind=str(kind),
        name=str(name),
        version=int(str(version)),
        at_s=seconds(int(str(at_us))),
        by=str(who),
        why=str(why),
        withdrawn=bool(withdrawn),
        fields=json.loads(str(body)),
    )
