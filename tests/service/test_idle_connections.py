"""Connections that ask nothing: the page, the broker and the ports stay within reach."""

import asyncio
import contextlib
import resource
import socket
import threading
import time
import urllib.error

import pytest

from tests.support.process_bench import TWO_PROBES, BenchProcess
from tests.support.waiting import patient, until

DESCRIPTORS = 1024  # what a shell gives a program by default
IDLE = 2000

WITH_BROKER = TWO_PROBES + '\n[mqtt]\nhost = "127.0.0.1"\nport = {port}\n'


class Idle:
    """Keeps `IDLE` connections to a port that never ask anything, and opens closed ones again."""

    def __init__(self, port: int) -> None:
        self._port = port
        self._open: list[socket.socket] = []
        self._over = threading.Event()
        self._thread = threading.Thread(target=self._keep, daemon=True)

    def __enter__(self):
        _, hard = resource.getrlimit(resource.RLIMIT_NOFILE)
        resource.setrlimit(resource.RLIMIT_NOFILE, (hard, hard))  # of this test's own process
        self._connect(IDLE)
        self._thread.start()
        return self

    def __exit__(self, *exc):
        self._over.set()
        self._thread.join(patient(10))
        for one in self._open:
            one.close()

    def _connect(self, count: int) -> None:
        for _ in range(count):
            one = socket.socket()
            one.setblocking(False)
            one.connect_ex(("127.0.0.1", self._port))
            self._open.append(one)

    def _keep(self) -> None:
        while not self._over.wait(0.5):
            for one in self._open[:200]:
                one.close()
            del self._open[:200]
            self._connect(200)


@pytest.fixture
def bench(tmp_path, broker):
    text = WITH_BROKER.replace("{port}", str(broker.port))
    with BenchProcess(tmp_path, text) as bench:
        bench.start()
        assert bench.process is not None
        resource.prlimit(bench.process.pid, resource.RLIMIT_NOFILE, (DESCRIPTORS, DESCRIPTORS))
        bench.opened()
        bench.write(lambda: [45.0, 22.0])
        until(lambda: link(bench)["state"] == "up", "readings come")
        yield bench


def link(bench):
    """The state of the instrument; where the idle ones pushed us out, asked once more."""
    while True:
        with contextlib.suppress(ConnectionError, urllib.error.URLError):
            return bench.now()["instruments"][0]


def took(condition, what):
    began_s = time.monotonic()
    until(condition, what, deadline_s=30.0)
    return time.monotonic() - began_s


@pytest.mark.faults
async def test_two_thousand_idle_connections_take_nothing_away(bench, broker, listening, fault_row):
    port = int(bench.address.rpartition(":")[2])
    with Idle(port):
        page_s = [took(lambda: link(bench), "page") for _ in range(5)]
        broker.stop()
        await asyncio.sleep(0.5)
        broker.start()
        began_s = time.monotonic()
        async with listening(broker) as ear:
            await ear.hear("status", "online")
        broker_s = time.monotonic() - began_s
        bench.stop_writing()
        bench.port.unplug()
        await asyncio.to_thread(until, lambda: link(bench)["state"] != "up", "the plug is missed")
        bench.port.replug()
        began_s = time.monotonic()
        bench.write(lambda: [46.0, 22.0])
        await asyncio.to_thread(until, lambda: link(bench)["state"] == "up", "the port is back")
        port_s = time.monotonic() - began_s
    assert bench.process.poll() is None
    fault_row(
        "idle connections: page, broker back, port back",
        tried=f"{IDLE}, of {DESCRIPTORS} descriptors",
        reached=f"{max(page_s):.1f} s, {broker_s:.1f} s, {port_s:.1f} s",
        bar="2 s, 5 s, 10 s",
    )
    assert max(page_s) <= 2.0
    assert broker_s <= 5.0
    assert port_s <= 10.0


def test_half_a_request_is_closed_after_ten_seconds(bench):
    port = int(bench.address.rpartition(":")[2])
    with socket.create_connection(("127.0.0.1", port)) as slow:
        slow.settimeout(1.0)
        slow.sendall(b"GET / HTTP/1.1\r\nx-slow: ")
        began_s = time.monotonic()
        closed = False
        while not closed and time.monotonic() - began_s < 15.0:
            try:
                slow.sendall(b"x")
                closed = slow.recv(100) == b""
            except TimeoutError:
                continue
            except OSError:
                closed = True
        assert 9.0 < time.monotonic() - began_s < 13.0
