"""Records in the database: every version stays, and nothing of a record is invented."""

import sqlite3
from pathlib import Path

import pytest

from logger.errors import DataError, NotKnown, Refused
from logger.intake.shelf_bodies import SHELF, record_of
from logger.shelf.versions import unchanged_since
from logger.store import shelf_rows
from logger.store.opening import FILE_NAME
from logger.store.queries import open_read
from logger.store.store import Store

OLDER = Path(__file__).parent / "schema_4.sql"


def add(kind, id="add-record-1", **fields):
    return SHELF[kind].add.model_validate({"id": id, "by": "Ines", **fields})


def change(kind, id="change-record-1", **fields):
    return SHELF[kind].change.model_validate({"id": id, "by": "Tom", **fields})


@pytest.fixture
async def shelf(opened, tmp_path):
    """`enter(body, name, now_s)` on a database; what is read comes by a connection of its own."""
    store = await opened()

    class Shelf:
        async def enter(self, body, name="amber-75", now_s=1000.0):
            return await store.change(lambda con: shelf_rows.enter(con, body, name, now_s))

        def versions(self, kind="vessel", name="amber-75"):
            with open_read(tmp_path) as reader:
                return reader.record_versions(kind, name)

    yield Shelf()
    await store.close()


async def test_a_change_keeps_what_was_before_with_who_and_when(shelf):
    await shelf.enter(add("vessel", name="amber-75", wall="3,2 mm", leak_24_h="passed"))
    await shelf.enter(change("vessel", height="3.5 in", why="measured"), now_s=2000.0)
    await shelf.enter(change("vessel", id="change-record-2", clear=["wall"]), now_s=3000.0)
    first, second, third = shelf.versions()
    assert (first.by, first.at_s, dict(first.fields)) == (
        "Ines", 1000.0, {"wall": "3,2 mm", "leak_24_h": "passed"},
    )  # fmt: skip
    assert (second.by, second.why, second.fields["height"]) == ("Tom", "measured", "3.5 in")
    assert "wall" not in third.fields
    assert unchanged_since([first, second, third], "leak_24_h") == first
    assert unchanged_since([first, second, third], "height") == second
    record = record_of(second)
    assert (record.wall_mm, record.height_mm) == (3.2, pytest.approx(88.9))  # 1 in is 25.4 mm


async def test_a_withdrawn_record_stays_and_can_begin_anew(shelf):
    await shelf.enter(add("tester", name="M6"), "M6")
    with pytest.raises(Refused, match="there is a tester M6 already"):
        await shelf.enter(add("tester", id="add-record-2", name="m6"), "m6")
    gone = SHELF["tester"].withdraw.model_validate({"id": "gone-record", "why": "burned out"})
    await shelf.enter(gone, "M6")
    with pytest.raises(Refused, match="was withdrawn"):
        await shelf.enter(change("tester", remark="x"), "M6")
    await shelf.enter(add("tester", id="add-record-3", name="M6"), "M6")
    found = shelf.versions("tester", "M6")
    assert [(one.version, one.withdrawn, one.why) for one in found] == [
        (1, False, ""), (2, True, "burned out"), (3, False, ""),
    ]  # fmt: skip


async def test_the_same_sent_twice_counts_once(shelf):
    body = add("vessel", name="amber-75")
    first, new = await shelf.enter(body)
    assert new
    assert await shelf.enter(body, now_s=5000.0) == (first, False)
    assert len(shelf.versions()) == 1
    with pytest.raises(Refused, match="another record"):
        await shelf.enter(add("wick", name="amber-75"))


async def test_what_is_refused_leaves_nothing_behind(shelf):
    with pytest.raises(NotKnown, match="there is no vessel amber-75 on the shelf"):
        await shelf.enter(change("vessel", wall="3 mm"))
    with pytest.raises(NotKnown, match="vessel: there is no vessel amber on the shelf"):
        await shelf.enter(add("trial", name="cedar-6", vessel="amber"), "cedar-6")
    with pytest.raises(DataError, match="sum to 99 %"):
        await shelf.enter(
            add("formula", name="f", wax="soy", wax_share="92 %", fragrance_share="7 %"), "f"
        )
    await shelf.enter(add("vessel", name="amber-75", wall="3 mm"))
    with pytest.raises(DataError, match="nothing would change"):
        await shelf.enter(change("vessel", wall="3 mm"))
    assert [len(shelf.versions(*one)) for one in (("vessel",), ("trial", "cedar-6"))] == [1, 0]


async def test_a_trial_named_when_it_was_lit_has_its_record(opened, evening, tmp_path):
    store = await opened()
    await store.append(evening().hot(10).steps)
    await store.close()
    with open_read(tmp_path) as reader:
        names = [trial.name for trial in reader.trials()]
        assert [one.name for one in reader.shelf("trial")] == names != []


async def test_trials_of_an_older_database_have_their_records(tmp_path):
    con = sqlite3.connect(tmp_path / FILE_NAME)
    con.executescript(OLDER.read_text(encoding="utf-8"))
    con.close()
    await (await Store.open(tmp_path)).close()
    with open_read(tmp_path) as reader:
        (trial,) = reader.shelf("trial")
        assert (trial.name, trial.version, dict(trial.fields)) == ("cotton 3, soy", 1, {})
        assert trial.at_s == reader.trials()[0].created_s


async def test_a_damaged_row_is_named_and_the_rest_is_read(shelf, tmp_path):
    await shelf.enter(add("vessel", name="amber-75"))
    await shelf.enter(change("vessel", wall="3 mm"))
    con = sqlite3.connect(tmp_path / FILE_NAME)
    con.execute("UPDATE record SET body = '{' WHERE version = 2")
    con.commit()
    con.close()
    with open_read(tmp_path) as reader:
        assert [one.version for one in reader.record_versions("vessel", "amber-75")] == [1]
        assert "table record, row 2 is damaged" in reader.damage.lines[0]
