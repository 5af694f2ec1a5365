"""A data package out of one bench and into another: the same records, verdict and estimates."""

import csv
import hashlib
import io
import json
import shutil
import sqlite3
import zipfile
from dataclasses import replace

import pytest

from logger.burn.entries import Note
from logger.errors import DataError, FileFaults, StoreLocked, UsageError
from logger.quantities import Reading
from logger.reports.document_html import record_html
from logger.service import importing_package, package_writing, records
from logger.service.core import bench_of
from logger.service.exporting import Selection, export_package
from logger.service.importing_package import import_package
from logger.service.offline import enter_offline
from logger.service.trial_verdict import Judging
from logger.store import package_rows, photos
from logger.store.lock import DataLock
from logger.store.opening import FILE_NAME
from logger.store.queries import open_read
from logger.store.store import Store
from tests.support.command_line import typed
from tests.support.packaged_bench import JPEG, NOW_S, bench_at, packed_bench
from tests.support.store import AT_S

TRIAL = "cotton 3, soy"
HOT = f"jar-a-{int(AT_S)}"


@pytest.fixture(autouse=True)
def today(monkeypatch):
    """The evening of the fixtures is a day ago."""

    class Clock:
        def now_s(self):
            return NOW_S

    monkeypatch.setattr(importing_package, "RealClock", Clock)
    monkeypatch.setattr(package_writing, "RealClock", Clock)


@pytest.fixture
async def bench(tmp_path):
    return await packed_bench(tmp_path / "data")


@pytest.fixture
def package(bench, tmp_path):
    export_package(bench, Selection(), tmp_path / "bench.zip")
    return tmp_path / "bench.zip"


@pytest.fixture
def other(tmp_path):
    return bench_at(tmp_path / "other")


def told(settings, *, of_jar_a=False):
    """All that records, verdict, curves and pages of a bench rest on."""
    data = settings.bench.data
    with open_read(data) as reader:
        burns = [one for one in reader.burns() if not one.lit]
        if of_jar_a:
            burns = [one for one in burns if one.trial == TRIAL]
        kept = {one.id for one in burns}
        return {
            "burns": [replace(one, cooled=True, number=None) for one in burns],
            "messages": [records.burn_message(data, one.id) for one in burns],
            "html": [record_html(records.load(reader, one.id)) for one in burns],
            "ledgers": [reader.ledger(one).lines for one in burns],
            "verdict": Judging(data).message(TRIAL),
            "entries": [one for one in reader.entries() if one.burn in kept],
            "events": [one.event for one in reader.events() if one.event.burn in kept],
            "estimates": list(reader.estimates("jar-a-wall-3")),
            "readings": list(reader.readings("jar-a-wall-3")),
            "shelf": reader.record_versions("vessel", "amber-75"),
            "settings": [reader.burn_settings(one) for one in kept],
            "calibrations": reader.calibrations(),
        }


def content(settings):
    con = sqlite3.connect(settings.bench.data / FILE_NAME)
    found = "\n".join(con.iterdump())
    con.close()
    return found


def test_a_bench_comes_back_as_it_was_and_twice_in_is_harmless(bench, package, other, tmp_path):
    would = import_package(other, package, dry_run=True)
    assert not other.bench.data.exists()
    found = import_package(other, package, dry_run=False)
    assert found == would
    assert (found.new["burns"], found.new["records"], found.before) == (3, 5, "")
    assert told(other) == told(bench)
    with open_read(other.bench.data) as reader:
        assert [one.number for one in reader.burns()] == [1, 2, 3]
        shown = records.load(reader, HOT).photos
        assert [one.jpeg for one in shown] == [JPEG]
        assert not any(one.delivered is False for one in reader.events())
        assert not reader._all("SELECT * FROM alarm")
    before = content(other)
    again = import_package(other, package, dry_run=False)
    assert again.before == "imported from bench.zip at 2031-06-24T17:53:20Z"
    with zipfile.ZipFile(package) as archive:
        archive.extractall(tmp_path / "unpacked")
    for where in (tmp_path / "unpacked", tmp_path / "unpacked" / "datapackage.json"):
        assert import_package(other, where, dry_run=False).before == again.before
    export_package(other, Selection(), tmp_path / "once-more.zip")
    assert import_package(other, tmp_path / "once-more.zip", dry_run=False).before == "stored"
    assert import_package(bench, package, dry_run=False).before == "stored"
    assert content(other) == before


