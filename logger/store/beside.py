"""A file that is made beside its place and takes its name only once it is whole.

For large files: what is killed half-way leaves its part under a hidden name, which the next one
made there removes.
"""

import errno
import fcntl
import os
import tempfile
from collections.abc import Iterator
from contextlib import contextmanager, suppress
from pathlib import Path

from logger.errors import DataError
from logger.store.files import sync_folder

_PART = ".part"
_BESIDE = ("", "-journal", "-wal", "-shm")  # what SQLite may have made of it
_NO_LINKS = (errno.EPERM, errno.EOPNOTSUPP, errno.ENOSYS, errno.EACCES, errno.EMLINK)


@contextmanager
def made_beside(path: Path, *, force: bool) -> Iterator[Path]:
    """An empty file for its owner alone; it becomes `path` when the block ends well.

    What stands at `path` is replaced only with `force`. Raises DataError.
    """
    check_free(path, force=force)
    part, held = _make(path)
    try:
        with _in_plain_words(path):
            yield part
            _sync(part)
            if force:
                part.replace(path)
            else:
                _name(part, path)
            sync_folder(path.parent)
    finally:
        for suffix in _BESIDE:
            part.with_name(part.name + suffix).unlink(missing_ok=True)
        os.close(held)


def check_free(path: Path, *, force: bool) -> None:
    """Raise DataError where no file may be made at `path`."""
    if path.is_dir():
        raise DataError(f"{path} is a folder: name a file in it")
    if not path.parent.is_dir():
        raise DataError(f"{path.parent} is not a folder: make it, or name another")
    if path.exists() and not force:
        raise DataError(f"{path} exists and was left as it is: name another file, or add --force")


def _make(path: Path) -> tuple[Path, int]:
    """The file beside, and its lock: it tells a part under way from one left by a kill."""
    with _in_plain_words(path):
        for left in path.parent.glob(f".{_plain(path.name)}.*{_PART}"):
            _remove_left(left)
        held, name = tempfile.mkstemp(_PART, f".{path.name}.", path.parent)  # mode 0600
        with suppress(OSError):  # a file system without locks
            fcntl.flock(held, fcntl.LOCK_EX | fcntl.LOCK_NB)
    return Path(name), held


def _plain(name: str) -> str:
    """`name` as a pattern that matches nothing else."""
    return "".join(f"[{sign}]" if sign in "*?[" else sign for sign in name)


def _remove_left(part: Path) -> None:
    with suppress(OSError):
        file = os.open(part, os.O_RDWR | os.O_CLOEXEC)
        try:
            fcntl.flock(file, fcntl.LOCK_EX | fcntl.LOCK_NB)
            for suffix in _BESIDE:
                part.with_name(part.name + suffix).unlink(missing_ok=True)
        finally:
            os.close(file)


def _name(part: Path, path: Path) -> None:
    """Give it its name in one step that fails where the name is taken meanwhile."""
    try:
        os.link(part, path)
    except FileExistsError:
        raise DataError(f"{path} was made by others meanwhile and was left as it is") from None
    except OSError as exc:
        if exc.errno not in _NO_LINKS:
            raise
        check_free(path, force=False)  # of a stick, say: no file there has two names
        part.replace(path)


def _sync(part: Path) -> None:
    file = os.open(part, os.O_RDWR)
    try:
        os.fsync(file)
    finally:
        os.close(file)


@contextmanager
def _in_plain_words(path: Path) -> Iterator[None]:
    try:
        yield
    except OSError as exc:
        raise DataError(
            f"{path} cannot be written ({exc.strerror}): make room there, or choose a folder that "
            "you may write"
        ) from exc
