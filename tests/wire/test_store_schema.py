"""Opening: a new file, older ones, newer ones, damaged ones, two starts at once."""

import asyncio
import sqlite3
import subprocess
import sys

import pytest

from logger.errors import StoreError, StoreUnusable
from logger.store import opening, schema
from logger.store.meaning import nothing_changed
from logger.store.opening import FILE_NAME
from logger.store.queries import open_read
from logger.store.remembered import Remembered, only_read
from logger.store.store import Store
from tests.support.waiting import patient

RACE = """
import asyncio, sys
from pathlib import Path
from logger.pipeline import Bench
from logger.settings.limit_keys import default_limits
from logger.store.store import Store
async def main():
    sys.stdin.readline()
    store = await Store.open(Path(sys.argv[1]))
    bench = Bench(channels=(), stations=(), limits=default_limits())
    await store.begin_run(settings_text="", bench=bench, started_s=1.0, version="0")
    await store.close()
print("ready", flush=True)
asyncio.run(main())
"""


def version(path):
    con = sqlite3.connect(path)
    try:
        return con.execute("PRAGMA user_version").fetchone()[0]
    finally:
        con.close()


def change(path, sql):
    con = sqlite3.connect(path, isolation_level=None)
    con.execute(sql)
    con.close()


async def test_a_new_folder_gets_a_database_of_this_version(tmp_path):
    data = tmp_path / "some" / "where ?#%"
    store = await Store.open(data)
    await store.close()
    await store.close()
    assert version(data / FILE_NAME) == len(schema.MIGRATIONS)
    with open_read(data) as reader:
        assert reader.runs() == []


async def test_what_is_committed_is_on_the_disk(tmp_path):
    store = await Store.open(tmp_path)
    found = await store._on_thread(
        lambda: (
            store._con.execute("PRAGMA journal_mode").fetchone()[0],
            store._con.execute("PRAGMA synchronous").fetchone()[0],
        )
    )
    assert found == ("wal", 2)
    await store.close()


async def test_an_older_file_is_brought_up_to_date_and_keeps_its_rows(
    tmp_path, opened, evening, monkeypatch
):
    store = await opened()
    await store.append(evening().hot(10).steps)
    await store.close()
    with pytest.raises(StoreError, match="closed"):
        await store.waiting_events(1)
    older = version(tmp_path / FILE_NAME)
    more = (("ALTER TABLE run ADD COLUMN place TEXT", "UPDATE run SET place = 'kitchen'"),)
    monkeypatch.setattr(schema, "MIGRATIONS", schema.MIGRATIONS + more)
    with pytest.raises(StoreError, match="older wickbench"):
        open_read(tmp_path)
    assert version(tmp_path / FILE_NAME) == older
    await (await Store.open(tmp_path)).close()
    assert version(tmp_path / FILE_NAME) == older + 1
    with open_read(tmp_path) as reader:
        assert len(list(reader.readings())) == 18
        assert reader._all("SELECT place FROM run") == [("kitchen",)]


async def test_a_migration_that_fails_leaves_the_file_as_it_was(tmp_path, monkeypatch, evening):
    await (await Store.open(tmp_path)).close()
    right = schema.MIGRATIONS
    broken = (("ALTER TABLE run ADD COLUMN place TEXT", "CREATE TABLE run (id)"),)
    monkeypatch.setattr(schema, "MIGRATIONS", right + broken)
    with pytest.raises(StoreError):
        await Store.open(tmp_path)
    monkeypatch.setattr(schema, "MIGRATIONS", right)
    store = await Store.open(tmp_path)
    await store.begin_run(settings_text="", bench=evening.bench, started_s=1.0, version="0")
    await store.close()


async def test_who_reads_during_a_first_start_finds_nothing_recorded_yet(
    tmp_path, monkeypatch, caplog
):
    right = schema.MIGRATIONS
    monkeypatch.setattr(schema, "MIGRATIONS", (*right, ("CREATE TABLE run (id)",)))
    with pytest.raises(StoreError):
        await Store.open(tmp_path)
    monkeypatch.setattr(schema, "MIGRATIONS", right)
    path = tmp_path / FILE_NAME
    assert version(path) == 0  # all of its tables, or none
    with pytest.raises(StoreError, match="holds no readings yet"):
        open_read(tmp_path)
    assert await only_read(path, 1.0, nothing_changed, within_s=5.0) == Remembered()
    assert caplog.text == ""


