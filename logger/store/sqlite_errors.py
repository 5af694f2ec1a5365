"""What SQLite complains of, in the words of the person who has to fix it."""

import sqlite3
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path

from logger.errors import StoreError, StoreUnusable

FULL = "the disk that holds {folder} is full: make room on it"

_REMEDIES = {  # by the first two words of SQLite's result code
    "SQLITE_FULL": FULL,
    "SQLITE_IOERR": "{folder} cannot be read or written: check the disk, card or cable it is on",
    "SQLITE_READONLY": "{path} may not be written: give this user the right to write in {folder}",
    "SQLITE_CANTOPEN": "{path} cannot be opened: give this user the right to use {folder}",
    "SQLITE_PERM": "{path} may not be used: give this user the right to use {folder}",
    "SQLITE_BUSY": "another program keeps {path} locked: close it",
    "SQLITE_LOCKED": "another program keeps {path} locked: close it",
}
_DAMAGED = ("SQLITE_CORRUPT", "SQLITE_NOTADB")


@contextmanager
def in_plain_words(path: Path) -> Iterator[None]:
    """Turn every error of SQLite into a StoreError, or StoreUnusable where the file is damaged."""
    try:
        yield
    except sqlite3.ProgrammingError:
        raise  # a fault of this program, not of the disk
    except sqlite3.Error as exc:
        name = "_".join(getattr(exc, "sqlite_errorname", "").split("_")[:2])
        if name in _DAMAGED:
            raise damaged(path, str(exc)) from exc
        words = _REMEDIES.get(name, "{path} failed ({fault}): check the disk it is on")
        raise StoreError(words.format(path=path, folder=path.parent, fault=exc)) from exc


def is_full(path: Path) -> StoreError:
    """The error for a disk without room for the database `path`."""
    return StoreError(FULL.format(folder=path.parent))


def damaged(path: Path, fault: str) -> StoreUnusable:
    """The error for a file whose pages are not what they were."""
    return StoreUnusable(
        f"{path} is damaged ({fault.splitlines()[-1]}): move it and the files beside it away as "
        "they are, put a backup in their place or start with an empty folder"
    )
