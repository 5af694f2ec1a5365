"""Who holds a bench's data folder: one service, or one command that writes.

The lock is the kernel's (flock), so it ends with its process, however that ends; the file's text
only says whose it is and is believed only while the lock is held.
"""

import contextlib
import fcntl
import json
import os
import time
from dataclasses import dataclass
from pathlib import Path

from logger.errors import StoreError, StoreLocked
from logger.timestamps import rfc3339

LOCK_NAME = "bench.lock"

_TRIES = 15  # who only looks holds the lock for microseconds; who has just taken it writes soon
_PAUSE_S = 0.02


@dataclass(frozen=True, slots=True, kw_only=True)
class Holder:
    """The process that holds a data folder now."""

    pid: int
    started_s: float
    address: str | None = None  # of the running service, once it answers


class DataLock:
    """The right to write in a data folder, until `release` or the end of the process."""

    def __init__(self, path: Path, file: int, holder: Holder) -> None:
        self._path = path
        self._file = file
        self._holder = holder

    @classmethod
    def acquire(cls, data: Path) -> "DataLock":
        """Take the folder `data`, made if missing; where another has it, within 0.3 s.

        Raises StoreLocked, which says who has it since when.
        """
        path = data / LOCK_NAME
        try:
            data.mkdir(parents=True, exist_ok=True)
            file = os.open(path, os.O_RDWR | os.O_CREAT | os.O_CLOEXEC, 0o644)
        except OSError as exc:
            raise StoreError(
                f"{data} cannot be the data folder ({exc.strerror}): give this user the right to "
                "write there, or set another under [bench] data"
            ) from exc
        if not _take(file, fcntl.LOCK_EX):
            os.close(file)
            raise StoreLocked(_refusal(data, holder(data)))
        lock = cls(path, file, Holder(pid=os.getpid(), started_s=round(time.time(), 6)))
        try:
            lock._write()
        except StoreError:
            lock.release()
            raise
        return lock

    def publish_address(self, url: str) -> None:
        """Say where the service answers, for the commands that talk to it."""
        self._holder = Holder(pid=self._holder.pid, started_s=self._holder.started_s, address=url)
        self._write()

    def release(self) -> None:
        """Let others take the folder; a second call does nothing."""
        if self._file >= 0:
            fcntl.flock(self._file, fcntl.LOCK_UN)  # a child may have the file open still
            os.close(self._file)
            self._file = -1

    def _write(self) -> None:
        text = json.dumps(
            {
                "pid": self._holder.pid,
                "started": self._holder.started_s,
                "address": self._holder.address,
            }
        ).encode()
        try:
            os.pwrite(self._file, text, 0)
            os.ftruncate(self._file, len(text))
        except OSError as exc:  # the lock holds without its text, a full disk is told elsewhere
            raise StoreError(f"{self._path} cannot be written: {exc.strerror}") from exc


def holder(data: Path) -> Holder | None:
    """Who holds `data` now; None when nobody does, whatever a file of the past says.

    May wait up to 0.3 s for a process that is just starting. Raises StoreLocked if that one then
    still does not say who it is.
    """
    found: Holder | None = None
    try:
        file = os.open(data / LOCK_NAME, os.O_RDONLY | os.O_CLOEXEC)
    except FileNotFoundError:
        return None
    except OSError as exc:
        raise StoreError(f"{data / LOCK_NAME} cannot be read: {exc.strerror}") from exc
    try:
        for _ in range(_TRIES):
            if _try(file, fcntl.LOCK_SH):
                return None
            with contextlib.suppress(ValueError, KeyError, TypeError):
                text = json.loads(os.pread(file, 4096, 0))
                found = Holder(pid=text["pid"], started_s=text["started"], address=text["address"])
                if _lives(found.pid):  # else: the text is of the one before, soon overwritten
                    return found
            time.sleep(_PAUSE_S)
    finally:
        os.close(file)
    if found is None:
        raise StoreLocked(f"{data} is held by a process that does not say who it is: try again")
    return found  # it lives in another container, say, where we cannot see it


def _try(file: int, how: int) -> bool:
    try:
        fcntl.flock(file, how | fcntl.LOCK_NB)
    except BlockingIOError:
        return False
    return True


def _take(file: int, how: int) -> bool:
    for left in reversed(range(_TRIES)):
        if _try(file, how):
            return True
        if left:
            time.sleep(_PAUSE_S)
    return False


def _lives(pid: int) -> bool:
    try:
        os.kill(pid, 0)
    except ProcessLookupError:
        return False
    except PermissionError:
        pass
    return True


def _refusal(data: Path, now: Holder | None) -> str:
    if now is None:
        return f"{data} was held by another process until this moment: try again"
    where = f", at {now.address}" if now.address else ""
    return (
        f"{data} is held by the wickbench process {now.pid} since "
        f"{rfc3339(now.started_s, digits=0)}{where}: stop that one first, or set another folder "
        "under [bench] data"
    )
