"""A mixed bench through plugs, noise, bad CRC, silence and wedged instruments.

Every reading that was sent at least 0.2 s before a fault is stored once, with its value and its
time; every silence was alarmed. WICKBENCH_FAULTS sets how many faults (12 in CI; `make faults`
has 40, in about five minutes).
"""

import os
import random
import sys
import time
from collections import Counter
from concurrent.futures import ThreadPoolExecutor

import pytest
from bench_process import BenchProcess, until
from mixed_bench import SHOWN_FOR_S, MixedBench, number_of, script, suffer

from logger.alarms.lifecycle import AlarmEvent
from logger.store.queries import open_read

FAULTS = int(os.environ.get("WICKBENCH_FAULTS", "12"))
EVERY_S = 7.5 if FAULTS > 12 else 2.5  # from one fault to the next; they may overlap
STAMPED_WITHIN_S = 0.5


@pytest.fixture
def mixed(tmp_path):
    with MixedBench(tmp_path) as mixed:
        yield mixed


@pytest.fixture
def service(tmp_path, mixed):
    with BenchProcess(tmp_path, mixed.configuration) as service:
        yield service


def test_every_reading_is_stored_once_and_every_silence_is_alarmed(mixed, service):
    begun_s = time.time()
    service.start()
    until(lambda: all(i["state"] == "up" for i in service.now()["instruments"]), "all are up")
    for source in mixed.sources:
        source.troubles.append((begun_s, time.time() + 0.3))  # until its port was open

    with ThreadPoolExecutor(FAULTS) as at_once:
        faults = []
        for number, (name, fault) in enumerate(script(FAULTS)):
            time.sleep(EVERY_S)
            rng = random.Random(number)
            faults.append(at_once.submit(suffer, mixed, service, name, fault, rng))
        for one in faults:
            one.result(60.0)
    time.sleep(2.0)
    mixed.stop()
    stopped_s = time.time()
    time.sleep(1.0)
    assert service.terminate() == 0, service.log.read_text()

    with open_read(service.data) as reader:
        readings = list(reader.readings())
        raised = [
            (event.alarm.finding.channel, event.time_s)
            for event in (one.event for one in reader.events())
            if isinstance(event, AlarmEvent)
            and (event.alarm.finding.rule, event.what) == ("silent", "raised")
        ]
    late = []
    for source in mixed.sources:
        stored = [r for r in readings if r.channel == source.name]
        numbers = Counter(number_of(r.value) for r in stored)
        assert source.sent, source.name
        if source.driver != "one-wire":
            assert max(numbers.values()) == 1, f"{source.name}: stored twice: {numbers}"
        for r in stored:
            number = number_of(r.value)
            if source.driver == "one-wire" and (number == 0 or r.at_s > stopped_s):
                continue  # shown before the bench began, and left there when it ended
            assert number in source.sent, f"{source.name}: {r.value} was never sent"
            shown_s = SHOWN_FOR_S if source.driver == "one-wire" else 0.0
            off_s = r.at_s - source.sent[number]
            if not source.spared(source.sent[number]):
                late.append((max(0.0, off_s - shown_s, -off_s), f"{source.name} {number}"))
        missing = source.missing(numbers, stopped_s)
        assert not missing, f"{source.name}: not stored: {missing}"
        unalarmed = source.unalarmed(raised)
        assert not unalarmed, f"{source.name}: raised no alarm: {unalarmed}"
    late.sort()
    (p99_s, _), (worst_s, worst) = late[int(0.99 * len(late))], late[-1]
    silences = sum(len(source.silences) for source in mixed.sources)
    sys.stdout.write(
        f"\n{len(faults)} faults, {silences} silences, {len(readings)} readings in "
        f"{stopped_s - begun_s:.0f} s; stamps within {1e3 * p99_s:.1f} ms (p99), "
        f"{1e3 * worst_s:.1f} ms (worst, {worst})\n"
    )
    assert worst_s < STAMPED_WITHIN_S, worst
    assert silences >= FAULTS // 2
