"""`kill -9` at random moments: what was held is a gap-free prefix, and the bench goes on.

A killed process loses nothing that it gave to the operating system; power loss is another matter
and is not tested here. WICKBENCH_KILLS sets how often (10 in CI).
"""

import os
import random
import time

from logger.alarms.lifecycle import AlarmEvent
from logger.burn.model import BurnEvent
from logger.store.queries import open_read
from tests.support.waiting import until

KILLS = int(os.environ.get("WICKBENCH_KILLS", "10"))
COMMIT_BEGINS_WITHIN_S = 1.0  # the store's promise


def numbered(sent):
    """Lines whose value tells their number; notes when each was sent."""

    def line():
        sent.append(time.time())
        return [20.0 + len(sent) / 100.0, 22.0]

    return line


def numbers(readings):
    return [round((reading.value - 20.0) * 100.0) for reading in readings]


def test_readings_burn_alarms_and_ids_survive_kill_9(bench):
    rng = random.Random(20)
    sent: list[float] = []
    before = 0
    for kill in range(KILLS):
        bench.start()
        bench.opened()
        first = len(sent) + 1
        bench.write(numbered(sent), every_s=0.02)
        until(lambda: bench.now()["instruments"][0]["state"] == "up", "readings come")
        if kill == 0:
            body = {"station": "jar-a", "trial": "marigold-6", "watched_by": "Ines"}
            assert bench.post("/api/burns", **body)[0] == 201
        status = bench.now()["stations"][0]
        assert status["state"] == "lit"
        time.sleep(rng.uniform(0.0, 1.5))
        killed_s = time.time()
        bench.kill()
        bench.stop_writing()
        with open_read(bench.data) as reader:
            stored = numbers(reader.readings("jar-a-wall-3", 0.0, None))[before:]
            run = reader.runs()[-1]
            events = [one.event for one in reader.events()]
        held = stored[-1] if stored else first - 1
        assert stored == list(range(held - len(stored) + 1, held + 1)), "a gap"
        assert held - len(stored) + 1 - first <= 3  # sent while the port was being opened
        allowed_s = COMMIT_BEGINS_WITHIN_S + run.longest_commit_s
        lost = [at_s for at_s in sent[held:] if at_s < killed_s - allowed_s]
        assert not lost, f"{len(lost)} readings older than {allowed_s:.2f} s are missing"
        ids = [event.id for event in events]
        assert len(ids) == len(set(ids))
        before += len(stored)
    assert before > 20 * KILLS
    resumed = [one for one in events if isinstance(one, BurnEvent) and one.event == "watch-resumed"]
    assert len(resumed) == KILLS - 1
    assert all("it was not watched for" in one.text for one in resumed)


def test_an_acknowledged_alarm_is_still_acknowledged_after_kill_9_and_is_not_told_again(bench):
    bench.start()
    bench.opened()
    bench.write(lambda: [62.0, 22.0], every_s=0.05)
    key = "wall-limit/jar-a-wall-3"
    until(lambda: bench.alarm(key), "the wall is over the limit")
    assert bench.post(f"/api/alarms/{key}/acknowledge", by="Ines")[0] == 201
    bench.kill()
    bench.start()
    until(lambda: bench.now()["instruments"][0]["state"] == "up", "readings come")
    time.sleep(3)
    assert bench.alarm(key)["state"] == "acknowledged"
    assert bench.alarm(key)["acknowledged_by"] == "Ines"
    with open_read(bench.data) as reader:
        events = [one.event for one in reader.events()]
    told = [
        one.what
        for one in events
        if isinstance(one, AlarmEvent) and one.alarm.finding.rule == "wall-limit"
    ]
    assert told == ["raised", "acknowledged"]
