"""The files of a database, as they were opened: somebody may remove or replace them meanwhile.

SQLite goes on writing into a file that has no name any more, and says nothing. So each commit is
preceded by a look at device and inode of what stands at the paths now.
"""

import contextlib
import errno
import logging
import os
import shlex
import sqlite3
import stat
from collections.abc import Iterator
from pathlib import Path

from logger.errors import StoreError

log = logging.getLogger(__name__)

_BESIDE = ("-wal", "-shm")  # what SQLite keeps beside the file; the writer holds both open


def make_folder(folder: Path) -> None:
    """Make the data folder where there is none, for its owner alone; raises OSError."""
    folder.parent.mkdir(parents=True, exist_ok=True)
    with contextlib.suppress(FileExistsError):
        folder.mkdir(mode=0o700)
    if not folder.is_dir():
        raise NotADirectoryError(errno.ENOTDIR, os.strerror(errno.ENOTDIR))
    _tighten(folder, 0o700)


def make_private(path: Path) -> None:
    """The database's files for their owner alone, the first made where it is missing.

    SQLite gives the files beside it the first one's mode. Raises OSError.
    """
    with contextlib.suppress(FileExistsError):
        os.close(os.open(path, os.O_RDWR | os.O_CREAT | os.O_EXCL | os.O_CLOEXEC, 0o600))
    for one in _all(path):
        with contextlib.suppress(FileNotFoundError):
            _tighten(one, 0o600)


def _tighten(path: Path, mode: int) -> None:
    """Take from others what a version before, or a copy, left to them."""
    found = stat.S_IMODE(path.stat().st_mode)
    if not found & 0o077:
        return
    try:
        path.chmod(mode)
    except PermissionError:
        log.warning(
            "%s is open to others (mode %o), and not ours: let its owner type `chmod %o %s`",
            path,
            found,
            mode,
            shlex.quote(str(path)),
        )
    else:
        log.warning("%s was open to others (mode %o); now it is for its owner alone", path, found)


def same(file: int, path: Path) -> bool:
    """Whether the open `file` is what stands at `path`."""
    return _identity(path) == _identity(file)


class OpenFiles:
    """Which files were opened at the paths of a database."""

    def __init__(self, path: Path) -> None:
        self._path = path
        self._opened = {one: _identity(one) for one in _all(path)}

    def changed(self) -> list[Path]:
        """Those that are gone, or are others now. May block on a hanging disk."""
        return [one for one, opened in self._opened.items() if _identity(one) != opened]


def rescue(con: sqlite3.Connection, path: Path, changed: list[Path], stamp: str) -> None:
    """Put all that `con` still holds back at `path`, and close `con`; then it can be opened anew.

    What others put there is moved aside under a name with `stamp`, never overwritten. Raises
    StoreError or sqlite3.Error, with `con` still open.
    """
    if path in changed:
        saved = path.with_name(f"{path.name}.rescued")
        _copy(con, saved)
        _move_aside(path, stamp)
        saved.replace(path)
        _sync_folder(path.parent)
    else:  # the file itself is ours: bring into it what is in the log that has lost its name
        busy, frames, done = con.execute("PRAGMA wal_checkpoint(TRUNCATE)").fetchone()
        if busy or frames != done:
            raise StoreError(f"another program reads {path}: close it")
        for one in changed:
            _aside(one, stamp)
    con.close()  # of a moved file SQLite removes nothing; of its own the empty log


def _copy(con: sqlite3.Connection, to: Path) -> None:
    for one in _all(to):
        one.unlink(missing_ok=True)
    make_folder(to.parent)
    make_private(to)
    with contextlib.closing(sqlite3.connect(to, isolation_level=None)) as copy:
        con.backup(copy)
        copy.execute("PRAGMA journal_mode = DELETE")  # one file, which a rename can move


def _move_aside(path: Path, stamp: str) -> None:
    for one in _all(path):
        _aside(one, stamp)


def _aside(one: Path, stamp: str) -> None:
    with contextlib.suppress(FileNotFoundError):
        if one.stat().st_size == 0:  # as a reader leaves it
            one.unlink()
        else:
            aside = one.with_name(f"found-{stamp}-{one.name}")
            one.rename(aside)
            log.warning("%s was put there by others: moved to %s", one, aside)


def _all(path: Path) -> Iterator[Path]:
    yield path
    for suffix in _BESIDE:
        yield path.with_name(path.name + suffix)


def _identity(path: Path | int) -> tuple[int, int] | None:
    try:
        found = os.stat(path)
    except (FileNotFoundError, NotADirectoryError):
        return None
    return found.st_dev, found.st_ino


def _sync_folder(folder: Path) -> None:
    file = os.open(folder, os.O_RDONLY | os.O_DIRECTORY)
    try:
        os.fsync(file)
    finally:
        os.close(file)
