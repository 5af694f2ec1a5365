"""The real `wickbench run` on a simulated instrument: talked to, killed, started again."""

import json
import threading
import time
import urllib.error
import urllib.request
import uuid
from pathlib import Path

from logger.store.lock import holder
from simulators.printing_port import PrintingPort
from tests.support.command_line import typed
from tests.support.settings_text import TWO_CHANNELS
from tests.support.waiting import patient, until
from tests.support.warm_starts import Started, done, started

TWO_PROBES = (
    """
[bench]
name = "test-bench"
data = "{folder}/data"

[averaging]
every = "1 s"

[[station]]
name = "jar-a"
material = "glass"

[[instrument]]
name = "probes"
driver = "serial-lines"
port = "{folder}/probes"
silent_after = "2 s"
"""
    + TWO_CHANNELS
)


class BenchProcess:
    """One bench folder, its simulated instrument, and the service when it runs."""

    def __init__(self, folder: Path, configuration: str = TWO_PROBES) -> None:
        self.folder = folder
        self.config = folder / "bench.toml"
        self.config.write_text(configuration.format(folder=folder))
        self.port = PrintingPort(folder / "probes")
        self.log = folder / "service.log"
        self.process: Started | None = None
        self._writer: threading.Thread | None = None
        self._writing = threading.Event()

    def __enter__(self):
        return self

    def __exit__(self, *exc):
        self.stop_writing()
        if self.process is not None and self.process.poll() is None:
            self.kill()
        self.port.unplug()

    @property
    def data(self) -> Path:
        return self.folder / "data"

    def start(self, *, cold: bool = False, **environment: str) -> None:
        """Start the service and wait for it; `cold` where a start from nothing is what is tried."""
        with self.log.open("ab") as log:
            words = ("-m", "logger", "run", "--config", str(self.config))
            self.process = started(*words, output=log.fileno(), cold=cold, **environment)
        until(lambda: self.address or self.process.poll() is not None, "the service is up")
        assert self.process.poll() is None, self.log.read_text()

    @property
    def address(self):
        now = holder(self.data) if self.data.exists() else None
        return now.address if now is not None and now.pid == self.process.pid else None

    def kill(self) -> None:
        self.process.kill()
        self.process.wait(patient(10))

    def terminate(self) -> int:
        self.process.terminate()
        return self.process.wait(patient(15))

    def write(self, values_of, every_s=0.1) -> None:
        """Write a line each `every_s` from a thread until `stop_writing`."""
        self._writing.set()

        def lines() -> None:
            while self._writing.is_set():
                self.port.write_line(values_of())
                time.sleep(every_s)

        self._writer = threading.Thread(target=lines, daemon=True)
        self._writer.start()

    def stop_writing(self) -> None:
        self._writing.clear()
        if self._writer is not None:
            self._writer.join(patient(5))

    def opened(self) -> None:
        """Wait for the service to hold the port, and end its dropping of a line's tail."""
        until(lambda: self.port.opened, "the port is opened")
        time.sleep(0.05)
        self.port.send_raw(b"\n")

    def get(self, path):
        with urllib.request.urlopen(self.address + path, timeout=patient(10)) as answer:
            return json.load(answer)

    def text(self, path):
        with urllib.request.urlopen(self.address + path, timeout=patient(10)) as answer:
            return answer.read().decode()

    def now(self):
        return self.get("/api/now")

    def alarm(self, key):
        """The present state of an alarm, None when it is normal."""
        return next((a for a in self.now()["alarms"] if a["alarm"] == key), None)

    def post(self, path, **body):
        request = urllib.request.Request(
            self.address + path,
            data=json.dumps({"id": uuid.uuid4().hex, **body}).encode(),
            headers={"content-type": "application/json"},
        )
        try:
            with urllib.request.urlopen(request, timeout=patient(15)) as answer:
                return answer.status, json.load(answer)
        except urllib.error.HTTPError as exc:
            return exc.code, json.load(exc)

    def typed(self, *words):
        """Another command on the same bench, by its entry point in this process."""
        return typed(*words, "--config", str(self.config))

    def wickbench(self, *words, env=None):
        """The same in a process of its own."""
        return done("-m", "logger", *words, "--config", str(self.config), env=env)
