"""Lines for the phone that were made while the broker is away outlive the program."""

import asyncio
import sqlite3
from collections import Counter
from contextlib import closing

from tests.support.broker import free_port
from tests.support.process_bench import TWO_PROBES, BenchProcess
from tests.support.swallower import Swallower
from tests.support.waiting import until

MQTT = """
[mqtt]
host = "127.0.0.1"
port = {port}
"""


def kept(bench):
    """Lines that wait on the disk, read by SQLite itself."""
    with closing(sqlite3.connect(bench.data / "bench.sqlite3")) as con:
        return [text for (text,) in con.execute("SELECT text FROM phone_line ORDER BY seq")]


async def test_a_kill_while_the_broker_is_away_loses_no_line_and_sends_none_twice(
    tmp_path, broker, listening
):
    port = free_port()
    with BenchProcess(tmp_path, TWO_PROBES + MQTT.replace("{port}", str(port))) as bench:
        await asyncio.to_thread(bench.start)
        await asyncio.to_thread(bench.opened)
        bench.write(lambda: [45.0, 22.0])
        checks = ["tray", "clear", "vessel", "room", "lid", "watcher"]
        lit = {"station": "jar-a", "trial": "cedar-6", "watched_by": "Ines", "checks": checks}
        _, answer = await asyncio.to_thread(lambda: bench.post("/api/burns", **lit))
        path = f"/api/burns/{answer['burn']}/observations"
        await asyncio.to_thread(lambda: bench.post(path, emergency="crack"))
        await asyncio.to_thread(until, lambda: len(kept(bench)) >= 2, "the lines are saved")
        lines = kept(bench)
        assert any(line.startswith("DANGER") for line in lines)
        bench.kill()
        await asyncio.to_thread(bench.start)
        async with listening(broker, "wickbench/#") as ear, Swallower(broker.port, port=port):
            await asyncio.to_thread(until, lambda: not kept(bench), "all are sent", 40.0)
            once = dict.fromkeys(lines, 1)
            assert Counter(ear.of("/phone")) & Counter(lines * 2) == once
            bench.kill()
            await asyncio.to_thread(bench.start)
            beats = len(ear.of("/heartbeat"))
            await ear.until(lambda _: len(ear.of("/heartbeat")) > beats, within_s=40.0)
            assert Counter(ear.of("/phone")) & Counter(lines * 2) == once
