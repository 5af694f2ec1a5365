"""A computer that slept, or was stopped: nothing of that time is made up, and it is said once."""

import asyncio
import random
import time

import pytest

from logger.announcements import Announcer
from logger.burn.entries import Resumed
from logger.clock import RealClock
from logger.quantities import Estimate, Quality, Reading
from logger.store.queries import open_read
from logger.words import Words
from simulators.printing_port import PrintingPort
from tests.support.waiting import within
from tests.support.web_bench import SIXTY_FOUR, START_S, serving

HOUR_S = 3600.0


class Sleeper:
    """System clocks that jump, as they do for a computer that slept."""

    def __init__(self) -> None:
        self.ns = int(START_S * 1e9)

    def clock(self) -> RealClock:
        return RealClock(wall_ns=lambda: self.ns, steady_ns=lambda: self.ns)


@pytest.mark.faults
async def test_after_hours_asleep_the_watch_goes_on_at_once(tmp_path, quick, fault_row, long):
    hours = 60 if long else 8
    system, noise = Sleeper(), random.Random(3)
    async with serving(tmp_path, SIXTY_FOUR, clock=system.clock()) as bench:
        names = [channel.name for channel in bench.service.settings.channels]

        async def seconds(count, level_c, hits=0.0):
            for _ in range(count):
                system.ns += 10**9
                now_s = bench.service.now_s()
                for name in names:
                    value = 22.0 if name == "room" else level_c + noise.gauss(0.0, 0.3)
                    value += 30.0 * (noise.random() < hits)
                    bench.service.engine.put(Reading(channel=name, value=value, at_s=now_s))
                await asyncio.sleep(0.02)

        await bench.light()
        await seconds(60, 45.0)
        with bench.service.hub.follow() as follower:
            asleep_s = bench.service.now_s()
            began_s = time.perf_counter()
            system.ns += int(hours * HOUR_S * 1e9)
            for _ in range(59):  # what lay in the port: of before, or of no one knows when
                stale = Reading(channel=names[0], value=90.0, at_s=bench.service.now_s())
                assert not bench.service.engine.put(stale)
            await asyncio.sleep(0)
            while bench.service.engine._queue.qsize():
                await asyncio.sleep(0)
            blocked_s = time.perf_counter() - began_s
            await seconds(2, 45.0)
            outputs = follower.take_waiting()
            for _ in range(15):
                await seconds(2, 45.0, hits=0.1)
                outputs += follower.take_waiting()
        hub = bench.service.hub
        announcer = Announcer(Words(), hub.burns.values, hub.alarms.values)
        lines = [one.line for one in announcer.announce(outputs) if one.phone]
        assert not any("limit" in line for line in lines), lines
        assert any("it was not watched for" in line for line in lines), lines
        assert len(lines) <= 5, lines
        assert blocked_s <= 2.0
        latest = [one for one in outputs if isinstance(one, Estimate) and one.channel == names[0]]
        assert abs(latest[-1].value - 45.0) < 1.0
        assert latest[-1].quality is Quality.GOOD
        assert bench.service.hub.now_s >= asleep_s + hours * HOUR_S
        await bench.service.recorder.saved()
    with open_read(tmp_path / "data") as reader:
        (gap,) = [one.entry for one in reader.entries() if isinstance(one.entry, Resumed)]
        assert gap.entered_s - gap.at_s == pytest.approx(hours * HOUR_S, abs=3.0)
        assert not [one for one in reader.readings(names[0]) if one.value == 90.0]
    fault_row(
        "waking from suspend, 64 channels",
        tried=f"{hours} h asleep with a lit candle, 59 readings in the port",
        reached=f"blocked {blocked_s:.2f} s, {len(lines)} phone lines, 0 false limit alarms",
        bar="<= 2 s, <= 5 lines, 0",
    )


async def test_what_lay_in_a_port_is_dropped_and_counted(tmp_path, quick):
    system, port = Sleeper(), PrintingPort(tmp_path / "not-plugged-in")
    async with serving(tmp_path, clock=system.clock()) as bench:
        (link,) = bench.service.links
        async with within(10):
            while not port.opened:
                await asyncio.sleep(0.01)
            port.send_raw(b"\n")
            while link.readings < 5:
                port.write_line((45.0, 22.0))
                system.ns += 10**9
                await asyncio.sleep(0.02)
        system.ns += int(HOUR_S * 1e9)
        before = bench.service.engine.done["jar-a-wall-3"]
        for _ in range(59):
            port.write_line((91.0, 22.0))
        async with within(10):
            while link.dropped < 118:  # of two channels
                await asyncio.sleep(0.01)
        assert bench.service.engine.done["jar-a-wall-3"] == before
        system.ns += 2 * 10**9
        async with within(10):
            while bench.service.engine.done["jar-a-wall-3"] == before:
                port.write_line((45.0, 22.0))
                await asyncio.sleep(0.02)
        assert link.dropped == 118
    port.unplug()
