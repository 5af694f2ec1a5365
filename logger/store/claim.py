"""A claim on a data folder that no disk can lose: a name in the kernel, made of the folder's path.

A lock file protects nothing once somebody removes it, and none can be made on a disk that is full
or hangs. This name (an abstract socket, of Linux only) ends with its process and answers who that
is. It cannot see a container with a network of its own, or the same folder by another path: there
the lock file holds.
"""

import hashlib
import logging
import os
import socket
import struct
import threading
from pathlib import Path

from logger.errors import StoreLocked

log = logging.getLogger(__name__)

_ANSWER_S = 2.0  # a holder answers from a thread of its own: longer means that it is stopped
_LONGEST = 4096  # bytes of an answer


class Claim:
    """The name of one data folder, held until `release` or the end of the process."""

    def __init__(self, name: socket.socket | None, text: bytes) -> None:
        self.text = text  # what is answered to who asks
        self._name = name
        self._answering: threading.Thread | None = None
        if name is not None:
            name.listen()
            self._answering = threading.Thread(
                target=self._answer, args=(name,), name="claim", daemon=True
            )
            self._answering.start()

    @classmethod
    def take(cls, data: Path, text: bytes) -> "Claim | None":
        """Claim the folder `data`; None where another process has. Touches no disk."""
        if not hasattr(socket, "AF_UNIX"):
            return cls(None, text)
        name = socket.socket(socket.AF_UNIX, socket.SOCK_STREAM)
        try:
            name.bind(_address(data))
        except OSError as exc:
            name.close()
            if ask(data) is not None:
                return None
            log.warning("no name in the kernel for %s (%s): the lock file alone holds", data, exc)
            return cls(None, text)
        return cls(name, text)

    def release(self) -> None:
        """Let others take the folder; a second call does nothing."""
        if self._name is None or self._answering is None:
            return
        self._name.shutdown(socket.SHUT_RDWR)  # ends the wait of the thread
        self._answering.join()
        self._name.close()
        self._name = None

    def _answer(self, name: socket.socket) -> None:
        while True:
            try:
                asker, _ = name.accept()
            except OSError:  # released
                return
            with asker:
                try:
                    asker.setblocking(False)  # what we say fits into the socket's memory
                    asker.sendall(self.text)
                except OSError:  # it did not wait
                    continue


def ask(data: Path) -> bytes | None:
    """What the process that claims `data` says of itself; None where none does.

    Raises StoreLocked where one does and does not answer.
    """
    if not hasattr(socket, "AF_UNIX"):
        return None
    with socket.socket(socket.AF_UNIX, socket.SOCK_STREAM) as asking:
        asking.settimeout(_ANSWER_S)
        try:
            asking.connect(_address(data))
        except ConnectionRefusedError:
            return None
        except OSError:
            raise StoreLocked(
                f"{data} is held by a process that does not answer: stop it first"
            ) from None
        pid, uid = _peer(asking)
        if not _may_hold(data, uid):
            log.warning("process %d of user %d claims %s, which is not its own", pid, uid, data)
            return None
        try:
            parts = []
            while part := asking.recv(_LONGEST):
                parts.append(part)
        except OSError:
            parts = []
    if not parts:
        raise StoreLocked(f"{data} is held by the process {pid}, which does not answer: stop it")
    return b"".join(parts)


def _address(data: Path) -> str:
    path = os.path.abspath(data)
    return f"\0wickbench/{hashlib.sha256(os.fsencode(path)).hexdigest()}"


def _peer(connected: socket.socket) -> tuple[int, int]:
    """Process and user at the other end."""
    pid, uid, _ = struct.unpack(
        "3i", connected.getsockopt(socket.SOL_SOCKET, socket.SO_PEERCRED, struct.calcsize("3i"))
    )
    return pid, uid


def _may_hold(data: Path, uid: int) -> bool:
    """Whether a user may claim the folder: a stranger must not keep its owner out."""
    if uid in (0, os.geteuid()):
        return True
    try:
        return data.stat().st_uid == uid
    except OSError:
        return True