def test_a_burn_that_is_lit_stays_out_and_is_told(bench, tmp_path):
    made = export_package(bench, Selection(), tmp_path / "bench.zip")
    assert list(made.lines())[1] == (
        "burn 4 is still lit and not in it: export again once it is out"
    )
    with zipfile.ZipFile(tmp_path / "bench.zip") as archive:
        assert f"jar-b-{int(AT_S) + 80_100}" not in archive.read("data/burns.csv").decode()


def test_a_trial_alone_is_judged_the_same_and_holds_nothing_of_others(bench, other, tmp_path):
    export_package(bench, Selection(trial=TRIAL), tmp_path / "trial.zip")
    with zipfile.ZipFile(tmp_path / "trial.zip") as archive:
        text = "".join(archive.read(name).decode() for name in archive.namelist()[:-2])
    assert "=cotton 4" not in text  # the other trial's name
    assert not [
        line for line in text.splitlines() if ",jar-b-wall," in line and "probes" not in line
    ]
    assert '"other"' not in text
    import_package(other, tmp_path / "trial.zip", dry_run=False)
    assert told(other, of_jar_a=True) == told(bench, of_jar_a=True)
    export_package(bench, Selection(), tmp_path / "bench.zip")
    rest = import_package(other, tmp_path / "bench.zip", dry_run=False)
    assert rest.new["burns"] == 1  # the other jar's
    mine, theirs = told(other), told(bench)
    for key in ("burns", "verdict", "estimates", "readings", "shelf", "calibrations"):
        assert mine[key] == theirs[key]  # the rest may come in another order
    export_package(bench, Selection(burn=HOT), tmp_path / "burn.zip")
    assert import_package(other, tmp_path / "burn.zip", dry_run=False).before == "stored"


async def test_what_was_entered_since_comes_with_the_later_package(bench, package, other, tmp_path):
    import_package(other, package, dry_run=False)
    at_s = NOW_S - 60.0
    note = Note(at_s=at_s, entered_s=at_s, id="since", station="jar-a", text="rim black")
    await enter_offline(bench, note)
    export_package(bench, Selection(), tmp_path / "later.zip")
    found = import_package(other, tmp_path / "later.zip", dry_run=False)
    assert (found.new["burns"], found.new["entries"]) == (0, 1)
    assert told(other) == told(bench)
    before = content(other)
    assert import_package(other, package, dry_run=False).before
    assert content(other) == before


def rewritten(package, to, change):
    """The package with some files changed as `change` says, and described as they now are."""
    with zipfile.ZipFile(package) as old, zipfile.ZipFile(to, "w") as new:
        files = {name: old.read(name) for name in old.namelist()}
        change(files)
        described = json.loads(files["datapackage.json"])
        for one in described["resources"]:
            if one["path"] in files:
                one["bytes"] = len(files[one["path"]])
                one["hash"] = "sha256:" + hashlib.sha256(files[one["path"]]).hexdigest()
        files["datapackage.json"] = json.dumps(described).encode()
        for name, text in files.items():
            new.writestr(name, text)
    return to


def replaced(path, old, new):
    def change(files):
        assert old.encode() in files[path]
        files[path] = files[path].replace(old.encode(), new.encode(), 1)

    return change


