"""The token that opens a bench served beyond this machine, and the patience with wrong ones.

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
from collections import OrderedDict
from collections.abc import Callable
from ipaddress import IPv6Address, ip_address
from pathlib import Path

from logger.errors import StoreError
from logger.store.files import make_folder

log = logging.getLogger(__name__)

NAME = "web-token"

_BYTES = 32  # of randomness, as the standard library advises against guessing (secrets)
_FORM = re.compile(r"[A-Za-z0-9_-]{43,100}", re.ASCII)

MOST_WRONG = 10  # wrong tokens of one address in a row: slips of pasting are fewer (our choice)
EACH_S = 6.0  # after them one more in so long, ten a minute
MOST_ADDRESSES = 1024  # remembered; past it the one longest unheard of is forgotten


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
            raise StoreError(f"{path} is no file; {_REMEDY}")
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


class WrongTokens:
    """How many wrong tokens an address has shown; takes a bounded room, whoever comes.

    The same wrong token again counts for nothing: a page left open from before the token was
    changed tells nobody anything and must not lock its phone out of the new link.
    """

    def __init__(self, now_s: Callable[[], float]) -> None:
        self._now_s = now_s  # of a clock that nobody sets
        self._shown: OrderedDict[str, tuple[float, bytes]] = OrderedDict()

    def wait_s(self, address: str) -> float:
        """How long `address` must wait before a token of its is looked at; 0.0 for not at all."""
        paid_s, _ = self._shown.get(_group(address), (0.0, b""))
        return max(0.0, paid_s - self._now_s() - (MOST_WRONG - 1) * EACH_S)

    def wrong(self, address: str, given: str) -> None:
        """Note a wrong token of `address`."""
        group, digest = _group(address), _digest(given)
        paid_s, last = self._shown.pop(group, (0.0, b""))
        if digest != last:
            paid_s = max(paid_s, self._now_s()) + EACH_S
        self._shown[group] = (paid_s, digest)
        if len(self._shown) > MOST_ADDRESSES:
            self._shown.popitem(last=False)


def _group(address: str) -> str:
    """What one client may call its own: an IPv4 address, or a /64 of IPv6 (RFC 4291)."""
    try:
        found = ip_address(address)
    except ValueError:
        return address
    if not isinstance(found, IPv6Address):
        return address
    mapped = found.ipv4_mapped
    return found.packed[:8].hex() if mapped is None else str(mapped)


def _digest(text: str) -> bytes:
    return hashlib.sha256(text.encode("utf-8", "surrogatepass")).digest()
