"""The token that opens a bench served beyond this machine.

It lies alone in a file of the data folder that only its owner may read. Deleting the file and
starting again makes another, and locks out whoever came in by the old one.
"""

import contextlib
import hashlib
import logging
import os
import re
import secrets
import stat
from pathlib import Path

from logger.errors import StoreError
from logger.store.files import make_folder

log = logging.getLogger(__name__)

NAME = "web-token"

# Of randomness, as the standard library advises (secrets): at a million guesses a second it takes
# longer than the age of the universe, so nobody has to wait after a wrong one.
_BYTES = 32
_FORM = re.compile(r"[A-Za-z0-9_-]{43,100}", re.ASCII)


class Token:
    """A token in force; shows itself in no repr, message or log."""

    __slots__ = ("_text",)

    def __init__(self, text: str) -> None:
        self._text = text

    def __repr__(self) -> str:
        return "Token()"

    def reveal(self) -> str:
        """The token itself: for the link on the owner's terminal and this program's own requests.

        Never for a log, an answer or a file.
        """
        return self._text

    def fits(self, given: str) -> bool:
        """Whether `given` is this token, in a time that does not tell how much of it is right."""
        return secrets.compare_digest(_digest(given), _digest(self._text))


def fresh() -> Token:
    """A token that no file holds: the next start makes another."""
    return Token(secrets.token_urlsafe(_BYTES))


def of(data: Path) -> Token:
    """The token of the bench whose data folder is `data`, made where there is none.

    Only the holder of the data lock may call it. On a disk that takes nothing it holds for this
    run only. Raises StoreError where the file holds something else or may be read by others.
    """
    path = data / NAME
    found = _read(path)
    return _make(path) if found is None else found


def known(data: Path) -> Token | None:
    """The token that a running service of `data` asks for, as far as this user may read it."""
    try:
        return _read(data / NAME)
    except StoreError:
        return None


def _read(path: Path) -> Token | None:
    try:
        file = os.open(path, os.O_RDONLY | os.O_CLOEXEC | os.O_NOFOLLOW | os.O_NONBLOCK)
    except FileNotFoundError:
        return None
    except OSError as exc:
        raise StoreError(f"{path} cannot be read: {exc.strerror}; {_REMEDY}") from exc
    with os.fdopen(file, "rb") as opened:
        mode = os.fstat(file).st_mode
        if not stat.S_ISREG(mode):
            raise StoreError(f"{path} is not a file; {_REMEDY}")
        if mode & 0o077:
            raise StoreError(f"{path} may be read by others, who could come in; {_REMEDY}")
        text = opened.read(1000).decode("ascii", "replace").strip()
    if _FORM.fullmatch(text) is None:
        raise StoreError(f"{path} holds no token; {_REMEDY}")
    return Token(text)


def _make(path: Path) -> Token:
    token = fresh()
    new = path.with_suffix(".new")
    try:
        make_folder(path.parent)
        with contextlib.suppress(FileNotFoundError):  # of a start that was cut off
            new.unlink()
        file = os.open(new, os.O_WRONLY | os.O_CREAT | os.O_EXCL | os.O_CLOEXEC, 0o600)
        with os.fdopen(file, "w", encoding="ascii") as opened:
            opened.write(token.reveal() + "\n")
            opened.flush()
            os.fsync(file)
        new.replace(path)
    except OSError as exc:
        log.warning("%s cannot be made (%s): the link is of this run only", path, exc.strerror)
    return token


_REMEDY = "delete it and start the service again, which makes a new one"


def _digest(text: str) -> bytes:
    return hashlib.sha256(text.encode("utf-8", "surrogatepass")).digest()
