"""Somebody, or the network, sets the system's clock: while the service runs, or before it starts.

A board without a battery clock wakes in the past, some with a date of years ago.
"""

import logging

import pytest

from logger.pipeline import FOLD_BACK_S
from logger.publish import commands
from tests.support.web_bench import START_S, Board, serving

MONTH_S = 30 * 86_400.0


async def test_a_clock_that_is_set_is_told_once_and_so_is_its_return(tmp_path, caplog, monkeypatch):
    async with serving(tmp_path) as bench:
        with caplog.at_level(logging.INFO, logger="logger.service.ticking"):
            for step_s in (0.0, 3600.0, -7200.0, 0.5):
                monkeypatch.setattr(bench.clock, "wall_step_s", lambda step_s=step_s: step_s)
                await bench.seconds(3)
        ahead, behind, again = caplog.messages
        assert "now differs by +3600 s" in ahead
        assert "now differs by -7200 s" in behind
        assert "agrees again" in again


async def test_a_clock_that_is_set_is_an_alarm_until_it_agrees_again(tmp_path, monkeypatch):
    async with serving(tmp_path) as bench:
        monkeypatch.setattr(bench.clock, "wall_step_s", lambda: -7200.0)
        await bench.seconds(2)
        (alarm,) = [one for one in (await bench.now())["alarms"] if one["rule"] == "clock"]
        assert "2 h behind" in alarm["text"]
        assert "2031-05-04T07:00:01Z" in alarm["text"]  # what the system's clock says
        await bench.post(f"/api/alarms/{alarm['alarm']}/acknowledge", by="Ines")
        monkeypatch.setattr(bench.clock, "wall_step_s", lambda: 0.5)
        await bench.seconds(2)
        assert (await bench.now())["alarms"] == []


@pytest.mark.faults
@pytest.mark.parametrize("step_s", [-MONTH_S, MONTH_S], ids=["behind", "ahead"])
async def test_a_clock_that_is_wrong_after_a_restart(tmp_path, quick, fault_row, step_s):
    board = Board()
    async with serving(tmp_path, clock=board.clock()) as bench:
        burn = await bench.light()
        await bench.seconds(20, wall=40.0, room=22.0)
    board.wall_ns += int((step_s + 10.0) * 1e9)
    async with serving(tmp_path, clock=board.clock()) as bench:
        assert bench.service.now_s() >= START_S + 19.0
        seconds = 0
        while not (alarm := next(iter(await _clock_alarms(bench)), None)):
            seconds += 1
            assert seconds <= 5
            await bench.seconds(1, wall=40.0, room=22.0)
        station = (await bench.now())["stations"][0]
        assert station["elapsed_s"] >= 19.0
        assert "Look at the candle" in alarm["text"]
        body = {"id": "after-restart", "by": "Ines"}
        answer = await bench.client.post(f"/api/burns/{burn}/out", json=body)
        assert answer.status_code == 201, answer.text
        stored = (await bench.client.get(f"/api/burns/{burn}")).json()
    assert stored["out"] >= stored["lit"]
    assert stored["elapsed_s"] >= 19.0
    fault_row(
        f"clock {step_s / 86_400.0:+.0f} days over a restart",
        tried="restart with a lit candle, then out",
        reached=f"elapsed {station['elapsed_s']:.0f} s, alarm after {seconds} s",
        bar="no negative duration, alarm <= 5 s",
    )


async def _clock_alarms(bench):
    return [one for one in (await bench.now())["alarms"] if one["rule"] == "clock"]


async def test_a_start_in_the_past_folds_in_no_more_than_the_last_minutes(tmp_path, quick):
    board = Board()
    async with serving(tmp_path, clock=board.clock()) as bench:
        await bench.seconds(20, wall=40.0, room=22.0)
    board.wall_ns -= int(MONTH_S * 1e9)
    async with serving(tmp_path, clock=board.clock()) as bench:
        memory = await bench.service.store.memory(bench.service.now_s())
        assert all(one.at_s > bench.service.now_s() - FOLD_BACK_S for one in memory.readings)


def test_a_phones_command_is_of_now_by_the_bench_or_by_the_clock_that_was_set():
    def sent(at_s, step_s):
        payload = f'{{"id": "12345678", "time": {at_s:.0f}, "station": "jar-a"}}'.encode()
        return commands.parse(
            "record-out", payload, retained=False, now_s=START_S, wall_step_s=step_s
        )[0]

    assert sent(START_S + 3600.0, 3600.0).at_s == START_S
    assert sent(START_S, 3600.0).at_s == START_S
    with pytest.raises(commands.Refused):
        sent(START_S + 1800.0, 3600.0)
