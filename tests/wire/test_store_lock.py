"""The lock of a data folder: one holder, known to others, gone with its process."""

import json
import os
import shutil
import signal
import subprocess
import sys

import pytest

from logger.errors import StoreError, StoreLocked
from logger.store.lock import LOCK_NAME, DataLock, holder
from logger.store.opening import FILE_NAME, open_to_write

HOLD = """
import sys, time
from pathlib import Path
from logger.store.lock import DataLock
lock = DataLock.acquire(Path(sys.argv[1]))
lock.publish_address("http://127.0.0.1:8470")
print("held", flush=True)
sys.stdin.read()
"""


@pytest.fixture
def other(tmp_path):
    """Another process that holds the lock until it is killed."""
    with subprocess.Popen(
        [sys.executable, "-c", HOLD, str(tmp_path)], stdin=subprocess.PIPE, stdout=subprocess.PIPE
    ) as process:
        assert process.stdout.readline() == b"held\n"
        yield process
        process.kill()


def test_nobody_holds_a_folder_that_is_not_there(tmp_path):
    assert holder(tmp_path / "none") is None
    assert not (tmp_path / "none").exists()


def test_the_holder_is_known_with_its_address(tmp_path):
    lock = DataLock.acquire(tmp_path / "new" / "bench")
    data = tmp_path / "new" / "bench"
    assert holder(data).pid == os.getpid()
    assert holder(data).address is None
    lock.publish_address("http://127.0.0.1:8470")
    assert holder(data).address == "http://127.0.0.1:8470"
    with pytest.raises(StoreLocked):
        DataLock.acquire(data)
    lock.release()
    lock.release()
    assert holder(data) is None
    DataLock.acquire(data).release()


def test_a_second_process_is_refused_and_told_whom_to_stop(tmp_path, other):
    with pytest.raises(StoreLocked) as refused:
        DataLock.acquire(tmp_path)
    for told in (str(tmp_path), str(other.pid), "http://127.0.0.1:8470", "since 20", "stop"):
        assert told in str(refused.value)
    assert holder(tmp_path).pid == other.pid


def test_a_killed_process_holds_nothing(tmp_path, other):
    other.send_signal(signal.SIGKILL)
    other.wait()
    assert json.loads((tmp_path / LOCK_NAME).read_text())["pid"] == other.pid  # its text is stale
    assert holder(tmp_path) is None
    lock = DataLock.acquire(tmp_path)
    assert holder(tmp_path).pid == os.getpid()
    assert holder(tmp_path).address is None
    lock.release()


def test_the_text_of_the_one_before_is_not_believed_of_the_next(tmp_path, other, monkeypatch):
    original = DataLock._write
    other.send_signal(signal.SIGKILL)
    other.wait()
    monkeypatch.setattr(DataLock, "_write", lambda self: None)  # taken, and not yet written
    monkeypatch.setattr("logger.store.claim.ask", lambda data: None)  # as from another container
    lock = DataLock.acquire(tmp_path)
    writes = []

    def write_meanwhile(pause_s):
        if not writes:
            monkeypatch.setattr(DataLock, "_write", original)
            lock._write()
            writes.append(pause_s)

    monkeypatch.setattr("logger.store.lock.time.sleep", write_meanwhile)
    assert holder(tmp_path).pid == os.getpid()
    assert writes
    lock.release()


def test_who_looks_does_not_keep_others_out(tmp_path, monkeypatch):
    import fcntl

    DataLock.acquire(tmp_path).release()
    looking = os.open(tmp_path / LOCK_NAME, os.O_RDONLY)
    fcntl.flock(looking, fcntl.LOCK_SH)
    monkeypatch.setattr("logger.store.lock.time.sleep", lambda pause_s: os.close(looking))
    DataLock.acquire(tmp_path).release()


def test_a_folder_that_cannot_be_is_an_error_with_its_remedy(tmp_path):
    (tmp_path / "file").write_text("")
    with pytest.raises(StoreError, match=r"cannot be the data folder .*\[bench\] data"):
        DataLock.acquire(tmp_path / "file")


@pytest.mark.parametrize("removed", ["lock", "folder"])
def test_a_removed_lock_keeps_others_out_and_is_made_anew(tmp_path, removed):
    data = tmp_path / "data"
    lock = DataLock.acquire(data)
    lock.keep()
    if removed == "lock":
        (data / LOCK_NAME).unlink()
    else:
        shutil.rmtree(data)
    with pytest.raises(StoreLocked, match=f"process {os.getpid()} since"):
        DataLock.acquire(data)
    assert holder(data).pid == os.getpid()
    with pytest.raises(StoreError, match="was removed while the bench runs"):
        lock.keep()
    lock.keep()
    assert json.loads((data / LOCK_NAME).read_text())["pid"] == os.getpid()
    lock.release()
    assert holder(data) is None
    DataLock.acquire(data).release()


def test_the_file_alone_keeps_out_who_cannot_see_the_name(tmp_path, other):
    (tmp_path / "by-another-path").symlink_to(tmp_path)
    with pytest.raises(StoreLocked, match=str(other.pid)):
        DataLock.acquire(tmp_path / "by-another-path")


def test_a_holder_that_is_stopped_still_holds(tmp_path, other, monkeypatch):
    monkeypatch.setattr("logger.store.claim._ANSWER_S", 0.1)
    other.send_signal(signal.SIGSTOP)
    os.waitpid(other.pid, os.WUNTRACED)
    with pytest.raises(StoreLocked, match=f"process {other.pid}, which does not answer"):
        DataLock.acquire(tmp_path)


def test_folder_and_files_are_their_owners_alone(tmp_path):
    data = tmp_path / "data"
    before = os.umask(0)
    try:
        lock = DataLock.acquire(data)
        con = open_to_write(data / FILE_NAME)
        modes = {one.name: oct(one.stat().st_mode & 0o777) for one in data.iterdir()}
    finally:
        os.umask(before)
    con.close()
    lock.release()
    assert oct(data.stat().st_mode & 0o777) == "0o700"
    assert set(modes.values()) == {"0o600"}
    assert len(modes) == 4  # lock, database, its log and the index of that
    (data / FILE_NAME).chmod(0o644)  # as an earlier version left it
    open_to_write(data / FILE_NAME).close()
    assert oct((data / FILE_NAME).stat().st_mode & 0o777) == "0o600"