@pytest.mark.parametrize(
    ("change", "says"),
    [
        (
            replaced(
                "data/burns.csv", "2031-06-23T16:53:20.500000Z", "2031-06-23T16:53:21.500000Z"
            ),
            "data/burns.csv:2: column lit and its body differ",
        ),
        (
            replaced("data/entries.csv", "Calibrated", "Calibrat"),
            "data/entries.csv:2: 'Calibrat'",
        ),
        (
            replaced("data/estimates.csv", "good", "splendid"),
            "'splendid' is not a valid Quality",
        ),
        (
            replaced("data/readings.csv", "time,channel", "when,channel"),
            "data/readings.csv:1: must read time,channel,value",
        ),
        (replaced("data/records.csv", "vessel", "vassel"), 'there is no "vassel" on a shelf'),
        (
            replaced("data/settings.csv", '""limits""', '""limit""'),
            "data/settings.csv:",
        ),
        (lambda files: files.pop("data/events.csv"), "data/events.csv is missing"),
        (
            lambda files: files.update({"data/readings.csv": b"time,channel,value\n\xff\n"}),
            "data/readings.csv",
        ),
        (
            replaced("datapackage.json", '"format": 1', '"format": 9'),
            "its tables are of version 9, this program knows 1",
        ),
        (
            replaced("datapackage.json", '"path": "data/photos.csv"', '"path": "../photos.csv"'),
            "../photos.csv is none of the files of such a package",
        ),
    ],
)
def test_a_package_that_says_what_cannot_be_is_refused_whole(
    package, other, tmp_path, change, says
):
    path = rewritten(package, tmp_path / "wrong.zip", change)
    with pytest.raises(DataError) as raised:
        import_package(other, path, dry_run=False)
    assert says in str(raised.value)
    assert str(raised.value).startswith("wrong.zip: ")
    assert not (other.bench.data / FILE_NAME).exists()


