"""An instrument that prints text lines on a serial port: a real pseudo-terminal.

The port is found under a path of its own choice, like the stable names below /dev/serial/by-id;
it is a symbolic link that goes when the plug is pulled and comes back to another device.
"""

import os
import select
import tty
from collections.abc import Sequence
from pathlib import Path
from types import TracebackType
from typing import Self

from simulators.line_formats import LineFormat


class PrintingPort:
    """Plugged in from the start. Writing never waits: what nobody takes is lost and counted.

    As with a real adapter, nothing is kept for a reader who has not opened the port yet. A reader
    who stops reading finds the terminal's buffer (16 kB here) and then a hole, perhaps in mid-line.
    """

    def __init__(self, link: Path, line_format: LineFormat | None = None) -> None:
        """`link`: where the port appears; its folder must exist."""
        self.link = link
        self.line_format = LineFormat() if line_format is None else line_format
        self.lines_sent = 0  # whole lines a reader can get
        self.lines_lost = 0  # not sent, or cut
        self.bytes_lost = 0
        self._master: int | None = None
        self.replug()

    def __enter__(self) -> Self:
        return self

    def __exit__(
        self,
        kind: type[BaseException] | None,
        error: BaseException | None,
        trace: TracebackType | None,
    ) -> None:
        self.unplug()

    @property
    def plugged(self) -> bool:
        """Whether the port exists."""
        return self._master is not None

    @property
    def opened(self) -> bool:
        """Whether somebody holds the port open."""
        if self._master is None:
            return False
        poll = select.poll()
        poll.register(self._master, 0)  # a hang-up is reported unasked
        return not any(events & select.POLLHUP for _, events in poll.poll(0))

    def replug(self) -> None:
        """Plug in: a new terminal under the same path. Plugged in already, nothing happens."""
        if self._master is not None:
            return
        master, slave = os.openpty()
        try:
            # Raw, or the terminal would echo and turn line ends around. The mode outlives this
            # descriptor; closed, it lets `opened` tell whether a reader is there (Linux).
            tty.setraw(slave)
            os.set_blocking(master, False)
            made = self.link.with_name(f".{self.link.name}.{os.getpid()}")
            made.unlink(missing_ok=True)
            made.symlink_to(os.ttyname(slave))
            made.replace(self.link)
        except BaseException:
            os.close(master)
            raise
        finally:
            os.close(slave)
        self._master = master

    def unplug(self) -> None:
        """Pull the plug: the path vanishes and a reader gets the end of the stream, or EIO."""
        if self._master is None:
            return
        self.link.unlink(missing_ok=True)
        os.close(self._master)
        self._master = None

    def write_line(self, values: Sequence[float | None]) -> bool:
        """Print one line; True when all of it went out."""
        line = self.line_format.line(values)
        if self.send_raw(line) == len(line):
            self.lines_sent += 1
            return True
        self.lines_lost += 1
        return False

    def write_half_line(self, values: Sequence[float | None]) -> int:
        """Print the first half of a line, as when power fails; returns the bytes that went out."""
        line = self.line_format.line(values)
        return self.send_raw(line[: len(line) // 2])

    def send_raw(self, data: bytes) -> int:
        """Put any bytes on the wire; returns how many went out, the rest is lost and counted."""
        sent = 0
        if self._master is not None and self.opened:
            try:
                sent = os.write(self._master, data)
            except BlockingIOError:
                sent = 0
        self.bytes_lost += len(data) - sent
        return sent
