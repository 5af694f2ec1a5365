"""Who holds a bench's data folder: one service, or one command that writes.

Two locks are held, and either is enough to refuse another process. The kernel's lock (flock) on a
file in the folder holds by whatever path and in whatever container the folder is reached. A name
in the kernel (`claim`) holds when that file was removed, or cannot be made on a failing disk. Both
end with their process, however that ends. The name answers who holds the folder; the file's text
says it where the name cannot be seen, and is believed only while the file is locked.
"""

import contextlib
import fcntl
import json
import logging
import os
import threading
import time
from dataclasses import asdict, dataclass, replace
from pathlib import Path

from logger.errors import StoreError, StoreLocked
from logger.store import claim
from logger.store.claim import Claim
from logger.store.files import make_folder, same
from logger.timestamps import rfc3339

log = logging.getLogger(__name__)

LOCK_NAME = "bench.lock"

_TRIES = 15  # who only looks holds the lock for microseconds; who has just taken it writes soon
_PAUSE_S = 0.02


@dataclass(frozen=True, slots=True, kw_only=True)
class Holder:
    """The process that holds a data folder now."""

    pid: int
    started: float  # Unix seconds
    address: str | None = None  # of the running service, once it answers

    def text(self) -> bytes:
        """As it stands in the lock file, and as the claim answers."""
        return json.dumps(asdict(self)).encode()

    @classmethod
    def of(cls, text: bytes) -> "Holder | None":
        """The inverse; None for a text that is none."""
        with contextlib.suppress(ValueError, KeyError, TypeError):
            found = json.loads(text)
            return cls(pid=found["pid"], started=found["started"], address=found["address"])
        return None


class DataLock:
    """The right to write in a data folder, until `release` or the end of the process."""

    def __init__(self, data: Path, holder: Holder, name: Claim) -> None:
        self._path = data / LOCK_NAME
        self._holder = holder
        self._name = name
        self._file = -1
        self._written: Holder | None = None  # as the file has it
        self._turn = threading.Lock()

    @classmethod
    def acquire(cls, data: Path) -> "DataLock":
        """Take the folder `data`, made if missing; where another has it, within 0.3 s.

        Raises StoreLocked, which says who has it since when.
        """
        lock = cls.claim(data)
        try:
            lock.keep()
        except BaseException:
            lock.release()
            raise
        return lock

    @classmethod
    def claim(cls, data: Path) -> "DataLock":
        """Take the folder by its name alone, which needs no disk; `keep` takes its file later.

        Raises StoreLocked.
        """
        mine = Holder(pid=os.getpid(), started=round(time.time(), 6))
        name = Claim.take(data, mine.text())
        if name is None:
            raise StoreLocked(_refusal(data, holder(data)))
        return cls(data, mine, name)

    def keep(self) -> None:
        """Hold the lock's file, made anew where it was removed; blocks while the disk hangs.

        Raises StoreError where it was removed or cannot be made, StoreLocked where another
        process holds it.
        """
        with self._turn:
            lost = self._file >= 0 and not same(self._file, self._path)
            if self._file < 0 or lost:
                self._take_file()
            self._write()
        if lost:
            raise StoreError(
                f"{self._path} was removed while the bench runs, and has been made anew: leave "
                f"the files in {self._path.parent} alone"
            )

    def publish_address(self, url: str) -> None:
        """Say where the service answers, for the commands that talk to it; touches no disk."""
        self._holder = replace(self._holder, address=url)
        self._name.text = self._holder.text()

    def release(self) -> None:
        """Let others take the folder; a second call does nothing."""
        if self._file >= 0:
            fcntl.flock(self._file, fcntl.LOCK_UN)  # a child may have the file open still
            os.close(self._file)
            self._file = -1
        self._name.release()

    def _take_file(self) -> None:
        data = self._path.parent
        try:
            make_folder(data)
            file = os.open(self._path, os.O_RDWR | os.O_CREAT | os.O_CLOEXEC, 0o600)
        except OSError as exc:
            raise StoreError(
                f"{data} cannot be the data folder ({exc.strerror}): give this user the right to "
                "write there, or set another under [bench] data"
            ) from exc
        if not _take(file, fcntl.LOCK_EX):
            os.close(file)
            raise StoreLocked(_refusal(data, _holder_of_file(data)))
        if self._file >= 0:
            os.close(self._file)
        self._file, self._written = file, None

    def _write(self) -> None:
        """The file's text; it holds without, so a full disk is no reason to let go."""
        if self._written == self._holder:
            return
        text = self._holder.text()
        try:
            os.fchmod(self._file, 0o600)  # of a version that let others read it
            os.pwrite(self._file, text, 0)
            os.ftruncate(self._file, len(text))
        except OSError as exc:
            log.warning("%s cannot be written: %s", self._path, exc.strerror)
        self._written = self._holder


def holder(data: Path) -> Holder | None:
    """Who holds `data` now; None when nobody does, whatever a file of the past says.

    May wait up to 0.3 s for a process that is just starting. Raises StoreLocked if that one then
    still does not say who it is.
    """
    answer = claim.ask(data)
    return _holder_of_file(data) if answer is None else Holder.of(answer)


def _holder_of_file(data: Path) -> Holder | None:
    """Who holds the lock file."""
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
            found = Holder.of(os.pread(file, 4096, 0))
            if found is not None and _lives(found.pid):  # else it is of the one before
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
        f"{rfc3339(now.started, digits=0)}{where}: stop that one first, or set another folder "
        "under [bench] data"
    )
