"""What of the table can be counted, in some seconds: a bar here is no time, and the same anywhere.

The figures themselves: `python -m tests.benchmarks table`.
"""

import asyncio
import sys

import pytest

from logger.pipeline import with_ticks
from logger.quantities import Channel, Place, Position, Quantity
from logger.service.replay import read_csv
from simulators import fleet
from tests.benchmarks import wide_bench
from tests.benchmarks.bench_growth import lit_bench
from tests.support.broker import Broker

SECONDS = 90
MOST_CALLS = 220  # of a reading with its share of the second; 203 today


def calls_a_reading(channels):
    """Calls of Python functions, generators included; those of C are not counted."""
    pipeline, inputs = lit_bench(channels, SECONDS)
    items, calls = [*with_ticks(inputs)], 0

    def count(_frame, event, _argument):
        nonlocal calls
        calls += event == "call"

    for item in items[: len(items) // 2]:
        pipeline.step(item)  # what is done once, or imported, is left out
    sys.setprofile(count)
    try:
        for item in items[len(items) // 2 :]:
            pipeline.step(item)
    finally:
        sys.setprofile(None)
    return calls / (channels * SECONDS / 2)


def test_a_reading_costs_a_bounded_number_of_calls_however_wide_the_bench():
    narrow, wide = calls_a_reading(16), calls_a_reading(64)
    assert narrow < MOST_CALLS
    assert wide < 1.1 * narrow


def test_replay_holds_twenty_bytes_a_reading(tmp_path):
    file, names = tmp_path / "readings.csv", wide_bench.names(4)
    wide_bench.write_csv(file, 4, 8000)
    held = read_csv(file, [channel(name) for name in names])
    assert len(held) == 8000
    assert sum(column.itemsize for column in held._columns) <= 20
    found = [*held]
    assert [one.at_s for one in found] == sorted(one.at_s for one in found)
    assert {one.channel for one in found} == {*names}
    assert held.first_s == pytest.approx(wide_bench.BEGUN_S)


def channel(name):
    place = Place(position=Position.ROOM)
    return Channel(name=name, instrument="x", quantity=Quantity.TEMPERATURE, place=place)


async def test_nothing_of_a_small_fleet_is_lost(tmp_path):
    broker = Broker(tmp_path, ("allow_anonymous true",))
    broker.start()
    refused = f"http://127.0.0.1:{broker.port}"  # no engine: what it does not take is counted
    try:
        async with asyncio.timeout(60.0):
            tally = await fleet.run(20, 7, ("127.0.0.1", broker.port), refused)
    finally:
        broker.kill()
    found = fleet.summary(tally)
    assert found["sent"] > 20 * 7 * fleet.CHANNELS
    assert found["lost"] == found["alarms_lost"] == found["disconnected"] == 0
    assert found["points"] == 0
    assert found["points_refused"] > 0
    assert found["alarms"] >= 5
