"""Bytes, cut anywhere, to lines; what is refused on the way, and why."""

from dataclasses import dataclass

LONGEST_LINE = 1024  # bytes; sixteen probes with names and units need about 300


@dataclass(frozen=True, slots=True, kw_only=True)
class Rejected:
    """A line, or one field of it, that was not taken."""

    reason: str  # what is wrong and what to look at
    excerpt: str  # the beginning of the line, printable ASCII
    field: int | None = None  # None: the whole line


class LineSplitter:
    """Bytes, cut anywhere, to lines ended by CR, LF or both; empty lines are left out.

    What comes before the first line end may be the tail of a number (`1.25` of `41.25`) and is
    dropped, unless the link is known to begin at a line's start (`drop_head=False`: an answer
    to a question). A line longer than `LONGEST_LINE` bytes is rejected whole, once.
    """

    def __init__(self, *, drop_head: bool = True) -> None:
        self._pending = b""  # LONGEST_LINE + 1 bytes at most: the one too many marks it
        self._dropping = drop_head

    def feed(self, data: bytes) -> list[bytes | Rejected]:
        """Lines that `data` completes, without their ends."""
        out: list[bytes | Rejected] = []
        for number, piece in enumerate(data.replace(b"\r", b"\n").split(b"\n")):
            if number > 0:
                if self._pending and not self._dropping:
                    out.append(self._pending)
                self._pending, self._dropping = b"", False
            room = LONGEST_LINE + 1 - len(self._pending)
            self._pending += piece[:room]
            if 0 < room <= len(piece):
                self._dropping = True
                reason = f"over {LONGEST_LINE} bytes without a line end: check baud rate and format"
                out.append(Rejected(reason=reason, excerpt=excerpt(self._pending)))
        return out


def excerpt(line: bytes) -> str:
    """The beginning of a line for a person: printable ASCII, the rest as escapes."""
    return repr(line[:60])[2:-1]
