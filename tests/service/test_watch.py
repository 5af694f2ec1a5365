"""`wickbench watch`: a real terminal beside a running service, whose plug and life are taken."""

import fcntl
import json
import os
import pty
import re
import signal
import struct
import subprocess
import sys
import termios
import threading
import time
from contextlib import contextmanager

from logger.messages import one_line
from tests.support.browser_bench import Bench, configuration
from tests.support.processes import die_with_parent
from tests.support.waiting import patient, until

COLUMNS = 80
CONTROLS = re.compile(r"\x1b\[[0-9;]*[A-Za-z]")


class Terminal:
    """What a person sees of a command that runs on a terminal of its own."""

    def __init__(self, *words: str, **environment: str) -> None:
        self._master, slave = pty.openpty()
        fcntl.ioctl(slave, termios.TIOCSWINSZ, struct.pack("HHHH", 60, COLUMNS, 0, 0))
        # What a test run says of its own window would stand above what the terminal says of its.
        own = {name: what for name, what in os.environ.items() if name not in ("LINES", "COLUMNS")}
        self.process = subprocess.Popen(
            [sys.executable, "-m", "logger", *words],
            stdin=slave,
            stdout=slave,
            stderr=slave,
            env={**own, "TERM": "xterm", **environment},
            preexec_fn=die_with_parent,  # noqa: PLW1509 - one prctl call, no lock taken
        )
        os.close(slave)
        self.raw = b""
        threading.Thread(target=self._read, daemon=True).start()

    def _read(self) -> None:
        while True:
            try:
                self.raw += os.read(self._master, 65536)
            except OSError:  # the command has ended
                return

    @property
    def lines(self) -> list[str]:
        """The screen as it was drawn last, whole."""
        drawn = self.raw.decode(errors="replace").split("\x1b[H")
        whole = next((one for one in reversed(drawn) if "\x1b[J" in one[3:]), "")
        return [CONTROLS.sub("", line).strip("\a") for line in whole.split("\r\n")]

    @property
    def text(self) -> str:
        """The same as one text, its lines joined."""
        return " ".join(" ".join(self.lines).split())


@contextmanager
def watching(bench, **environment):
    terminal = Terminal("watch", "--config", str(bench.config), **environment)
    try:
        yield terminal
    finally:
        terminal.process.send_signal(signal.SIGINT)
        assert terminal.process.wait(patient(10)) == 0


def shows(terminal, words, deadline_s=20.0):
    try:
        until(lambda: words in terminal.text, words, deadline_s)
    except AssertionError as exc:
        raise AssertionError("\n".join((str(exc), *terminal.lines))) from None


def test_watch_says_what_happens_and_that_it_is_cut_off(tmp_path):
    text = configuration() + '\n[[station]]\nname = "tin-b"\nmaterial = "metal"\n'
    with Bench(tmp_path, text, first=58.0) as bench:
        none = bench.typed("watch", "--once")
        assert (none.returncode, none.stdout) == (3, "")
        assert "start it: wickbench run" in none.stderr
        bench.begin()
        lit = bench.post("/api/burns", station="jar-a", trial="cedar-6", checks=["tray"])[1]
        with watching(bench, NO_COLOR="1") as terminal:
            shows(terminal, "58.0 °C")
            shows(terminal, "NOW, jar-a: CAUTION")
            assert "LIT as last confirmed, recorded at" in terminal.text
            assert "tin-b no burn recorded" in terminal.text
            names = [
                line.split()[0] for line in terminal.lines if re.match(r"(jar|tin)-\S+ ", line)
            ]
            assert names == ["jar-a", "tin-b"]  # what needs a person first
            assert max(map(len, terminal.lines)) <= COLUMNS

            # a plug is pulled
            bench.port.unplug()
            shows(terminal, "probes: down")
            shows(terminal, "jar-a, no reading, and 4 more")

            # the service is killed: said at once, and again when it is there again
            bench.stop_writing()
            bench.kill()
            killed_s = time.monotonic()
            shows(terminal, "CUT OFF since")
            assert time.monotonic() - killed_s < patient(2.0)
            assert "stay with the candle" in terminal.text
            assert b"\a" in terminal.raw
            bench.start()
            shows(terminal, "test-bench: live")

            # one that hangs holds its connection open: told by its silence
            bench.process.send_signal(signal.SIGSTOP)
            stopped_s = time.monotonic()
            shows(terminal, "CUT OFF since", 10)
            assert time.monotonic() - stopped_s < patient(6.0)
            bench.process.send_signal(signal.SIGCONT)
            shows(terminal, "test-bench: live")
            assert b"\x1b[7m" not in terminal.raw

        # once, into a file, and for a program
        once = bench.typed("watch", "--once").stdout
        assert one_line(once.splitlines()[0]).startswith("test-bench: live")
        now = json.loads(bench.typed("watch", "--json").stdout)
        assert now["stations"][0]["burn"] == lit["burn"]
        assert [one["station"] for one in now["next_by_station"]] == ["jar-a", "tin-b"]
        assert now["next"]["now"] is True
