"""A broker that is silently gone: the program of last resort rings for every unconfirmed line."""

import asyncio
import json
import random
import sys
import time

import pytest

from tests.support.process_bench import TWO_PROBES, BenchProcess
from tests.support.swallower import Swallower
from tests.support.waiting import until

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
