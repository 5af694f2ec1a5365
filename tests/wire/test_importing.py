"""Readings of a file into a data folder: all or none, once, marked, and never taken for live."""

import csv
import io
import sqlite3

import pytest

from logger.errors import DataError, FileFaults, StoreLocked
from logger.quantities import Reading
from logger.service import importing
from logger.service.core import bench_of
from logger.service.exporting import export_all
from logger.service.importing import MOST_FAULTS, import_readings
from logger.settings.config_file import parse
from logger.store import imported
from logger.store.lock import DataLock
from logger.store.opening import FILE_NAME
from logger.store.queries import open_read
from logger.store.store import Store
from logger.timestamps import rfc3339
from tests.support.store import AT_S

CONFIGURED = """
[bench]
name = "b"
data = "{data}"
[[station]]
name = "jar-a"
[[instrument]]
name = "probes"
driver = "serial-lines"
port = "/dev/ttyNONE"
[[instrument.channel]]
name = "jar-a-wall-3"
station = "jar-a"
place = "wall"
height = "60 mm"
clock = 3
field = 0
unit = "degC"
kind = "contact"
[[instrument.channel]]
name = "-room"
place = "room"
field = 1
unit = "degF"
"""
THEN_S = 1_700_000_000.0


@pytest.fixture(autouse=True)
def today(monkeypatch):
    """The evening of the fixtures is a moment ago."""

    class Clock:
        def now_s(self):
            return AT_S + 1000.0

    monkeypatch.setattr(importing, "RealClock", Clock)


@pytest.fixture
def settings(tmp_path):
    return parse(CONFIGURED.format(data=tmp_path / "data"), tmp_path / "bench.toml")


