"""A running bench whose clock is set, changes to and from summer time, or stands still in suspend.

What is stored is compared with what was put in: each reading once and in its order, each alarm
raised and ended, no id used twice, and the burn as long as it was.
"""

import random
import time
from collections import Counter
from itertools import pairwise

import pytest

from logger.alarms.lifecycle import AlarmEvent
from logger.burn.entries import Resumed
from logger.store.queries import open_read
from tests.support.web_bench import START_S, WALL, Board, serving

pytestmark = pytest.mark.faults

TRIES = 4  # a hundred in the long form
HOUR_S = 3600.0
TOLD_S = 5  # bench seconds until the alarm `clock`, and until it ends; our choice
CENTRAL_EUROPE = "CET-1CEST,M3.5.0,M10.5.0/3"  # the rule in POSIX's own form (TZ)
CHANGES_S = (  # 01:00 UTC of the last Sundays of March and October, 2026 to 2030 (2000/84/EC)
    *(1_774_746_000, 1_792_890_000, 1_806_195_600, 1_824_944_400, 1_837_645_200),
    *(1_856_394_000, 1_869_094_800, 1_887_843_600, 1_901_149_200, 1_919_293_200),
)


class Evening:
    """A burn with numbered readings; what was put in."""

    def __init__(self, bench) -> None:
        self.bench = bench
        self.count = 0
        self.burn = ""

    async def light(self) -> None:
        self.burn = await self.bench.light()

    async def seconds(self, count: int) -> None:
        for _ in range(count):
            self.count += 1
            await self.bench.seconds(1, wall=_value(self.count), room=22.0)

    async def clock_alarm(self):
        alarms = (await self.bench.now())["alarms"]
        return next((one for one in alarms if one["rule"] == "clock"), None)

    async def until_clock_alarm(self, expected: bool) -> int:
        """Bench seconds until there is one, or none any more."""
        for waited in range(TOLD_S + 1):
            if (await self.clock_alarm() is not None) == expected:
                return waited
            await self.seconds(1)
        raise AssertionError(f"alarm `clock` {expected} not within {TOLD_S} s")

    async def acknowledge(self) -> None:
        alarm = await self.clock_alarm()
        await self.bench.post(f"/api/alarms/{alarm['alarm']}/acknowledge", by="Ines")

    async def elapsed_s(self) -> float:
        return (await self.bench.now())["stations"][0]["elapsed_s"]


def _value(number: int) -> float:
    return 40.0 + number % 500 / 100.0  # never near a limit


def judged(data, count):
    """Readings lost, ids used twice, clock alarms raised; stamps must be in order."""
    with open_read(data) as reader:
        readings = list(reader.readings(WALL))
        events = [one.event for one in reader.events()]
    assert all(one.at_s < after.at_s for one, after in pairwise(readings))
    wanted = Counter(_value(number) for number in range(1, count + 1))
    stored = Counter(round(one.value, 2) for one in readings)
    assert not stored - wanted  # nothing twice
    ids = Counter(event.id for event in events)
    raised = [
        event
        for event in events
        if isinstance(event, AlarmEvent)
        and (event.alarm.finding.rule, event.what) == ("clock", "raised")
    ]
    return (wanted - stored).total(), ids.total() - len(ids), len(raised)


@pytest.mark.parametrize("step_s", [HOUR_S, -HOUR_S], ids=["ahead", "behind"])
async def test_a_clock_that_is_set_by_an_hour(tmp_path, quick, fault_row, seed, long, step_s):
    chance, board = random.Random(seed), Board()
    tries = 100 if long else TRIES
    recovered_s = []
    async with serving(tmp_path, clock=board.clock()) as bench:
        evening = Evening(bench)
        await evening.light()
        for _ in range(tries):
            await evening.seconds(chance.randrange(1, 4))
            board.wall_ns += int(step_s * 1e9)
            await evening.until_clock_alarm(True)
            await evening.acknowledge()
            board.wall_ns -= int(step_s * 1e9)
            recovered_s.append(await evening.until_clock_alarm(False))
        elapsed_s = await evening.elapsed_s()
    lost, doubled, raised = judged(tmp_path / "data", evening.count)
    fault_row(
        f"clock set by {step_s / HOUR_S:+.0f} h and back",
        tried=tries,
        lost=lost,
        missed=tries - raised,
        doubled=doubled,
        recovery_s=max(recovered_s),
    )
    assert (lost, doubled, raised) == (0, 0, tries)
    assert elapsed_s == pytest.approx(evening.count, abs=1.5)


