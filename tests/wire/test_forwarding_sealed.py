"""Rows that are sealed before an engine has them are forwarded all the same, and once."""

import time

import pytest

from logger.quantities import Reading
from logger.store.opening import FILE_NAME, open_to_read
from logger.store.queries import open_read
from logger.store.sealer import Sealer
from logger.store.sealing import AFTER_S
from logger.store.store import Store
from tests.support.forwarding_bench import BENCH, ROOM, ForwardingBench

SECONDS = 10_000  # of two channels: more than a block of each kind


@pytest.fixture
async def bench(tmp_path):
    """Two hours of long ago, and one reading of today."""
    at_s = float(int(time.time() - AFTER_S) - 2 * 86_400)
    store = await Store.open(tmp_path)
    await store.begin_run(settings_text="", bench=BENCH, started_s=at_s, version="0")
    found = ForwardingBench(tmp_path, store, at_s)
    for _ in range(10):
        await found.add(SECONDS // 10)
    today = Reading(channel=ROOM.name, value=20.0, at_s=at_s + AFTER_S + 86_400.0)
    await store.append([(today, ())])
    yield found
    await store.close()


async def seal(bench):
    sealer = Sealer(bench.store, bench.data)
    while await sealer.step():
        pass
    con = open_to_read(bench.data / FILE_NAME)
    try:
        return dict(con.execute("SELECT of, sum(rows) FROM chunk GROUP BY of").fetchall())
    finally:
        con.close()


def values(refusing, measurement):
    return sorted(float(fields.split("value=")[1]) for fields in refusing.of(measurement).values())


async def test_what_was_sealed_in_an_outage_arrives_whole(bench, refusing):
    refusing.answer = lambda lines: 204 if len(refusing.requests) < 4 else 503
    async with bench.forwarding(refusing.url):
        await bench.until(lambda state: "busy" in state.trouble, "it goes away in between")
    before = len(refusing.points)
    assert 0 < before < 10_000
    assert (await seal(bench))["reading"] >= 16_384
    refusing.answer = lambda lines: 204
    async with bench.forwarding(refusing.url):
        await bench.until_all_is_there(within_s=60.0)
        assert bench.forwarder.state.set_aside == 0
    with open_read(bench.data) as reader:
        readings, estimates = [*reader.readings()], [*reader.estimates()]
    assert len(refusing.of("reading")) == len(readings) == 2 * SECONDS + 1
    assert len(refusing.of("estimate")) == len(estimates) == 2 * SECONDS
    assert values(refusing, "reading") == sorted(one.value for one in readings)
    assert values(refusing, "estimate") == sorted(one.value for one in estimates)
    assert max(lines for lines, _ in refusing.requests) <= 2000


async def test_a_point_set_aside_and_sealed_since_is_tried_again(bench, refusing):
    def is_bad(line):
        return line.startswith("reading") and "value=77.25 " in line

    refusing.answer = lambda lines: 400 if any(map(is_bad, lines)) else 204
    async with bench.forwarding(refusing.url):
        await bench.until_all_is_there(within_s=60.0)
    await seal(bench)
    refusing.answer = lambda lines: 204
    async with bench.forwarding(refusing.url):
        await bench.until(lambda state: not (state.trouble or state.set_aside), "it is taken")
    assert len(refusing.of("reading")) == 2 * SECONDS + 1