def evening_of(from_s, count=200):
    """Rows not in order of time, two of one stamp, values with many digits and below zero."""
    values = (61.5, -3.2, 1e-07, 41.300000000000004, 0.1 + 0.2)
    return [
        Reading(
            channel=("jar-a-wall-3", "-room")[n % 2],
            value=values[n % 5],
            at_s=round(from_s + n // 2 - 3.0 * (n % 7 == 0) + 0.123457, 6),
        )
        for n in range(count)
    ]


def write(path, readings):
    with path.open("w", newline="") as file:
        rows = csv.writer(file, lineterminator="\n")
        rows.writerow(["time", "channel", "value"])
        for one in readings:
            name = f"'{one.channel}" if one.channel.startswith("-") else one.channel
            rows.writerow([rfc3339(one.at_s, digits=6), name, repr(one.value)])
    return path


def stored(settings):
    with open_read(settings.bench.data) as reader:
        return list(reader.readings())


def content(settings):
    con = sqlite3.connect(settings.bench.data / FILE_NAME)
    found = "\n".join(con.iterdump())
    con.close()
    return found


def test_what_is_exported_and_imported_is_exported_the_same_to_the_byte(tmp_path, settings):
    readings = evening_of(THEN_S)
    path = write(tmp_path / "mine.csv", readings)
    found = import_readings(settings, path, dry_run=False)
    assert (found.rows, found.before) == (200, "")
    assert stored(settings) == readings
    out = io.StringIO()
    assert export_all(settings.bench.data, out) == 200
    assert out.getvalue().encode() == path.read_bytes()


def test_it_is_marked_with_its_file_and_time(tmp_path, settings):
    import_readings(settings, write(tmp_path / "=mine.csv", evening_of(THEN_S)), dry_run=False)
    with open_read(settings.bench.data) as reader:
        (mark,) = reader.imports()
        (run,) = reader.runs()
    assert (mark.file, mark.rows, mark.at_s) == ("=mine.csv", 200, AT_S + 1000.0)
    assert (mark.from_s, mark.to_s) == (THEN_S - 2.876543, THEN_S + 99.123457)
    assert not run.watching


def test_a_dry_run_changes_nothing_and_says_the_same(tmp_path, settings):
    path = write(tmp_path / "mine.csv", evening_of(THEN_S))
    found = import_readings(settings, path, dry_run=True)
    assert not settings.bench.data.exists()
    assert import_readings(settings, path, dry_run=False) == found


def test_a_repeat_changes_nothing_whatever_the_file_is_called(tmp_path, settings):
    import_readings(settings, write(tmp_path / "mine.csv", evening_of(THEN_S)), dry_run=False)
    before = content(settings)
    again = write(tmp_path / "again.csv", evening_of(THEN_S))
    found = import_readings(settings, again, dry_run=False)
    assert found.before.startswith("imported from mine.csv at 2031-")
    part = write(tmp_path / "part.csv", evening_of(THEN_S)[20:90])
    assert import_readings(settings, part, dry_run=False).before == "stored"
    assert content(settings) == before


async def test_its_own_readings_again_change_nothing_and_others_of_its_time_are_refused(
    tmp_path, settings, opened, evening
):
    store = await opened(settings.bench.data, bench=bench_of(settings))
    own = evening_of(AT_S + 10.0)
    await store.append([(one, []) for one in own])
    await store.close()
    before = content(settings)
    with (tmp_path / "own.csv").open("w") as file:
        export_all(settings.bench.data, file)
    found = import_readings(settings, tmp_path / "own.csv", dry_run=False)
    assert found.before == "stored"
    foreign = [*evening_of(THEN_S, 5), Reading(channel="-room", value=1.0, at_s=AT_S + 20.0)]
    with pytest.raises(FileFaults) as told:
        import_readings(settings, write(tmp_path / "foreign.csv", foreign), dry_run=False)
    (line,) = told.value.problems
    assert line.startswith(f"{tmp_path}/foreign.csv:7: of 2031-")
    assert "recorded by this bench" in line
    assert content(settings) == before


def test_two_files_of_one_time_are_not_mixed(tmp_path, settings):
    import_readings(settings, write(tmp_path / "one.csv", evening_of(THEN_S)), dry_run=False)
    other = [Reading(channel="-room", value=1.0, at_s=THEN_S + 5.0)]
    with pytest.raises(FileFaults, match=r"imported from one\.csv"):
        import_readings(settings, write(tmp_path / "two.csv", other), dry_run=False)
    later = write(tmp_path / "three.csv", evening_of(THEN_S + 5000.0))
    assert not import_readings(settings, later, dry_run=False).before
    assert len(stored(settings)) == 400


def test_every_fault_is_told_with_its_line_and_nothing_is_imported(tmp_path, settings):
    path = tmp_path / "wrong.csv"
    path.write_text(
        "time,channel,value\n2023-01-01T00:00:00Z,jar-a-wall-3,41\n2023-01-01,-room,41\n"
        "2023-01-01T00:00:00Z,jar-a-wall-3,=1+1\n2099-01-01T00:00:00Z,-room,1\n"
        "2023-01-01T00:00:00Z,lid,41\n2023-01-01T00:00:01Z,lid,41\n1,2\n"
    )
    for dry_run in (True, False):
        with pytest.raises(FileFaults) as told:
            import_readings(settings, path, dry_run=dry_run)
        said = [line.removeprefix(f"{path}") for line in told.value.problems]
        assert [line.split(": ")[0] for line in said] == [":3", ":4", ":5", ":8", ""]
        assert "in the future" in said[2]
        assert "lid (line 6)" in said[4]
        assert not (settings.bench.data / FILE_NAME).exists()


def test_of_very_many_faults_the_first_are_told(tmp_path, settings):
    path = tmp_path / "wrong.csv"
    path.write_text("time,channel,value\n" + "soon,-room,1\n" * 1000)
    with pytest.raises(FileFaults) as told:
        import_readings(settings, path, dry_run=True)
    assert len(told.value.problems) == MOST_FAULTS + 1
    assert told.value.problems[-1] == f"{path}: and 980 more like these"


@pytest.mark.parametrize("name", ["nothing.csv", "."])
def test_what_is_no_file_is_said(tmp_path, settings, name):
    with pytest.raises(DataError, match="is not a file"):
        import_readings(settings, tmp_path / name, dry_run=True)


def test_while_a_service_holds_the_folder_only_a_dry_run_is_made(tmp_path, settings):
    path = write(tmp_path / "mine.csv", evening_of(THEN_S))
    lock = DataLock.acquire(settings.bench.data)
    try:
        with pytest.raises(StoreLocked, match="stop it, import, start it again"):
            import_readings(settings, path, dry_run=False)
        assert import_readings(settings, path, dry_run=True).rows == 200
    finally:
        lock.release()


def test_a_file_that_changes_meanwhile_or_a_full_disk_leaves_nothing(
    tmp_path, settings, monkeypatch
):
    import_readings(settings, write(tmp_path / "one.csv", evening_of(THEN_S)), dry_run=False)
    before = stored(settings)
    path = write(tmp_path / "two.csv", evening_of(THEN_S + 5000.0))
    add = imported.add

    def changing(*words, **more):
        write(path, evening_of(THEN_S + 5000.0, 150))
        add(*words, **more)

    monkeypatch.setattr(imported, "add", changing)
    with pytest.raises(DataError, match="was changed meanwhile; nothing was imported"):
        import_readings(settings, path, dry_run=False)

    def full(con, *words, **more):
        (pages,) = con.execute("PRAGMA page_count").fetchone()
        con.execute(f"PRAGMA max_page_count = {pages}")
        add(con, *words, **more)

    monkeypatch.setattr(imported, "add", full)
    big = write(tmp_path / "big.csv", evening_of(THEN_S + 5000.0, 9000))
    with pytest.raises(Exception, match="is full: make room on it"):
        import_readings(settings, big, dry_run=False)
    with open_read(settings.bench.data) as reader:
        assert list(reader.readings()) == before
        assert len(reader.imports()) == 1


async def test_what_was_imported_a_moment_ago_is_never_taken_for_live(tmp_path, settings):
    """A restart goes on from the readings of the last ten minutes: those measured here."""
    now_s = AT_S + 1000.0
    hot = [Reading(channel="jar-a-wall-3", value=75.0, at_s=now_s - 60.0 + n) for n in range(60)]
    import_readings(settings, write(tmp_path / "hot.csv", hot), dry_run=False)
    store = await Store.open(settings.bench.data)
    own = Reading(channel="jar-a-wall-3", value=22.0, at_s=now_s + 5.0)
    await store.begin_run(
        settings_text=settings.text, bench=bench_of(settings), started_s=now_s + 1.0, version="0"
    )
    await store.append([(own, [])])
    memory = await store.memory(now_s + 10.0)
    await store.close()
    assert list(memory.readings) == [own]
    assert not memory.alarms


def test_many_rows_lie_in_zones_as_live_ones_do(tmp_path, settings):
    readings = evening_of(THEN_S, 20_000)
    import_readings(settings, write(tmp_path / "long.csv", readings), dry_run=False)
    with open_read(settings.bench.data) as reader:
        assert len(reader._all("SELECT * FROM zone")) == 4
        some = list(reader.readings("-room", THEN_S + 100.0, THEN_S + 110.0))
    assert some == [
        one
        for one in readings
        if one.channel == "-room" and THEN_S + 100.0 <= one.at_s < THEN_S + 110.0
    ]
