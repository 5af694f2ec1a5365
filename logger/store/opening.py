"""Opening the database: to write, once, and to read, by anyone."""

import contextlib
import os
import sqlite3
import tempfile
import time
from pathlib import Path

from logger.errors import StoreEmpty, StoreError
from logger.store import schema
from logger.store.files import make_folder, make_private
from logger.store.sqlite_errors import damaged, in_plain_words, is_full

FILE_NAME = "bench.sqlite3"

_LEAST_BYTES = 2**20  # free, before a database is opened to write (our choice)
# A commit writes whole pages, most of them for a few rows: of 4 KiB they wear the card by half as
# much again, of 512 bytes no less than these (measured: 965, 658 and 637 bytes a reading).
_PAGE_BYTES = 1024
_BUSY_S = 10.0  # waits this long for a lock, that is for another start to finish its migration
_CHECK_WHOLE_BYTES = 64 * 2**20  # 8 ms a MB (measured): half a second at every start


def try_to_write(data: Path) -> None:
    """Write where the database will be made, or its folder, and leave nothing behind.

    Raises StoreError.
    """
    there = next(folder for folder in (data, *data.absolute().parents) if folder.exists())
    try:
        with tempfile.TemporaryFile(dir=there) as file:
            file.write(b"wickbench check")
    except OSError as exc:
        raise StoreError(
            f"{there} cannot be written ({exc.strerror}): make room and give this user the right "
            "to write there, or set another folder under [bench] data"
        ) from exc


def open_to_write(path: Path) -> sqlite3.Connection:
    """The writer's connection, its file made or brought to this version. Raises StoreUnusable."""
    try:
        make_folder(path.parent)
        make_private(path)
    except OSError as exc:
        raise StoreError(
            f"{path} cannot be made ({exc.strerror}): make room and give this user the right to "
            "write there, or set another folder under [bench] data"
        ) from exc
    if not _has_room(path):
        raise is_full(path)
    with in_plain_words(path), contextlib.ExitStack() as undo:
        con = sqlite3.connect(path, timeout=_BUSY_S, isolation_level=None)
        con.text_factory = _text
        undo.callback(con.close)
        con.execute("PRAGMA foreign_keys = ON")
        con.execute(f"PRAGMA page_size = {_PAGE_BYTES}")  # of a file that is made now
        with schema.snapshot(con):
            schema.check_version(con, path)  # before anything is changed in what is not ours
        _write_ahead(con)
        con.execute("PRAGMA synchronous = FULL")
        schema.migrate(con, path)
        _check(con, path)
        undo.pop_all()
    return con


def _has_room(path: Path) -> bool:
    """Whether the log's index, a file in shared memory, can be made beside `path`.

    Where the disk has small blocks and no room, writing into that memory is a bus error, which
    ends the process (seen on ext4 with blocks of 1 KiB).
    """
    try:
        found = os.statvfs(path.parent)
    except OSError:
        return True
    return found.f_bavail * found.f_frsize >= _LEAST_BYTES


def _write_ahead(con: sqlite3.Connection) -> None:
    """Switch to WAL. Where two first starts meet, SQLite refuses one without waiting at all."""
    until_s = time.monotonic() + _BUSY_S
    while True:
        try:
            con.execute("PRAGMA journal_mode = WAL")
            return
        except sqlite3.OperationalError as exc:
            if exc.sqlite_errorname != "SQLITE_BUSY" or time.monotonic() > until_s:
                raise
            time.sleep(0.01)


def _check(con: sqlite3.Connection, path: Path) -> None:
    """Raise StoreUnusable where pages are damaged; of a large file all but the bulk is checked."""
    tables = {
        name for (name,) in con.execute("SELECT name FROM sqlite_schema WHERE type = 'table'")
    }
    if path.stat().st_size > _CHECK_WHOLE_BYTES:
        tables -= {"reading", "estimate", "chunk", "block"}
    for table in sorted(tables):
        (fault,) = con.execute(f"PRAGMA quick_check('{table}')").fetchone()
        if fault != "ok":
            raise damaged(path, fault)


def open_to_read(path: Path, *, older: bool = False) -> sqlite3.Connection:
    """A connection that can change nothing. Raises StoreEmpty or StoreError where it cannot be.

    With `older` also one of a file that an earlier version wrote, whose tables differ.
    """
    if not path.exists():
        raise _empty(path)
    with in_plain_words(path):
        try:
            how = "mode=ro" if _has_room(path) else "mode=ro&readonly_shm=1"
            return _reading(path, how, older=older)
        except sqlite3.OperationalError:
            log = path.with_name(f"{path.name}-wal")
            if log.exists() and log.stat().st_size:
                raise
            # of a disk that takes nothing: SQLite would make files beside this one even to read
            return _reading(path, "mode=ro&immutable=1", older=older)


def _reading(path: Path, how: str, *, older: bool) -> sqlite3.Connection:
    with contextlib.ExitStack() as undo:
        con = sqlite3.connect(
            f"{path.absolute().as_uri()}?{how}", uri=True, timeout=_BUSY_S, isolation_level=None
        )
        con.text_factory = _text
        undo.callback(con.close)
        with schema.snapshot(con):
            version = schema.check_version(con, path)
        if version == 0 and not older:  # a first start is making its tables at this moment
            raise _empty(path)
        if version < len(schema.MIGRATIONS) and not older:
            raise StoreError(
                f"{path} was written by an older wickbench: start `wickbench run` once, which "
                "brings it up to date"
            )
        undo.pop_all()
    return con


def _empty(path: Path) -> StoreEmpty:
    return StoreEmpty(f"{path.parent} holds no readings yet: start the bench with `wickbench run`")


def _text(stored: bytes) -> str:
    """Damaged text is still one row, not the end of the query."""
    return stored.decode("utf-8", "replace")
