"""`verify`: what it finds in a sound database, in a damaged one, in a backup and in rubbish."""

import shutil
import sqlite3

import pytest

from logger.burn.entries import Out
from logger.errors import DataError
from logger.quantities import Channel, Place, Position, Quantity
from logger.service.verifying import Interruption, gaps, verify
from logger.store import schema, sealing, zones
from logger.store.backup import back_up
from logger.store.opening import FILE_NAME
from logger.store.sealer import Sealer
from tests.support.store import AT_S

BURN = "jar-a-1940000000"


@pytest.fixture
async def data(tmp_path, opened, evening):
    """A folder with a burn that is out, while its store is still open."""
    bench = evening()
    bench.lit()
    for second in range(1, 200):
        if not 60 <= second < 120:
            bench.second(second, 40.0)
    bench.step(Out(at_s=AT_S + 199.9, entered_s=AT_S + 199.9, id="out", station="jar-a"))
    store = await opened(tmp_path / "data")
    await store.append(bench.steps)
    return tmp_path / "data"


def said(report):
    return {item.what: item for item in report.items}


def change(path, sql):
    con = sqlite3.connect(path)
    con.executescript(sql)
    con.close()


async def test_a_sound_bench_is_well_while_it_runs_and_in_a_backup(data, tmp_path):
    back_up(data, tmp_path / "copy")
    for place in (data, data / FILE_NAME, tmp_path / "copy"):
        report = verify(place)
        assert report.ok
        found = said(report)
        assert found["records"].text == "1 of 1 could be written"
        assert found["rows"].text.startswith("278 readings, ")
        assert f"version {len(schema.MIGRATIONS)}" in found["file"].text


async def test_a_stretch_without_readings_is_told_and_is_no_fault(data):
    told = said(verify(data))[f"burn {BURN}"]
    assert told.ok
    assert "jar-a-wall-3, room for 61 s from 2031-06-23T16:54:19Z" in told.text


@pytest.mark.parametrize(
    ("sql", "what", "says"),
    [
        pytest.param("UPDATE burn SET body = '{'", "rows", "table burn, row", id="burn"),
        pytest.param(
            "UPDATE record SET body = '{'", "rows", "table record, row 1 is damaged", id="record"
        ),
        pytest.param(
            "UPDATE record SET kind = 'vessel', body = '{\"wall\": \"thin\"}'", "rows",
            'table record, row 1 is damaged ("thin" is no length', id="record-field",
        ),
        pytest.param("UPDATE record SET kind = 'jar'", "rows", "table record, row 1", id="kind"),
        pytest.param("UPDATE entry SET body = '[]'", "rows", "table entry, row", id="entry"),
        pytest.param(
            "UPDATE reading SET value = 'warm' WHERE id = 7", "rows", "table reading, row 7",
            id="reading",
        ),
        pytest.param(
            "UPDATE settings SET bench = '{'", f"burn {BURN}", "its record cannot be written",
            id="settings",
        ),
        pytest.param("DELETE FROM settings", "integrity", "not in table settings", id="reference"),
    ],
)  # fmt: skip
async def test_what_cannot_be_read_is_a_fault_and_named(data, sql, what, says):
    change(data / FILE_NAME, sql)
    report = verify(data)
    assert not report.ok
    found = said(report)
    assert not found[what].ok
    assert says in found[what].text


async def test_damaged_pages_are_a_fault(data, tmp_path):
    file = tmp_path / "copy"
    back_up(data, file)
    con = sqlite3.connect(file)
    page = con.execute("SELECT rootpage FROM sqlite_schema WHERE name = 'estimate'").fetchone()[0]
    (page_bytes,) = con.execute("PRAGMA page_size").fetchone()
    con.close()
    with file.open("r+b") as opened:
        opened.seek((page - 1) * page_bytes + 8)
        opened.write(b"\xa5" * 300)
    report = verify(file)
    assert not report.ok
    found = said(report)
    assert "damaged" in found["file"].text or not found["integrity"].ok


@pytest.mark.parametrize(
    ("make", "says"),
    [
        pytest.param(lambda path: path.write_bytes(b"wax" * 9000), "not a database", id="rubbish"),
        pytest.param(lambda path: path.write_bytes(b""), "nothing was ever recorded", id="empty"),
        pytest.param(
            lambda path: change(path, "CREATE TABLE recipe (name)"), "another program", id="other"
        ),
    ],
)
def test_what_is_none_of_ours_is_a_fault(tmp_path, make, says):
    make(tmp_path / "file")
    report = verify(tmp_path / "file")
    assert not report.ok
    assert says in said(report)["file"].text


