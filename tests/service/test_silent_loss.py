"""A broker that is silently gone: the program of last resort rings for every unconfirmed line."""

import asyncio
import contextlib
import json
import random
import sys
import time

import pytest
from bench_process import TWO_PROBES, BenchProcess, until

BAR_S = 15.0
MOMENTS = 12  # of the long form

CONFIGURATION = """
[mqtt]
host = "127.0.0.1"
port = {proxy}

[alarms]
run = ["{python}", "{program}"]
"""
RING = """
import sys, time
with open({told!r}, "a") as told:
    told.write(f"{{time.time()}} {{sys.stdin.read()}}")
"""


class Swallower:
    """A way to the broker that can swallow everything, as a lost radio link does."""

    def __init__(self, broker_port: int, *, port: int = 0) -> None:
        self._broker_port = broker_port
        self.port = port
        self.swallows = False
        self._carrying = set()
        self._writers = []

    async def __aenter__(self):
        self._server = await asyncio.start_server(self._carry_both, "127.0.0.1", self.port)
        self.port = self._server.sockets[0].getsockname()[1]
        return self

    async def __aexit__(self, *exc):
        self._server.close()
        for task in self._carrying:
            task.cancel()
        await asyncio.gather(*self._carrying, return_exceptions=True)
        for writer in self._writers:
            writer.transport.abort()
        await asyncio.sleep(0.05)  # turns of the loop in which they are closed

    async def _carry_both(self, reader, writer):
        with contextlib.suppress(OSError):
            self._writers.append(writer)
            there = await asyncio.open_connection("127.0.0.1", self._broker_port)
            self._writers.append(there[1])
            for one, other in ((reader, there[1]), (there[0], writer)):
                task = asyncio.create_task(self._carry(one, other))
                self._carrying.add(task)

    async def _carry(self, reader, writer):
        with contextlib.suppress(OSError):
            while data := await reader.read(4096):
                if not self.swallows:
                    writer.write(data)
                    await writer.drain()
            writer.close()


def rung(file):
    """When the program was started for each event, by its text."""
    if not file.exists():
        return {}
    lines = [line.partition(" ") for line in file.read_text().splitlines()]
    return {json.loads(event)["rule"]: float(at_s) for at_s, _, event in reversed(lines)}


async def ring_s(folder, broker, after_s):
    """How long after an emergency the program rang, with the broker lost `after_s` before it."""
    folder.mkdir()
    (folder / "sound_alarm.py").write_text(RING.format(told=str(folder / "told")))
    async with Swallower(broker.port) as way:
        more = CONFIGURATION.replace("{proxy}", str(way.port))
        more = more.replace("{python}", sys.executable).replace(
            "{program}", f"{folder}/sound_alarm.py"
        )
        with BenchProcess(folder, TWO_PROBES + more) as bench:
            await asyncio.to_thread(bench.start)
            await asyncio.to_thread(bench.opened)
            bench.write(lambda: [45.0, 22.0])
            lit = {"station": "jar-a", "trial": "cedar-6", "watched_by": "Ines"}
            _, answer = await asyncio.to_thread(lambda: bench.post("/api/burns", **lit))
            await asyncio.sleep(2.0)
            if after_s >= 0.0:
                way.swallows = True
                await asyncio.sleep(after_s)
            began_s = time.time()
            path = f"/api/burns/{answer['burn']}/observations"
            await asyncio.to_thread(lambda: bench.post(path, emergency="crack"))
            if after_s < 0.0:
                await asyncio.sleep(-after_s)
                way.swallows = True
            file = folder / "told"
            await asyncio.to_thread(until, lambda: "emergency" in rung(file), "it rings", 150.0)
            return rung(file)["emergency"] - began_s


@pytest.mark.faults
async def test_it_rings_at_any_moment_of_the_loss(tmp_path, broker, long, seed, fault_row):
    chance = random.Random(seed)
    moments = [chance.uniform(0.0, 30.0) for _ in range(MOMENTS)] if long else []
    moments += [0.0, chance.uniform(0.2, 2.0)]
    waits = [
        await ring_s(tmp_path / f"bench-{number}", broker, after_s)
        for number, after_s in enumerate(moments)
    ]
    fault_row(
        "unconfirmed danger, any moment of the loss: program rings",
        tried=f"{len(moments)} moments",
        reached=f"{max(waits):.1f} s",
        bar=f"{BAR_S:g} s",
    )
    assert max(waits) <= BAR_S, dict(zip(moments, waits, strict=True))
