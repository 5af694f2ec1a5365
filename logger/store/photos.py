"""Photos beside the database, each in a file that is named by what it holds."""

import hashlib
import os
import re
import shutil
from collections.abc import Iterable
from pathlib import Path

from logger.errors import DataError, NotKnown, StoreError
from logger.store.beside import made_beside
from logger.store.files import make_folder
from logger.store.opening import FILE_NAME

_NAME = re.compile(r"[0-9a-f]{64}")  # SHA-256 of its content
LEFT_BYTES = 64 * 2**20  # that photos leave free for what is measured (our choice)


def folder_of(database: Path) -> Path:
    """The folder with the photos of a database, or of a backup of one."""
    if database.name == FILE_NAME:
        return database.with_name("photos")
    return database.with_name(f"{database.name}.photos")


def keep(data: Path, jpeg: bytes) -> str:
    """Store a photo in the data folder, mode 0600; its name. Raises StoreError."""
    name, folder = hashlib.sha256(jpeg).hexdigest(), folder_of(data / FILE_NAME)
    path = folder / f"{name}.jpg"
    try:
        if shutil.disk_usage(data).free < LEFT_BYTES + len(jpeg):
            raise StoreError("the photo was not saved: the disk is nearly full; make room")
        make_folder(folder)
        if path.exists():
            return name
        with made_beside(path, force=True) as part:  # one that is sent again may come meanwhile
            part.write_bytes(jpeg)
    except DataError as exc:
        raise StoreError(f"the photo was not saved: {exc}") from exc
    except OSError as exc:
        raise StoreError(f"the photo was not saved: {exc.strerror}") from exc
    return name


def load(database: Path, name: str) -> bytes:
    """A photo of `database`. Raises NotKnown where it is not there, DataError if it is damaged."""
    if _NAME.fullmatch(name) is None:
        raise NotKnown("there is no such photo")
    try:
        jpeg = (folder_of(database) / f"{name}.jpg").read_bytes()
    except OSError as exc:
        raise NotKnown(f"the photo {name[:8]} is not there: {exc.strerror}") from None
    if hashlib.sha256(jpeg).hexdigest() != name:
        raise DataError(f"the photo {name[:8]} is damaged: put it back from a backup")
    return jpeg


def copy(database: Path, to: Path, names: Iterable[str]) -> int:
    """Copy the photos `names` of `database` beside the backup `to`; how many there are.

    One that is missing or damaged here is left out: `verify` names it. Raises StoreError.
    """
    copied = 0
    folder = folder_of(to)
    for name in dict.fromkeys(names):
        try:
            jpeg = load(database, name)
        except (NotKnown, DataError):
            continue
        try:
            make_folder(folder)
            path = folder / f"{name}.jpg"
            path.unlink(missing_ok=True)
            file = os.open(path, os.O_WRONLY | os.O_CREAT | os.O_EXCL | os.O_CLOEXEC, 0o600)
            with os.fdopen(file, "wb") as out:
                out.write(jpeg)
        except OSError as exc:
            raise StoreError(f"the photos were not all copied to {folder}: {exc.strerror}") from exc
        copied += 1
    return copied