@pytest.fixture
def local_time(monkeypatch):
    monkeypatch.setenv("TZ", CENTRAL_EUROPE)
    time.tzset()
    yield
    monkeypatch.undo()
    time.tzset()


async def test_the_nights_of_summer_time(tmp_path, quick, local_time, fault_row):
    figures = []
    for number, change_s in enumerate(CHANGES_S):
        folder = tmp_path / str(number)
        folder.mkdir()
        board = Board(change_s - 4.0)
        before_s = time.localtime(change_s - 4.0).tm_gmtoff
        async with serving(folder, clock=board.clock()) as bench:
            evening = Evening(bench)
            await evening.light()
            await evening.seconds(8)
            elapsed_s = await evening.elapsed_s()
            answer = await bench.post(f"/api/burns/{evening.burn}/out", by="Ines", at="6 s ago")
            assert answer.status_code == 201, answer.text
            page = await bench.client.get(f"/burns/{evening.burn}/record")
            stored = (await bench.client.get(f"/api/burns/{evening.burn}")).json()
        assert abs(time.localtime(board.wall_ns / 1e9).tm_gmtoff - before_s) == HOUR_S
        assert elapsed_s == pytest.approx(8.0, abs=1.5)
        assert stored["elapsed_s"] == pytest.approx(2.0, abs=1.5)
        assert page.status_code == 200, page.text
        figures.append(judged(folder / "data", evening.count))
    lost, doubled, raised = map(sum, zip(*figures, strict=True))
    fault_row(
        "night in which summer time begins or ends",
        tried=len(CHANGES_S),
        lost=lost,
        doubled=doubled,
        reached=f"{raised} false alarms, lengths right",
        bar="0",
    )
    assert (lost, doubled, raised) == (0, 0, 0)


async def test_a_boot_in_the_past_with_a_lit_candle(tmp_path, quick, fault_row, seed, long):
    chance, board = random.Random(seed), Board()
    count, told_s, seen_s = 0, [], 0.0
    tries = 10 if long else TRIES
    for boot in range(tries + 1):
        async with serving(tmp_path, clock=board.clock()) as bench:
            assert bench.service.now_s() >= seen_s
            evening = Evening(bench)
            evening.count = count
            if boot == 0:
                await evening.light()
            else:
                told_s.append(await evening.until_clock_alarm(True))
                assert (await bench.now())["stations"][0]["state"] == "lit"
            await evening.seconds(chance.randrange(2, 6))
            count, seen_s = evening.count, bench.service.now_s()
        board.wall_ns -= int(chance.uniform(1.0, 30.0) * 24.0 * HOUR_S * 1e9)
        board.wall_ns = max(board.wall_ns, int((START_S - 30.0 * 24.0 * HOUR_S) * 1e9))
    lost, doubled, _ = judged(tmp_path / "data", count)
    fault_row(
        "boot in the past, candle lit",
        tried=tries,
        lost=lost,
        missed=tries - len(told_s),
        doubled=doubled,
        reached=f"alarm after {max(told_s)} s",
        bar=f"<= {TOLD_S} s",
    )
    assert (lost, doubled) == (0, 0)


async def test_a_computer_that_sleeps_again_and_again(tmp_path, quick, fault_row, seed, long):
    chance, board = random.Random(seed), Board()
    tries = 100 if long else TRIES
    slept_s = 0.0
    async with serving(tmp_path, clock=board.clock()) as bench:
        evening = Evening(bench)
        await evening.light()
        for _ in range(tries):
            await evening.seconds(chance.randrange(2, 5))
            length_s = float(chance.randrange(60, 8 * 3600))
            board.suspend(length_s)
            slept_s += length_s
            await bench.seconds(3)  # what lay in the ports meanwhile is dropped
        await evening.seconds(2)
        elapsed_s = await evening.elapsed_s()
    lost, doubled, _ = judged(tmp_path / "data", evening.count)
    with open_read(tmp_path / "data") as reader:
        gaps = [one.entry for one in reader.entries() if isinstance(one.entry, Resumed)]
    told_s = sum(gap.entered_s - gap.at_s for gap in gaps)
    fault_row(
        "suspend of 1 min to 8 h, candle lit",
        tried=tries,
        lost=lost,
        missed=tries - len(gaps),
        doubled=doubled,
    )
    assert (lost, doubled, len(gaps)) == (0, 0, tries)
    assert told_s == pytest.approx(slept_s, abs=2.0 * tries)
    assert elapsed_s == pytest.approx(slept_s + evening.count + 3 * tries, abs=2.0)