async def test_a_newer_one_is_a_fault_and_an_older_one_is_looked_at_as_far_as_may_be(
    data, tmp_path
):
    back_up(data, tmp_path / "newer")
    change(tmp_path / "newer", "PRAGMA user_version = 99")
    assert "newer wickbench" in said(verify(tmp_path / "newer"))["file"].text
    shutil.copy(tmp_path / "newer", tmp_path / "older")
    change(tmp_path / "older", "PRAGMA user_version = 2")
    report = verify(tmp_path / "older")
    assert report.ok
    assert said(report)["integrity"].ok
    assert "not tried: an older wickbench" in said(report)["records"].text


@pytest.mark.parametrize("name", ["nothing", "."])
def test_where_there_is_none_it_cannot_be_done(tmp_path, name):
    with pytest.raises(DataError, match="holds no database"):
        verify(tmp_path / name)


WALL, ROOM = (
    Channel(name=name, instrument="i", quantity=Quantity.TEMPERATURE, place=place, **more)
    for name, place, more in (
        ("wall", Place(position=Position.RIM), {}),
        ("room", Place(position=Position.ROOM), {"silent_after_s": 120.0}),
    )
)


def test_a_channel_may_be_silent_as_long_as_the_alarm_allows():
    def stretches(channel, stamps):
        found = gaps({channel.name: channel}, {channel.name: stamps}, 0.0, 1000.0)
        return [(gap.from_s, gap.to_s) for gap in found]

    each_second = [float(n) for n in range(1001)]
    assert stretches(WALL, each_second) == []
    assert stretches(WALL, [t for t in each_second if not 100 < t < 117]) == [(100.0, 117.0)]
    assert stretches(WALL, [t for t in each_second if not 100 < t < 115]) == []
    each_half_minute = [30.0 * n for n in range(34)]
    assert stretches(WALL, [t for t in each_half_minute if not 300 < t < 390]) == []
    assert stretches(WALL, [t for t in each_half_minute if not 300 < t < 420]) == [(300.0, 420.0)]
    assert stretches(ROOM, [t for t in each_second if not 100 < t < 220]) == []
    assert stretches(ROOM, [t for t in each_second if not 100 < t < 221]) == [(100.0, 221.0)]
    assert stretches(WALL, []) == [(0.0, 1000.0)]
    assert stretches(WALL, each_second[::-1]) == []  # in whichever order they came


def test_channels_that_are_gone_together_are_one_gap():
    stamps = [float(n) for n in range(1001) if not 100 < n < 200]
    other = [n + 0.3 for n in stamps]
    found = gaps({"wall": WALL, "room": ROOM}, {"wall": stamps, "room": other}, 0.0, 1000.0)
    assert found == [
        Interruption(channels=("wall",), from_s=100.0, to_s=200.0)
    ]  # 100 s are allowed there
    late = [n for n in other if not 100 < n < 300]
    found = gaps({"wall": WALL, "rim": WALL}, {"wall": stamps, "rim": other}, 0.0, 1000.0)
    assert found == [Interruption(channels=("wall", "rim"), from_s=100.0, to_s=200.3)]
    found = gaps({"wall": WALL, "rim": WALL}, {"wall": stamps, "rim": late}, 0.0, 1000.0)
    assert [gap.channels for gap in found] == [("rim",), ("wall",)]


async def test_what_was_imported_is_told(data):
    change(
        data / FILE_NAME,
        "INSERT INTO imported (run, file, sha256, first, last, from_us, to_us)"
        " SELECT id, 'mine.csv', 'x', 1, 9, 0, 1000000 FROM run",
    )
    told = said(verify(data))["imported"].text
    assert told.startswith("9 readings from mine.csv at 2031-")


async def test_sealed_rows_are_checked_by_their_sums(tmp_path, opened, evening, monkeypatch):
    monkeypatch.setattr(zones, "ZONE_ROWS", 32)
    monkeypatch.setattr(sealing, "BLOCK_ROWS", 64)
    monkeypatch.setattr(sealing, "AFTER_S", 0.0)
    store = await opened(tmp_path)
    bench = evening().hot()
    for first in range(0, len(bench.steps), 20):
        await store.append(bench.steps[first : first + 20])
    sealer = Sealer(store, tmp_path)
    while await sealer.step():
        pass
    assert verify(tmp_path).ok
    readings = said(verify(tmp_path))["rows"].text.split(" readings")[0]
    change(tmp_path / FILE_NAME, "UPDATE block SET body = zeroblob(length(body)) WHERE id = 1")
    report = verify(tmp_path)
    assert not report.ok
    assert "damaged" in said(report)["rows"].text
    assert readings == "178"
