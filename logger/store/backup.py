"""A copy of the database as of one moment, made while the service writes on.

SQLite's own backup, from a connection that only reads and holds one snapshot: the writer is held up
by nothing, and its commits do not start the copy anew. The copy is one file without a log beside
it, and believed only after all of it was read again.
"""

import shutil
import sqlite3
from collections.abc import Mapping
from contextlib import closing
from dataclasses import dataclass
from pathlib import Path

from logger.errors import DataError, StoreError, StoreUnusable
from logger.store import integrity, photos
from logger.store.beside import check_free, made_beside
from logger.store.opening import FILE_NAME, open_to_read
from logger.store.schema import snapshot
from logger.store.sqlite_errors import in_plain_words

_PAGES_AT_ONCE = 8192  # 8 MiB: between them a person may stop it
_LEFT_BYTES = (
    64 * 2**20
)  # that a copy leaves free: it may lie on the disk of the bench (our choice)


@dataclass(frozen=True, slots=True, kw_only=True)
class Backup:
    """A copy that was read again and intact."""

    path: Path
    bytes: int
    counts: Mapping[str, int]  # rows by table
    photos: int = 0  # copied into the folder beside it


def back_up(data: Path, to: Path, *, force: bool = False) -> Backup:
    """Copy the database in the folder `data` to the file `to`, mode 0600, its photos beside that.

    What stands there is replaced only with `force`, and only by a whole copy. Raises DataError for
    a place that will not do, StoreError where the database cannot be read or the disk is full.
    """
    path = data / FILE_NAME
    check_free(to, force=force)
    if to.parent.resolve() == data.resolve():
        raise DataError(f"{to} lies in the bench's own folder: name another, best on another disk")
    with closing(open_to_read(path, older=True)) as con, made_beside(to, force=force) as part:
        _check_room(path, to)
        with in_plain_words(to), snapshot(con):
            before = integrity.counts(con)  # the first read makes the snapshot
            _copy(con, part)
        _check(part, before, path)
        names = _photo_names(part)
        size = part.stat().st_size
    copied = photos.copy(path, to, names)
    return Backup(path=to, bytes=size, counts=before, photos=copied)


def _photo_names(part: Path) -> list[str]:
    with closing(open_to_read(part, older=True)) as copy, in_plain_words(part):
        rows = copy.execute("SELECT body->>'photo' FROM entry WHERE kind = 'Photographed'")
        return [name for (name,) in rows if name]


def _check_room(path: Path, to: Path) -> None:
    """A disk that the copy filled might be the one that the bench writes to."""
    log = path.with_name(f"{path.name}-wal")
    needed = path.stat().st_size + (log.stat().st_size if log.exists() else 0)
    free = shutil.disk_usage(to.parent).free
    if free < needed + _LEFT_BYTES:
        raise StoreError(
            f"the disk that holds {to.parent} has too little room: the backup needs "
            f"{needed / 1e6:.0f} MB and leaves {_LEFT_BYTES / 1e6:.0f} MB free, of "
            f"{free / 1e6:.0f} MB; make room, or choose another disk"
        )


def _copy(con: sqlite3.Connection, part: Path) -> None:
    with closing(sqlite3.connect(part, isolation_level=None)) as copy:
        con.backup(copy, pages=_PAGES_AT_ONCE, sleep=0.0)
        copy.execute("PRAGMA journal_mode = DELETE")  # one file, which a rename can move


def _check(part: Path, before: Mapping[str, int], path: Path) -> None:
    try:
        with in_plain_words(part), closing(open_to_read(part, older=True)) as copy:
            faults = integrity.faults(copy)
            if not faults and integrity.counts(copy) != before:
                faults = ["rows are missing"]
    except StoreUnusable as exc:
        faults = [str(exc.__cause__ or exc)]
    if faults:
        raise StoreError(
            f"the copy is not sound ({faults[0].splitlines()[-1]}) and was removed: look with "
            f"`wickbench verify` whether {path} itself is"
        )
