"""Lines for the terminal, written on a thread of their own, so that it holds up no watch.

A terminal that is stopped (Ctrl-S), a pipe whose reader hangs and a full disk hold up whoever
writes there. The lines go to page, phone and alarm program all the same.
"""

import logging
import os
import queue
import sys
import threading

OUT, ERR = 1, 2  # descriptors (POSIX, unistd.h)
WAITING = (
    1000  # lines; a terminal that takes none for an evening misses the later ones (our choice)
)
FAREWELL_S = 1.0  # for what waits at the end (our choice)


class TerminalLines:
    """The lines of a service, in order, to its standard output and error."""

    def __init__(self) -> None:
        self._waiting: queue.Queue[tuple[int, str] | None] = queue.Queue(WAITING)
        self._left_out = 0
        self._writer = threading.Thread(target=self._write, name="terminal", daemon=True)
        self._writer.start()

    def say(self, text: str) -> None:
        """A line to the person at the terminal."""
        self.put(OUT, text)

    def put(self, descriptor: int, text: str) -> None:
        """A line to `descriptor`, as soon as it takes one; never waits."""
        try:
            if self._left_out:
                missed = f"({self._left_out} lines were left out: the terminal took none)"
                self._waiting.put_nowait((descriptor, missed))
                self._left_out = 0
            self._waiting.put_nowait((descriptor, text))
        except queue.Full:
            self._left_out += 1

    def close(self) -> None:
        """Write what waits, if the terminal takes it soon."""
        try:
            self._waiting.put_nowait(None)
        except queue.Full:
            return
        self._writer.join(FAREWELL_S)

    def _write(self) -> None:
        failed = False
        while (line := self._waiting.get()) is not None:
            descriptor, text = line
            data = f"{text}\n".encode(sys.stdout.encoding or "utf-8", errors="replace")
            try:
                while data:
                    data = data[os.write(descriptor, data) :]
                failed = False
            except OSError as exc:
                if not failed and descriptor == OUT:  # said once, where that is possible
                    why = f"the terminal takes no lines ({exc.strerror}); the watch goes on"
                    self.put(ERR, f"ERROR {__name__}: {why}")
                failed = True


class LogToTerminal(logging.Handler):
    """The log, among the lines."""

    def __init__(self, lines: TerminalLines) -> None:
        super().__init__()
        self._lines = lines

    def emit(self, record: logging.LogRecord) -> None:
        """One record."""
        try:
            self._lines.put(ERR, self.format(record))
        except Exception:  # noqa: BLE001  # as handlers do: a record that cannot be written is not
            self.handleError(record)