def test_a_package_that_is_damaged_is_refused_whole(package, other, tmp_path):
    whole = package.read_bytes()
    with zipfile.ZipFile(package) as archive:
        archive.extractall(tmp_path / "unpacked")
        names = [name for name in archive.namelist() if name != "datapackage.json"]
        directory = range(archive.start_dir, len(whole))  # sizes of files, and where they begin
    for name in names:  # a byte that is another, in each file
        path = tmp_path / "unpacked" / name
        before = path.read_bytes()
        path.write_bytes(before[:-1] + bytes([before[-1] ^ 1]))
        with pytest.raises(FileFaults, match="damaged or was changed since"):
            import_package(other, path.parents[1], dry_run=False)
        path.write_bytes(before[:-1])
        with pytest.raises(FileFaults, match="has not the"):
            import_package(other, path.parents[1], dry_run=False)
        path.write_bytes(before)
    for cut in range(0, len(whole), len(whole) // 8):
        (tmp_path / "cut.zip").write_bytes(whole[:cut])
        with pytest.raises(DataError, match=r"cut\.zip"):
            import_package(other, tmp_path / "cut.zip", dry_run=False)
    for at in (*range(0, len(whole), len(whole) // 50), *directory):
        (tmp_path / "bit.zip").write_bytes(whole[:at] + bytes([whole[at] ^ 4]) + whole[at + 1 :])
        try:
            import_package(other, tmp_path / "bit.zip", dry_run=True)
        except DataError as exc:
            assert "bit.zip" in str(exc)  # noqa: PT017 - a time or a comment of the ZIP may pass
    (tmp_path / "empty").mkdir()
    with pytest.raises(DataError, match=r"empty: datapackage\.json is missing"):
        import_package(other, tmp_path / "empty", dry_run=False)
    assert not (other.bench.data / FILE_NAME).exists()


def test_a_disk_that_fails_half_way_leaves_nothing(package, other, monkeypatch):
    def failing(self):
        yield Reading(channel="room", value=22.0, at_s=AT_S)
        raise OSError("unplugged")

    import_package(other, package, dry_run=True)
    add = package_rows.add

    def broken(con, new, **more):
        return add(con, replace(new, readings=failing(None)), **more)

    monkeypatch.setattr(package_rows, "add", broken)
    with pytest.raises(Exception, match="unplugged"):
        import_package(other, package, dry_run=False)
    monkeypatch.undo()
    with open_read(other.bench.data) as reader:
        assert not (reader.burns())
        assert not (reader.entries())
        assert not (list(reader.readings()))
        assert not reader.imports()
    assert not list(photos.folder_of(other.bench.data / FILE_NAME).glob("*"))


async def test_what_contradicts_the_folder_refuses_the_whole(bench, package, other, tmp_path):
    """Another bench with probes of the same names, whose jar burned at the same time."""
    import_package(other, package, dry_run=False)
    path = rewritten(
        package,
        tmp_path / "other.zip",
        lambda files: [
            replaced("data/readings.csv", ",room,2", ",room,3")(files),
            replaced("data/records.csv", "3.5 in", "3.6 in")(files),
        ],
    )
    before = content(other)
    with pytest.raises(FileFaults) as raised:
        import_package(other, path, dry_run=False)
    readings, shelf = sorted(raised.value.problems)
    assert "room of 2031-" in readings
    assert "lies among others of this channel" in readings
    assert "vessel amber-75 is on the shelf already and says something else" in shelf
    assert content(other) == before


async def test_a_calibration_never_corrects_what_another_bench_measures(package, tmp_path):
    own = bench_at(tmp_path / "own")
    store = await Store.open(own.bench.data)
    await store.begin_run(settings_text="", bench=bench_of(own), started_s=AT_S, version="0")
    mine = Reading(channel="jar-a-wall-3", value=22.0, at_s=AT_S + 85_000.0)
    await store.append([(mine, [])])
    await store.close()
    with pytest.raises(FileFaults, match="would correct what this bench measures itself"):
        import_package(own, package, dry_run=False)


def test_while_the_service_runs_only_a_dry_run_is_made(package, other):
    lock = DataLock.acquire(other.bench.data)
    try:
        with pytest.raises(StoreLocked, match="stop it, import, start it again"):
            import_package(other, package, dry_run=False)
        assert import_package(other, package, dry_run=True).new["burns"] == 3
    finally:
        lock.release()


def test_the_commands(bench, other, tmp_path):
    def command(*words, settings=bench):
        config = tmp_path / f"{settings.bench.data.name}.toml"
        config.write_text(settings.text)
        return typed(*words, "--config", str(config))

    made = command("export", "-o", str(tmp_path / "a.zip"), "--license", "CC-BY-4.0", "--json")
    assert json.loads(made.stdout)["rows"]["burns"] == 3
    with zipfile.ZipFile(tmp_path / "a.zip") as archive:
        described = json.loads(archive.read("datapackage.json"))
        rows = list(csv.DictReader(io.StringIO(archive.read("data/burns.csv").decode())))
    assert described["licenses"] == [{"name": "CC-BY-4.0"}]
    assert rows[1]["trial"] == "'=cotton 4, soy"  # no spreadsheet takes it for a formula
    assert "exists and was left" in command("export", "-o", str(tmp_path / "a.zip")).stderr
    assert command("export", "--license", "x", "-o", str(tmp_path / "b.csv")).returncode == 2
    assert command("export", "--from", "2031-05-04", "-o", str(tmp_path / "b.zip")).returncode == 2
    wrong = command("export", "--license", "my own", "-o", str(tmp_path / "b.zip"))
    assert "give a short name without spaces" in wrong.stderr
    assert not (tmp_path / "b.zip").exists()
    tried = command("import", str(tmp_path / "a.zip"), "--dry-run", settings=other)
    assert tried.stdout.startswith("a.zip: 3 burns, ")
    assert tried.stdout.endswith(" would be imported\n")
    brought = command("import", str(tmp_path / "a.zip"), "--json", settings=other)
    assert json.loads(brought.stdout)["imported"] is True
    again = command("import", str(tmp_path / "a.zip"), settings=other)
    assert again.stdout.startswith("nothing was changed: all of a.zip was imported from a.zip at ")
    shown = command("verify", "--json", settings=other)
    assert json.loads(shown.stdout)["ok"] is True


def test_what_is_damaged_in_the_bench_is_not_left_out_silently(bench, tmp_path):
    con = sqlite3.connect(bench.bench.data / FILE_NAME)
    with con:
        con.execute("UPDATE event SET body = '{' WHERE seq = 3")
    con.close()
    with pytest.raises(DataError, match=r"nothing was written: table event, row 3 is damaged"):
        export_package(bench, Selection(), tmp_path / "bench.zip")
    assert not (tmp_path / "bench.zip").exists()
    with pytest.raises(UsageError):
        export_package(bench, Selection(trial="a", burn="b"), tmp_path / "bench.zip")


def test_a_photo_that_is_missing_is_told(bench, tmp_path):
    shutil.rmtree(photos.folder_of(bench.bench.data / FILE_NAME))
    made = export_package(bench, Selection(trial=TRIAL), tmp_path / "trial.zip")
    assert made.rows["photos"] == 0
    assert "is not there" in made.no_photos[0]
