"""A terminal that takes no lines holds up no watch: no reader, one that hangs, a full disk."""

import contextlib
import os
import resource

import pytest

from tests.support.process_bench import BenchProcess
from tests.support.waiting import patient, until
from tests.support.warm_starts import started

CRACK = {"emergency": "crack", "text": ""}


class PipedBench(BenchProcess):
    """A bench whose lines go into a pipe."""

    def start(self, **environment):
        self.reader, end = os.pipe()
        self.process = started("-m", "logger", "run", "--config", str(self.config), output=end)
        os.close(end)
        until(lambda: self.address, "the page's address is known")

    def lose(self):
        os.close(self.reader)


class StoppedBench(PipedBench):
    """A bench whose lines go into a pipe that nobody reads, as into a terminal after Ctrl-S."""

    def start(self, **environment):
        super().start(**environment)
        self.end = os.open(f"/proc/{self.process.pid}/fd/1", os.O_WRONLY | os.O_NONBLOCK)

    def lose(self):
        for size in (4096, 1):
            with contextlib.suppress(BlockingIOError):
                while True:
                    os.write(self.end, b"." * size)


class FullBench(BenchProcess):
    """A bench whose lines go into a file on a disk that fills up."""

    def lose(self):
        _, hard = resource.prlimit(self.process.pid, resource.RLIMIT_FSIZE)
        resource.prlimit(self.process.pid, resource.RLIMIT_FSIZE, (64, hard))


@pytest.mark.parametrize(
    "kind", [PipedBench, StoppedBench, FullBench], ids=["reader gone", "stopped", "disk full"]
)
def test_the_watch_goes_on_without_its_terminal(tmp_path, kind):
    with kind(tmp_path) as bench:
        bench.start()
        bench.write(lambda: [40.0, 22.0])
        bench.lose()
        for trial in ("cedar-6", "cedar-7"):  # a full disk answers 503: it counts all the same
            bench.post("/api/burns", station="jar-a", trial=trial, sure=True)
            burn = bench.now()["stations"][0]["burn"]
            bench.post(f"/api/burns/{burn}/observations", **CRACK)
            until(lambda: bench.alarm("emergency/jar-a"), "the emergency is raised")
            bench.post(f"/api/burns/{burn}/out")
        assert bench.process.poll() is None
        before = bench.now()["time"]
        until(lambda: bench.now()["time"] > before, "time goes on")
        bench.stop_writing()
        bench.process.terminate()
        assert bench.process.wait(patient(20)) == 0
