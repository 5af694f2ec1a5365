"""A disk that hangs, is full or read-only, and files that somebody removes, while a candle burns.

The disk is a real file system in a file, mounted for the test; freezing it makes every write hang.
"""

import contextlib
import os
import shutil
import subprocess
import threading
import time

import pytest

from logger.store.queries import open_read
from logger.timestamps import parse_rfc3339
from tests.support.waiting import patient, until

pytestmark = pytest.mark.faults

ENTERED = ["Emergency", "Acknowledge", "Out"]
EFFECTIVE_S = 1.0  # an entry that counts
START_S = 5.0
NOTICED_S = 5.0


class Disk:
    """A small file system of its own at the bench's data folder."""

    def __init__(self, image, folder) -> None:
        self.folder = folder
        self.image = image
        self.frozen = False

    def mount(self) -> None:
        self._run("mount", "-o", "loop", str(self.image), str(self.folder))

    def unmount(self) -> None:
        self._run("umount", str(self.folder))

    def hang(self) -> None:
        self._run("fsfreeze", "-f", str(self.folder))
        self.frozen = True

    def fill(self) -> None:
        with contextlib.suppress(OSError), (self.folder / "ballast").open("wb", 0) as ballast:
            while True:
                ballast.write(bytes(4096))

    def read_only(self) -> None:
        self._run("mount", "-o", "remount,ro", str(self.folder))

    def heal(self) -> None:
        if self.frozen:
            self._run("fsfreeze", "-u", str(self.folder))
            self.frozen = False
        elif (self.folder / "ballast").exists():
            (self.folder / "ballast").unlink()
        else:
            self._run("mount", "-o", "remount,rw", str(self.folder))

    def _run(self, *words) -> None:
        subprocess.run(words, check=True, capture_output=True, timeout=patient(20))


@pytest.fixture
def disk(bench, tmp_path):
    if os.geteuid() or not all(map(shutil.which, ("mkfs.ext4", "fsfreeze"))):
        pytest.skip("mounting a disk of its own takes root, mkfs.ext4 and fsfreeze")
    image = tmp_path / "disk.img"
    with image.open("wb") as file:
        file.truncate(6 * 2**20)  # so small a disk gets blocks of 1 KiB
    subprocess.run(["mkfs.ext4", "-q", "-m", "0", image], check=True, capture_output=True)
    bench.data.mkdir()
    disk = Disk(image, bench.data)
    try:
        disk.mount()
    except subprocess.CalledProcessError as exc:
        pytest.skip(f"nothing can be mounted here: {exc.stderr.decode()}")
    yield disk
    if disk.frozen:
        disk.heal()
    if bench.process is not None and bench.process.poll() is None:
        bench.kill()
    disk.unmount()


def effective(bench, path, seen, **body):
    """Seconds from the post until `seen()`, whatever the answer waits for; and the answer."""
    answers = []
    posting = threading.Thread(target=lambda: answers.append(bench.post(path, **body)))
    began_s = time.monotonic()
    posting.start()
    until(seen, f"{path} counts", deadline_s=10.0)
    took_s = time.monotonic() - began_s
    posting.join()
    return took_s, answers[0]


def state(bench):
    return bench.now()["stations"][0]["state"]


def light(bench):
    status, lit = bench.post("/api/burns", station="jar-a", trial="marigold-6")
    assert status == 201, lit
    return lit["burn"]


def report_acknowledge_and_put_out(bench, burn):
    """The slowest of the three to count, in seconds, and what was answered."""
    key = "emergency/jar-a"
    took, answers = [], []
    for path, seen, body in (
        (
            f"/api/burns/{burn}/observations",
            lambda: bench.alarm(key),
            {"emergency": "flame-on-wall", "text": "on the wall"},
        ),
        (
            f"/api/alarms/{key}/acknowledge",
            lambda: bench.alarm(key)["state"] == "acknowledged",
            {"by": "Ines"},
        ),
        (f"/api/burns/{burn}/out", lambda: bench.now()["stations"][0]["out"], {}),
    ):
        one_s, answer = effective(bench, path, seen, **body)
        took.append(one_s)
        answers.append(answer)
    return max(took), answers


def storage(bench):
    alarm = bench.alarm("storage/database")
    return alarm if alarm and alarm["state"] == "unacknowledged" else None


def kinds_stored(bench):
    with open_read(bench.data) as reader:
        return [type(stored.entry).__name__ for stored in reader.entries()]


def ids_sent(bench):
    with open_read(bench.data) as reader:
        return [one.event.id for one in reader.events()]


