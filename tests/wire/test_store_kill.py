"""A process that is killed at any moment leaves a gap-free prefix of what it took.

`kill -9` tells nothing of a power cut: the system still writes what the process handed over. That
each commit waits for the disk is what synchronous=FULL is for, and cannot be tested here.
"""

import itertools
import random
import time

import pytest

from logger.store.queries import open_read
from tests.support.waiting import patient
from tests.support.warm_starts import started

TAKE = """
import asyncio, sys, time
from pathlib import Path
from logger.burn.entries import Note
from logger.pipeline import Bench
from logger.quantities import Reading
from logger.settings.limit_keys import default_limits
from logger.store.recorder import Recorder
from logger.store.store import Store

async def main():
    store = await Store.open(Path(sys.argv[1]))
    bench = Bench(channels=(), stations=(), limits=default_limits())
    await store.begin_run(settings_text="", bench=bench, started_s=time.time(), version="0")
    recorder = Recorder(store, now_s=time.time, report=print)
    work = asyncio.create_task(recorder.run())
    asyncio.create_task(enter(recorder))
    number = 0
    while True:
        for _ in range(5):
            at_s = round(time.time(), 6)
            recorder.take(Reading(channel="a", value=float(number), at_s=at_s), [])
            print("taken", number, at_s, flush=True)
            number += 1
        await asyncio.sleep(0.005)

async def enter(recorder):
    number = 0
    while True:
        at_s = time.time()
        id = f"{sys.argv[2]}-{number}"
        recorder.take(Note(at_s=at_s, entered_s=at_s, id=id, station="jar-a", text="."), [])
        await recorder.saved()
        print("answered", id, flush=True)
        number += 1
        await asyncio.sleep(float(sys.argv[3]))

asyncio.run(main())
"""


@pytest.mark.parametrize(
    "entry_every_s", [pytest.param("30", id="readings"), pytest.param("0.04", id="and-entries")]
)
def test_killed_at_any_moment_a_run_leaves_a_prefix(tmp_path, entry_every_s):
    generator = random.Random(7)
    output = tmp_path / "output"
    missing = answered = 0
    for attempt in range(3):
        with output.open("w+") as file:
            words = ("-c", TAKE, str(tmp_path), str(attempt), entry_every_s)
            process = started(*words, output=file.fileno())
            deadline_s = time.monotonic() + patient(10.0)
            while "taken" not in output.read_text():
                assert process.poll() is None
                assert time.monotonic() < deadline_s
                time.sleep(0.01)
            time.sleep(generator.uniform(0.0, 1.8))  # the moment of the kill is what is tested
            killed_s = time.time()
            process.kill()
            process.wait()
        lines = [line.split() for line in output.read_text().splitlines()]
        taken = [float(line[2]) for line in lines if line[0] == "taken" and len(line) == 3]
        with open_read(tmp_path) as reader:
            run = reader.runs()[-1]
            held = [reading.value for reading in reader.readings()][run.after_reading :]
            entries = {stored.entry.id for stored in reader.entries()}
        assert held == [float(number) for number in range(len(held))]
        lost = taken[len(held) :]
        # a busy machine may not let the process run at all for a while
        starved_s = max(b - a for a, b in itertools.pairwise([*taken, killed_s]))
        assert not lost or killed_s - lost[0] < 1.5 + run.longest_commit_s + starved_s
        missing += len(lost)
        for line in lines:
            if line[0] == "answered":
                assert line[1] in entries
                answered += 1
    assert answered
    assert missing or entry_every_s != "30"  # else the kills came when nothing could be lost