async def test_a_newer_file_is_refused_and_left_alone(tmp_path):
    await (await Store.open(tmp_path)).close()
    path = tmp_path / FILE_NAME
    change(path, f"PRAGMA user_version = {len(schema.MIGRATIONS) + 1}")
    before = path.read_bytes()
    for attempt in (lambda: Store.open(tmp_path), lambda: asyncio.to_thread(open_read, tmp_path)):
        with pytest.raises(StoreUnusable, match="newer wickbench"):
            await attempt()
    assert path.read_bytes() == before


async def test_the_database_of_another_program_is_refused_and_left_alone(tmp_path):
    path = tmp_path / FILE_NAME
    change(path, "CREATE TABLE recipe (name TEXT)")
    before = path.read_bytes()
    with pytest.raises(StoreUnusable, match="another program"):
        await Store.open(tmp_path)
    assert path.read_bytes() == before


async def test_a_file_that_is_no_database_is_refused(tmp_path):
    (tmp_path / FILE_NAME).write_bytes(b"wax and wicks " * 1000)
    with pytest.raises(StoreUnusable, match="damaged"):
        await Store.open(tmp_path)
    assert (tmp_path / FILE_NAME).read_bytes().startswith(b"wax")


@pytest.mark.parametrize(
    "table", [pytest.param("burn", id="small"), pytest.param("reading", id="bulk")]
)
async def test_a_damaged_page_is_found_at_the_start(tmp_path, opened, evening, table):
    store = await opened()
    await store.append(evening().hot().steps)
    await store.close()
    con = sqlite3.connect(tmp_path / FILE_NAME)
    page = con.execute("SELECT rootpage FROM sqlite_schema WHERE name = ?", (table,)).fetchone()[0]
    (page_bytes,) = con.execute("PRAGMA page_size").fetchone()
    con.close()
    with (tmp_path / FILE_NAME).open("r+b") as file:
        file.seek((page - 1) * page_bytes + 8)
        file.write(b"\xa5" * 200)
    with pytest.raises(StoreUnusable, match=r"damaged .*backup"):
        await Store.open(tmp_path)


async def test_of_a_large_file_the_bulk_is_not_read_at_the_start(
    tmp_path, opened, evening, monkeypatch
):
    store = await opened()
    await store.append(evening().hot().steps)
    await store.close()
    monkeypatch.setattr(opening, "_CHECK_WHOLE_BYTES", 0)
    looked_at = []

    class Watched(sqlite3.Connection):
        def execute(self, sql, *values):
            looked_at.append(sql)
            return super().execute(sql, *values)

    con = sqlite3.connect(tmp_path / FILE_NAME, factory=Watched)
    opening._check(con, tmp_path / FILE_NAME)
    con.close()
    assert "PRAGMA quick_check('burn')" in looked_at
    assert "PRAGMA quick_check('reading')" not in looked_at


async def test_a_folder_without_right_or_room_is_an_error_with_its_remedy(tmp_path):
    (tmp_path / "file").write_text("")
    with pytest.raises(StoreError, match=r"cannot be made .*\[bench\] data"):
        await Store.open(tmp_path / "file" / "data")
    (tmp_path / "data" / FILE_NAME).mkdir(parents=True)
    with pytest.raises(StoreError, match="cannot be opened"):
        await Store.open(tmp_path / "data")


def test_reading_where_nothing_is_yet_says_what_to_do(tmp_path):
    with pytest.raises(StoreError, match="wickbench run"):
        open_read(tmp_path)
    assert not (tmp_path / FILE_NAME).exists()


def test_programs_that_start_at_the_same_moment_make_one_database(tmp_path):
    processes = [
        subprocess.Popen(
            [sys.executable, "-c", RACE, str(tmp_path)],
            stdin=subprocess.PIPE,
            stdout=subprocess.PIPE,
            stderr=subprocess.PIPE,
        )
        for _ in range(4)
    ]
    for process in processes:
        assert process.stdout.readline() == b"ready\n"
    for process in processes:
        process.stdin.write(b"\n")
        process.stdin.flush()
    for process in processes:
        _, errors = process.communicate(timeout=patient(30))
        assert process.returncode == 0, errors.decode()
    with open_read(tmp_path) as reader:
        assert len(reader.runs()) == 4


async def test_stores_that_open_at_the_same_moment_make_one_database(tmp_path):
    for attempt in range(40):  # each meets one of the dangerous moments in a few of a hundred
        data = tmp_path / str(attempt)
        stores = await asyncio.gather(*(Store.open(data) for _ in range(4)))
        for store in stores:
            await store.close()