@pytest.mark.parametrize("fault", ["hang", "fill"])
def test_what_a_person_enters_counts_at_once_while_the_disk_fails(bench, disk, fault, fault_row):
    bench.start()
    burn = light(bench)
    getattr(disk, fault)()
    took_s, answers = report_acknowledge_and_put_out(bench, burn)
    until(lambda: storage(bench), "storage is raised")
    for status, answer in answers:
        assert status == 201 or "counts already" in answer["detail"]
    assert any(status == 503 for status, _ in answers)
    disk.heal()
    until(lambda: storage(bench) is None, "the disk is well again", deadline_s=40.0)
    until(lambda: kinds_stored(bench)[-3:] == ENTERED, "all is saved")
    bench.kill()
    bench.start()
    assert state(bench) != "lit"
    ids = ids_sent(bench)
    assert len(ids) == len(set(ids))
    fault_row(
        f"disk, {fault}: emergency, out, acknowledge",
        tried=3,
        reached=f"{took_s:.2f} s",
        bar=f"<= {EFFECTIVE_S:g} s",
    )
    assert took_s <= EFFECTIVE_S


@pytest.mark.parametrize("fault", ["hang", "fill", "read-only"])
def test_a_start_on_a_failing_disk_watches_the_candle_that_was_lit(bench, disk, fault, fault_row):
    bench.start()
    burn = light(bench)
    bench.kill()
    if fault == "read-only":
        disk.read_only()
    else:
        getattr(disk, fault)()
    began_s = time.monotonic()
    bench.start(cold=True)  # it imports while the disk is waited for
    known = bench.now()["stations"][0]["burn"]
    started_s = time.monotonic() - began_s
    until(lambda: storage(bench), "storage is raised", deadline_s=NOTICED_S)
    if fault == "hang":  # such a disk does not even give what it holds: that is said
        assert known is None
        assert "look whether a candle burns" in bench.alarm("storage/records")["text"]
        disk.heal()
        until(lambda: bench.now()["stations"][0]["burn"] == burn, "it is known", deadline_s=40.0)
        disk.hang()
    assert state(bench) == "lit"
    took_s, _ = report_acknowledge_and_put_out(bench, burn)
    refused = bench.wickbench("run")
    assert refused.returncode == 1
    assert f"held by the wickbench process {bench.process.pid}" in refused.stderr
    disk.heal()
    until(lambda: storage(bench) is None, "the disk is well again", deadline_s=40.0)
    until(lambda: kinds_stored(bench)[-3:] == ENTERED, "all is saved")
    for what, reached_s, bar_s in (
        ("start", started_s, START_S),
        ("then emergency, out, acknowledge", took_s, EFFECTIVE_S),
    ):
        fault_row(
            f"disk, {fault}: {what}", tried=1, reached=f"{reached_s:.2f} s", bar=f"<= {bar_s:g} s"
        )
        assert reached_s <= 2.0 * bar_s  # twice the bar where much else runs beside it


def test_a_first_start_on_a_full_disk_is_watched_and_saved_later(bench, disk):
    disk.fill()
    bench.start()
    until(lambda: storage(bench), "storage is raised", deadline_s=NOTICED_S)
    _, answer = effective(
        bench, "/api/burns", lambda: state(bench) == "lit", station="jar-a", trial="marigold-6"
    )
    assert "counts already" in answer[1]["detail"]
    disk.heal()
    until(lambda: storage(bench) is None, "the disk is well again", deadline_s=40.0)
    assert kinds_stored(bench)[-1] == "Lit"


REMOVED = {
    "folder": shutil.rmtree,
    "database": lambda data: (data / "bench.sqlite3").unlink(),
    "wal": lambda data: (data / "bench.sqlite3-wal").unlink(),
    "lock": lambda data: (data / "bench.lock").unlink(),
    "replaced": lambda data: (data / "bench.lock").rename(data / "bench.sqlite3"),
}


@pytest.mark.parametrize("what", REMOVED)
def test_files_removed_while_running_are_noticed_and_nothing_is_lost(bench, what, fault_row):
    bench.start()
    bench.opened()
    bench.write(lambda: [45.0, 22.0])
    burn = light(bench)
    until(lambda: bench.now()["channels"][0]["estimate"], "readings come")
    began_s = time.time()
    REMOVED[what](bench.data)
    refused = bench.wickbench("run")
    assert refused.returncode == 1
    assert f"held by the wickbench process {bench.process.pid}" in refused.stderr
    until(lambda: bench.address and bench.alarm("storage/database"), "storage is raised")
    alarm = bench.alarm("storage/database")
    noticed_s = parse_rfc3339(alarm["since"]) - began_s
    assert "removed" in alarm["text"]
    until(lambda: bench.alarm("storage/database")["state"] == "returned-unacknowledged", "repaired")
    assert bench.post(f"/api/burns/{burn}/observations", text="flame 22 mm")[0] == 201
    bench.kill()
    bench.start()
    assert state(bench) == "lit"
    bench.kill()
    assert kinds_stored(bench).count("Lit") == 1
    assert "Note" in kinds_stored(bench)
    with open_read(bench.data) as reader:
        readings = list(reader.readings("jar-a-wall-3"))
        assert readings
        assert len(reader.runs()) == 2
    fault_row(
        f"removed, {what}: storage, second service refused",
        tried=1,
        reached=f"{noticed_s:.1f} s",
        bar=f"<= {NOTICED_S:g} s",
    )
    assert noticed_s <= NOTICED_S
