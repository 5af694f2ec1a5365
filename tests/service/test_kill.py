"""`kill -9` at random moments: what was held is a gap-free prefix, and the bench goes on.

A killed process loses nothing that it gave to the operating system; power loss is another matter
and is not tested here. 10 kills in CI, 200 by `make faults`.
"""

import random
import time

import pytest

from logger.alarms.lifecycle import AlarmEvent
from logger.burn.model import BurnEvent
from logger.store.queries import open_read
from tests.support.waiting import until

COMMIT_BEGINS_WITHIN_S = 1.5  # the store's second, and half a one for a busy machine
WRAP = 2000  # numbers, so that no wall comes near a limit
KEY = "emergency/jar-a"


def numbered(sent):
    """Lines whose value tells their number; notes when each was sent."""

    def line():
        sent.append(time.time())
        return [20.0 + len(sent) % WRAP / 100.0, 22.0]

    return line


def numbers(readings):
    """Of readings that follow each other with less than half a WRAP between them."""
    found = []
    last = 0
    for reading in readings:
        number = round((reading.value - 20.0) * 100.0)
        last = number + WRAP * round((last - number) / WRAP)
        found.append(last)
    return found


class Evening:
    """Burns with an emergency each, and what the page must say of it after the next start."""

    def __init__(self, bench) -> None:
        self.bench = bench
        self.burns: list[str] = []
        self.expected = None

    def check(self) -> None:
        """After a start: lit, and the emergency as it was left."""
        assert self.bench.now()["stations"][0]["state"] == "lit"
        alarm = self.bench.alarm(KEY)
        assert (alarm and alarm["state"]) == self.expected

    def light(self) -> None:
        body = {"station": "jar-a", "trial": "marigold-6", "watched_by": "Ines"}
        status, answer = self.bench.post("/api/burns", **body)
        assert status == 201, answer
        self.burns.append(answer["burn"])

    def go_on(self) -> None:
        """One step further: reported, acknowledged, put out and lit anew. All is answered."""
        burn = self.burns[-1]
        if self.expected is None:
            crack = self.bench.post(f"/api/burns/{burn}/observations", emergency="crack")
            assert crack[0] == 201
            self.expected = "unacknowledged"
        elif self.expected == "unacknowledged":
            assert self.bench.post(f"/api/alarms/{KEY}/acknowledge", by="Ines")[0] == 201
            self.expected = "acknowledged"
        else:
            assert self.bench.post(f"/api/burns/{burn}/out")[0] == 201
            time.sleep(1.1)  # ids of burns have whole seconds
            self.light()
            self.expected = None


@pytest.mark.faults
def test_readings_burn_alarms_and_ids_survive_kill_9(bench, long, seed, fault_row):
    kills = 200 if long else 5
    chance = random.Random(seed)
    evening = Evening(bench)
    sent: list[float] = []
    recovery_s, unsaved_s, lost = [], [], []
    before = 0
    for kill in range(kills):
        began_s = time.monotonic()
        bench.start()
        bench.opened()
        first = len(sent) + 1
        bench.write(numbered(sent), every_s=0.02)
        until(lambda: bench.now()["instruments"][0]["state"] == "up", "readings come")
        recovery_s.append(time.monotonic() - began_s)
        if kill == 0:
            evening.light()
        evening.check()
        evening.go_on()
        time.sleep(chance.uniform(0.0, 1.0))
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
        lost += [at_s for at_s in sent[held:] if at_s < killed_s - allowed_s]
        unsaved_s.append(max(0.0, killed_s - sent[held]) if held < len(sent) else 0.0)
        before += len(stored)
    assert before > 10 * kills
    ids = [event.id for event in events]
    rung = {
        one.burn
        for one in events
        if isinstance(one, AlarmEvent)
        and (one.alarm.finding.rule, one.what) == ("emergency", "raised")
    }
    reported = evening.burns if evening.expected else evening.burns[:-1]
    missed, doubled = set(reported) - rung, len(ids) - len(set(ids))
    fault_row(
        "kill -9 in a running burn",
        tried=kills,
        lost=len(lost),
        missed=len(missed),
        doubled=doubled,
        recovery_s=max(recovery_s[1:]),  # the first is no start after a kill
        reached=f"of {before} readings the last {max(unsaved_s):.2f} s at most not yet saved",
        bar="1.5 s and a commit",
    )
    assert not lost, "readings that were older than the commit under way"
    assert not missed
    assert not doubled
    resumed = [one for one in events if isinstance(one, BurnEvent) and one.event == "watch-resumed"]
    assert len(resumed) == kills - 1
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
