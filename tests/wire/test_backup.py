"""Backups: of one moment while the bench writes, whole or not there, and good to go on from."""

import asyncio
import shutil
import sqlite3
import time

import pytest

from logger.burn.entries import Out
from logger.errors import DataError, StoreError, StoreUnusable
from logger.quantities import Reading
from logger.service import records
from logger.store import backup
from logger.store.backup import back_up
from logger.store.opening import FILE_NAME
from logger.store.queries import open_read
from logger.store.store import Store
from tests.support.store import AT_S
from tests.support.warm_starts import started

BURN = "jar-a-1940000000"


async def an_evening(opened, evening, data):
    bench = evening().hot()
    bench.step(Out(at_s=AT_S + 95.0, entered_s=AT_S + 95.0, id="out", station="jar-a"))
    store = await opened(data)
    await store.append(bench.steps)
    return store


def opened_elsewhere(folder, file):
    folder.mkdir()
    shutil.copy(file, folder / FILE_NAME)
    return folder


async def test_a_backup_made_while_the_bench_writes_is_of_one_moment(tmp_path, opened, evening):
    data = tmp_path / "data"
    store = await an_evening(opened, evening, data)
    writing = True
    written = 0

    async def write():
        nonlocal written
        while writing:  # two readings a commit: half of one must not be in any copy
            pair = [
                (Reading(channel=name, value=float(written), at_s=AT_S + 100.0 + written), [])
                for name in ("jar-a-wall-3", "room")
            ]
            await store.append(pair)
            written += 1

    work = asyncio.create_task(write())
    found = []
    for number in range(8):
        file = tmp_path / f"copy-{number}.sqlite3"
        before = written
        await asyncio.to_thread(back_up, data, file)
        with open_read(opened_elsewhere(tmp_path / f"from-{number}", file)) as reader:
            late = [one.value for one in reader.readings(None, AT_S + 100.0)]
        assert late == [float(n) for n in range(len(late) // 2) for _ in range(2)]
        assert len(late) >= 2 * before
        assert file.stat().st_mode & 0o777 == 0o600
        found.append(len(late))
    writing = False
    await work
    assert found[-1] > found[0]  # it did write meanwhile
    assert {one.name for one in tmp_path.glob("copy-*")} == {f"copy-{n}.sqlite3" for n in range(8)}
    assert not list(tmp_path.glob(".*"))


async def test_the_bench_goes_on_from_a_backup_and_tells_its_burns_the_same(
    tmp_path, opened, evening
):
    data = tmp_path / "data"
    await an_evening(opened, evening, data)
    file = tmp_path / "backup.sqlite3"
    made = back_up(data, file)
    assert made.bytes == file.stat().st_size
    assert made.counts["reading"] == 178
    back = opened_elsewhere(tmp_path / "back", file)
    assert records.burn_message(back, BURN) == records.burn_message(data, BURN)
    assert records.record_html(back, BURN) == records.record_html(data, BURN)
    store = await Store.open(back)
    memory = await store.memory(AT_S + 200.0)
    assert [burn.id for burn in memory.burns] == [BURN]
    await store.close()


async def test_what_stands_there_is_replaced_only_with_force(tmp_path, opened, evening):
    data = tmp_path / "data"
    await an_evening(opened, evening, data)
    file = tmp_path / "mine"
    file.write_text("a letter")
    with pytest.raises(DataError, match="exists and was left as it is"):
        back_up(data, file)
    assert file.read_text() == "a letter"
    back_up(data, file, force=True)
    assert file.read_bytes().startswith(b"SQLite format 3")


@pytest.mark.parametrize(
    ("place", "says"),
    [
        pytest.param("data/copy.sqlite3", "the bench's own folder", id="own folder"),
        pytest.param("data", "is a folder", id="folder"),
        pytest.param("nowhere/copy.sqlite3", "is not a folder", id="no folder"),
    ],
)
async def test_a_place_that_will_not_do_is_named(tmp_path, opened, evening, place, says):
    await an_evening(opened, evening, tmp_path / "data")
    with pytest.raises(DataError, match=says):
        back_up(tmp_path / "data", tmp_path / place)
    with pytest.raises(DataError, match=says):
        back_up(tmp_path / "data", tmp_path / place, force=True)


async def test_a_disk_that_fills_half_way_leaves_no_half_file(
    tmp_path, opened, evening, monkeypatch
):
    data = tmp_path / "data"
    await an_evening(opened, evening, data)
    connect = sqlite3.connect

    def small(path, **more):
        con = connect(path, **more)
        con.execute("PRAGMA max_page_count = 12")
        return con

    monkeypatch.setattr(backup.sqlite3, "connect", small)
    (tmp_path / "earlier").write_text("whole")
    for name, force in (("new", False), ("earlier", True)):
        with pytest.raises(StoreError, match="is full: make room on it"):
            back_up(data, tmp_path / name, force=force)
    monkeypatch.undo()
    assert (tmp_path / "earlier").read_text() == "whole"
    assert sorted(one.name for one in tmp_path.iterdir()) == ["data", "earlier"]


async def test_the_disk_of_the_bench_is_never_filled_by_a_backup(
    tmp_path, opened, evening, monkeypatch
):
    await an_evening(opened, evening, tmp_path / "data")
    monkeypatch.setattr(backup, "_LEFT_BYTES", 2**60)
    with pytest.raises(StoreError, match="too little room: the backup needs"):
        back_up(tmp_path / "data", tmp_path / "copy")
    assert sorted(one.name for one in tmp_path.iterdir()) == ["data"]


async def test_a_copy_that_is_not_sound_is_not_called_done(tmp_path, opened, evening, monkeypatch):
    await an_evening(opened, evening, tmp_path / "data")
    copy = backup._copy

    def losing(con, part):
        copy(con, part)
        lost = sqlite3.connect(part)
        lost.execute("DELETE FROM estimate WHERE id = 7")
        lost.commit()
        lost.close()

    def damaging(con, part):
        copy(con, part)
        with part.open("r+b") as file:
            file.seek(5 * 4096)
            file.write(b"\xa5" * 6000)

    for fault in (losing, damaging):
        monkeypatch.setattr(backup, "_copy", fault)
        with pytest.raises(StoreError, match=r"not sound .* and was removed"):
            back_up(tmp_path / "data", tmp_path / "copy")
        assert sorted(one.name for one in tmp_path.iterdir()) == ["data"]


def test_what_is_no_database_of_ours_is_not_copied(tmp_path):
    (tmp_path / "data").mkdir()
    with pytest.raises(StoreError, match="holds no readings yet"):
        back_up(tmp_path / "data", tmp_path / "copy")
    (tmp_path / "data" / FILE_NAME).write_bytes(b"wax" * 5000)
    with pytest.raises(StoreUnusable, match="damaged"):
        back_up(tmp_path / "data", tmp_path / "copy")
    assert not (tmp_path / "copy").exists()


COPY = """
import sys
from pathlib import Path
from logger.store import backup
backup._PAGES_AT_ONCE = 1
backup.back_up(Path(sys.argv[1]), Path(sys.argv[2]))
"""


async def test_killed_in_the_middle_it_leaves_nothing_that_looks_whole(
    tmp_path, opened, evening, long, fault_row
):
    data = tmp_path / "data"
    store = await an_evening(opened, evening, data)
    await store._on_thread(
        lambda: store._con.execute(
            "WITH RECURSIVE n(n) AS (SELECT 1 UNION ALL SELECT n + 1 FROM n WHERE n < 300)"
            " INSERT INTO reading (channel, at_us, value)"
            " SELECT channel, at_us + n * 1000000000, value FROM reading, n"
        )
    )
    file = tmp_path / "copy"
    tries, under_way = (40 if long else 4), 0
    for number in range(tries):
        process = started("-c", COPY, str(data), str(file), output=2)
        while process.poll() is None and not list(tmp_path.glob(".copy.*.part")):
            await asyncio.sleep(0.002)
        await asyncio.sleep(0.01 * (number % 4))
        process.kill()
        process.wait()
        if file.exists():  # it was done before the kill came
            back_up(data, tmp_path / "other", force=True)
            assert file.stat().st_size == (tmp_path / "other").stat().st_size
            file.unlink()
        else:
            under_way += 1
    assert under_way
    begun_s = time.monotonic()
    back_up(data, file)
    took_s = time.monotonic() - begun_s
    assert not list(tmp_path.glob(".copy.*"))  # what the killed ones left is gone
    fault_row(
        "kill -9 during a backup",
        tried=tries,
        reached=f"0 half files, the next took {took_s:.1f} s",
        bar="no half file",
    )
