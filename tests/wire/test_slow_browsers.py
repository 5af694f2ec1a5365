"""Ten browsers that take the live page and never read on: the others and the alarms go on."""

import socket
import time
from contextlib import ExitStack

import pytest

from logger.alarms.lifecycle import AlarmEvent
from logger.hub import BACKLOG
from logger.quantities import Reading
from logger.store.queries import open_read
from logger.web import server
from tests.support.web_bench import SIXTY_FOUR, serving

BROWSERS = 10
BUFFER_BYTES = 4096  # of each end, so that little need be sent until nothing more goes
SEEN_S, STOPPED_S = 1.0, 10.0  # our choice
EACH_SECOND = '\n[averaging]\nevery = "1 s"\n'


@pytest.fixture
def small_buffers(monkeypatch):
    """The page's connections inherit them (socket(7) of Linux)."""
    original = server.listen

    def listen(settings):
        bound = original(settings)
        bound.setsockopt(socket.SOL_SOCKET, socket.SO_SNDBUF, BUFFER_BYTES)
        return bound

    monkeypatch.setattr(server, "listen", listen)


def _never_reading(port):
    one = socket.socket()
    one.setsockopt(socket.SOL_SOCKET, socket.SO_RCVBUF, BUFFER_BYTES)
    one.connect(("127.0.0.1", port))
    one.sendall(f"GET /api/live HTTP/1.1\r\nHost: 127.0.0.1:{port}\r\n\r\n".encode())
    return one


@pytest.mark.faults
async def test_ten_browsers_that_never_read(tmp_path, small_buffers, fault_row, long):
    tries = 50 if long else 10
    put, seen_s = 0, []
    with ExitStack() as browsers:
        async with serving(tmp_path, SIXTY_FOUR + EACH_SECOND) as bench:
            names = [channel.name for channel in bench.service.settings.channels]
            followers = bench.service.hub._followers

            async def second():
                nonlocal put
                put += 1
                now_s = bench.service.now_s()
                for name in names:
                    bench.service.engine.put(Reading(channel=name, value=40.0, at_s=now_s))
                await bench.seconds(1)

            for _ in range(BROWSERS):
                browsers.enter_context(_never_reading(bench.port))
            await second()
            while not (len(followers) == BROWSERS and all(one.dropped for one in followers)):
                assert put < 300, [one.dropped for one in followers]
                await second()
            for number in range(tries):
                burn = await bench.light(trial=f"cedar-{number}")
                began_s = time.monotonic()
                await bench.post(f"/api/burns/{burn}/observations", emergency="crack")
                alarms = {one["alarm"] for one in (await bench.now())["alarms"]}
                seen_s.append(time.monotonic() - began_s)
                assert "emergency/jar-a" in alarms
                await bench.post("/api/alarms/emergency/jar-a/acknowledge", by="Ines")
                await bench.post(f"/api/burns/{burn}/out", by="Ines")
                await second()
                await second()
            assert all(len(one.take_waiting()) <= BACKLOG for one in followers)
            began_s = time.monotonic()
        stopped_s = time.monotonic() - began_s
    with open_read(tmp_path / "data") as reader:
        stored = sum(1 for _ in reader.readings())
        events = [one.event for one in reader.events()]
    raised = {
        event.burn
        for event in events
        if isinstance(event, AlarmEvent)
        and (event.alarm.finding.rule, event.what) == ("emergency", "raised")
    }
    lost, doubled = put * len(names) - stored, len(events) - len({one.id for one in events})
    fault_row(
        "ten browsers that never read",
        tried=tries,
        lost=lost,
        missed=tries - len(raised),
        doubled=doubled,
        reached=f"emergency on the page after {max(seen_s):.2f} s, stopped in {stopped_s:.1f} s",
        bar=f"<= {SEEN_S:g} s, {STOPPED_S:g} s",
    )
    assert (lost, doubled, len(raised)) == (0, 0, tries)
    assert max(seen_s) <= SEEN_S
    assert stopped_s <= STOPPED_S
