"""One running bench through many faults in turn; after each its whole record is judged.

`make faults` tries each more often and stops the process for a whole minute.
"""

import json
import random
import resource
import signal
import threading
import time
import urllib.request
import uuid
from concurrent.futures import ThreadPoolExecutor

import pytest

from logger.burn.entries import Resumed
from logger.service.engine import BACKLOG_S, GAP_S
from logger.store.queries import open_read
from tests.support.broker import LASTING
from tests.support.fault_world import CRACK, running_world
from tests.support.mixed_bench import off_the_bus, plug, suffer
from tests.support.waiting import patient, until

pytestmark = pytest.mark.faults

SEEN_S = 1.0  # from a person's report to the page; our choice
FULL_BYTES = 16_384  # no file of the service may become longer, as on a disk without room


@pytest.fixture(scope="module")
def world(tmp_path_factory, start_broker):
    with running_world(tmp_path_factory.mktemp("world"), start_broker(*LASTING)) as world:
        yield world


def test_every_instrument_unplugged_in_turn(world, fault_row, seed, long):
    names = [source.name for source in world.mixed.sources]
    names = names * 5 if long else names
    recovery_s = []
    with ThreadPoolExecutor(4) as at_once:  # one is still away while the next plug is pulled
        faults = []
        for number, name in enumerate(names):
            fault = off_the_bus if name == "bus" else plug
            rng = random.Random(seed + number)
            faults.append(at_once.submit(suffer, world.mixed, world.service, name, fault, rng))
            time.sleep(rng.uniform(0.1, 0.6))
        recovery_s = [one.result(60.0) for one in faults]
    fault_row(
        "instrument unplugged", tried=len(names), recovery_s=max(recovery_s), **world.judged()
    )


def test_a_process_that_is_stopped_and_goes_on(world, fault_row, long):
    lengths_s = (*[1.0] * 8, 6.0, 60.0) if long else (*[1.0] * 3, 6.0, 6.0)
    recovery_s = []
    for length_s in lengths_s:
        burn = world.light()
        url = f"{world.service.address}/api/burns/{burn}/observations"
        reporting = threading.Thread(target=_report, args=(url,))
        with world.trouble():
            world.service.process.send_signal(signal.SIGSTOP)
            reporting.start()  # into a socket that nobody serves
            time.sleep(length_s)
            world.service.process.send_signal(signal.SIGCONT)
            began_s = time.monotonic()
            world.until_all_are_read()
            recovery_s.append(time.monotonic() - began_s)
            if length_s > GAP_S:
                time.sleep(BACKLOG_S)  # what lay in the ports has no time of its own
        reporting.join()
        world.over(burn)
    figures = world.judged()
    with open_read(world.service.data) as reader:
        gaps = [one.entry for one in reader.entries() if isinstance(one.entry, Resumed)]
    told_s = sorted(round(gap.entered_s - gap.at_s) for gap in gaps)[-2:]
    fault_row(
        f"process stopped for {', '.join(f'{one:g} s' for one in dict.fromkeys(lengths_s))}",
        tried=len(lengths_s),
        recovery_s=max(recovery_s),
        **figures,
    )
    assert told_s == pytest.approx(lengths_s[-2:], abs=2.0)


def _report(url):
    body = json.dumps({"id": uuid.uuid4().hex, **CRACK}).encode()
    request = urllib.request.Request(url, body, {"content-type": "application/json"})
    with urllib.request.urlopen(request, timeout=patient(90)) as answer:
        assert answer.status == 201


def test_a_disk_that_fills_up(world, fault_row, seed, long):
    chance = random.Random(seed)
    pid = world.service.process.pid
    seen_s, recovery_s = [], []
    for _ in range(20 if long else 4):
        time.sleep(chance.uniform(0.0, 0.5))
        free = resource.prlimit(pid, resource.RLIMIT_FSIZE)
        resource.prlimit(pid, resource.RLIMIT_FSIZE, (FULL_BYTES, free[1]))
        until(lambda: _storage(world) == "unacknowledged", "storage is raised")
        heard = len(world.record.texts)
        seen_s.append(world.in_danger())
        until(lambda heard=heard: len(world.record.texts) > heard + 2, "its events go out")
        resource.prlimit(pid, resource.RLIMIT_FSIZE, free)
        began_s = time.monotonic()
        until(lambda: _storage(world) == "returned-unacknowledged", "it is saved again", 40.0)
        recovery_s.append(time.monotonic() - began_s)
    fault_row(
        "disk full (RLIMIT_FSIZE)",
        tried=len(seen_s),
        recovery_s=max(recovery_s),
        **world.judged(),
        reached=f"alarm on the page after {max(seen_s):.2f} s",
        bar=f"<= {SEEN_S:g} s",
    )
    assert max(seen_s) <= SEEN_S


def _storage(world):
    alarm = world.service.alarm("storage/database")
    return alarm and alarm["state"]


def test_a_second_start_is_refused(world, fault_row, long):
    service = world.service
    tries = 20 if long else 4
    for _ in range(tries):
        second = service.wickbench("run")
        assert second.returncode == 1
        assert f"held by the wickbench process {service.process.pid}" in second.stderr
    world.in_danger()
    fault_row("second start", tried=tries, **world.judged())


@pytest.mark.parametrize("ends", [signal.SIGTERM, signal.SIGINT])
def test_told_to_end_while_a_candle_burns(world, fault_row, seed, long, ends):
    chance = random.Random(seed)
    tries = 20 if long else 4
    recovery_s = []
    burn = world.light()
    for _ in range(tries):
        time.sleep(chance.uniform(0.0, 1.0))
        with world.trouble():
            world.service.process.send_signal(ends)
            assert world.service.process.wait(patient(15)) == 0, world.service.log.read_text()
            recovery_s.append(world.start())
        assert world.service.now()["stations"][0]["burn"] == burn
    world.service.post(f"/api/burns/{burn}/observations", **CRACK)
    world.over(burn)
    fault_row(ends.name, tried=tries, recovery_s=max(recovery_s), **world.judged())
