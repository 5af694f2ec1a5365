"""A mixed bench through plugs, noise, bad CRC, silence and wedged instruments.

Every reading that was sent at least 0.2 s before a fault is stored once, with its value and its
time; every silence was alarmed. 12 faults in CI; `make faults` has 40, in about five minutes.
"""

import random
import time
from collections import Counter
from concurrent.futures import ThreadPoolExecutor

import pytest

from logger.alarms.lifecycle import AlarmEvent
from logger.store.queries import open_read
from tests.support.mixed_bench import (
    SHOWN_FOR_S,
    MixedBench,
    number_of,
    script,
    suffer,
)
from tests.support.process_bench import BenchProcess
from tests.support.waiting import until

STAMPED_WITHIN_S = 0.5


@pytest.fixture
def mixed(tmp_path):
    with MixedBench(tmp_path) as mixed:
        yield mixed


@pytest.fixture
def service(tmp_path, mixed):
    with BenchProcess(tmp_path, mixed.configuration) as service:
        yield service


@pytest.mark.faults
def test_every_reading_is_stored_once_and_every_silence_is_alarmed(
    mixed, service, long, seed, fault_row
):
    count, every_s = (40, 7.5) if long else (12, 2.5)  # they may overlap
    begun_s = time.time()
    service.start()
    until(lambda: all(i["state"] == "up" for i in service.now()["instruments"]), "all are up")
    for source in mixed.sources:
        source.troubles.append((begun_s, time.time() + 0.3))  # until its port was open

    with ThreadPoolExecutor(count) as at_once:
        faults = []
        for number, (name, fault) in enumerate(script(count)):
            time.sleep(every_s)
            rng = random.Random(seed + number)
            faults.append(at_once.submit(suffer, mixed, service, name, fault, rng))
        recovery_s = [one.result(60.0) for one in faults]
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
    late, missing, unalarmed = [], [], []
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
        missing += [(source.name, number) for number in source.missing(numbers, stopped_s)]
        unalarmed += [(source.name, why) for why in source.unalarmed(raised)]
    late.sort()
    (p99_s, _), (worst_s, worst) = late[int(0.99 * len(late))], late[-1]
    silences = sum(len(source.silences) for source in mixed.sources)
    fault_row(
        f"plugs, noise, bad CRC, silences: {silences} of them",
        tried=len(faults),
        lost=len(missing),
        missed=len(unalarmed),
        recovery_s=max(recovery_s),
        reached=f"stamps within {1e3 * p99_s:.0f} ms (p99), {1e3 * worst_s:.0f} ms ({worst})",
        bar=f"{1e3 * STAMPED_WITHIN_S:.0f} ms",
    )
    assert not missing
    assert not unalarmed
    assert worst_s < STAMPED_WITHIN_S, worst
    assert silences >= count // 2
