"""Forwarding to a real engine: stopped, restarted, half-open, killed on this side, slow.

Each time the engine's whole export is compared with the database: nothing is lost, nothing doubled.
"""

import asyncio
import time
from dataclasses import replace

import pytest

from logger.publish.influx import Forwarder
from logger.quantities import Part, Place, Position, Reading
from logger.settings import InfluxSettings
from logger.store.spool import Spool
from logger.store.store import Store
from tests.support.forwarding_bench import (
    BENCH,
    IMPATIENT,
    KINDS,
    ROOM,
    WALL,
    ForwardingBench,
    alarm,
)


@pytest.fixture
async def bench(tmp_path):
    """A database near today: engines drop what lies in the future."""
    at_s = float(int(time.time()) - 100_000)
    store = await Store.open(tmp_path)
    await store.begin_run(settings_text="", bench=BENCH, started_s=at_s, version="0")
    found = ForwardingBench(tmp_path, store, at_s)
    yield found
    await found.store.close()


async def test_all_that_is_stored_reaches_the_engine_once(bench, engine):
    await bench.add(3000)  # several batches
    async with bench.forwarding(engine.url):
        await bench.until_all_is_there()
        await bench.add(20)  # while it runs
        await bench.until_all_is_there()
        state = bench.forwarder.state
    assert bench.same_as_in(engine) > 40_000
    assert (state.waiting, state.behind_s, state.trouble) == (0, 0.0, "")
    assert bench.news[-1].ok


async def test_readings_go_only_where_they_are_asked_for(bench, engine):
    await bench.add(10)
    async with bench.forwarding(engine.url, kinds=("event", "estimate")):
        await bench.until(lambda state: not state.waiting and not state.trouble, "all is sent")
    assert not engine.export("reading_.*")
    assert engine.export("estimate_value")


async def test_the_same_points_written_again_change_nothing(bench, engine):
    await bench.add(500)
    async with bench.forwarding(engine.url):
        await bench.until_all_is_there()
    first = engine.export()
    await bench.store.change(lambda con: con.execute("DELETE FROM forwarded"))
    async with bench.forwarding(engine.url):
        await bench.until_all_is_there()
    assert engine.export() == first
    bench.same_as_in(engine)


async def test_a_value_that_the_engine_rounds_is_the_same_and_another_is_not(bench, engine):
    """The engine keeps 40.015486455 of the first: half-way between two of ten digits."""
    values = (40.01548645498, 39.011163575025385, 1e-7, 0.0)
    await bench.store.append(
        [
            (Reading(channel=WALL.name, value=value, at_s=bench.at_s + second), ())
            for second, value in enumerate(values)
        ]
    )
    async with bench.forwarding(engine.url):
        await bench.until_all_is_there()
    assert bench.same_as_in(engine) == len(values)
    await bench.store.change(
        lambda con: con.execute("UPDATE reading SET value = value + 1e-8 WHERE value > 40")
    )
    with pytest.raises(AssertionError, match=r"40\.01548645"):
        bench.same_as_in(engine)


@pytest.mark.faults
async def test_an_engine_that_comes_and_goes_loses_and_doubles_nothing(
    bench, engine, long, fault_row
):
    times = 30 if long else 4
    longest_s = 0.0
    async with bench.forwarding(engine.url):
        for _ in range(times):
            await bench.add(100)
            await bench.until(lambda state: not state.trouble, "it has all")
            engine.stop()
            await bench.add(400)
            await bench.until(lambda state: "nothing listens" in state.trouble, "it is away")
            engine.start()
            back_s = time.monotonic()
            await bench.until_all_is_there()
            longest_s = max(longest_s, time.monotonic() - back_s)
    samples = bench.same_as_in(engine)
    fault_row(
        "engine stopped and started again",
        tried=times,
        reached=f"0 of {samples} samples lost, 0 doubled; all there after {longest_s:.1f} s",
        bar="0 lost, 0 doubled",
    )


@pytest.mark.faults
async def test_an_engine_that_swallows_what_it_is_sent_loses_and_doubles_nothing(
    bench, engine, proxy, long, fault_row
):
    times = 20 if long else 4
    async with bench.forwarding(proxy.url):
        for _ in range(times):
            proxy.swallows = True
            before = proxy.taken
            await bench.add(300)
            await bench.until(lambda state: "no answer within" in state.trouble, "it is noticed")
            assert proxy.taken > before
            proxy.swallows = False
            await bench.until_all_is_there()
    samples = bench.same_as_in(engine)
    fault_row(
        "engine half-open: a proxy swallows",
        tried=times,
        reached=f"0 of {samples} samples lost, 0 doubled",
        bar="0 lost, 0 doubled",
    )


@pytest.mark.faults
async def test_a_crash_between_a_write_and_its_cursor_doubles_nothing(
    bench, engine, long, fault_row
):
    """What the cursor does not know of is sent again: the points are the same."""
    times = 30 if long else 4

    class Forgetful(Spool):
        async def forwarded(self, ends, **more) -> None:
            if ends:
                raise asyncio.CancelledError  # as good as killed before this commit

    for _ in range(times):
        await bench.add(60)
        forwarder = Forwarder(
            InfluxSettings(url=engine.url),
            "back-room",
            Forgetful(bench.store, bench.data, engine.url, KINDS, ()),
            report=bench.news.append,
            now=lambda: bench.now_s,
            times=IMPATIENT,
        )
        with pytest.raises(asyncio.CancelledError):
            await forwarder.run()
    assert engine.export("reading_value")  # they had arrived
    async with bench.forwarding(engine.url):
        await bench.until_all_is_there()
    samples = bench.same_as_in(engine)
    fault_row(
        "killed between a write to the engine and its cursor",
        tried=times,
        reached=f"0 of {samples} samples lost, 0 doubled",
        bar="0 lost, 0 doubled",
    )


async def test_points_keep_the_tags_of_their_own_time(bench, refusing):
    """A channel that looks elsewhere since is no reason for a second series of what was before."""
    await bench.add(10)
    moved = Place(position=Position.RIM)
    later = [
        channel if channel is ROOM else replace(channel, place=moved) for channel in BENCH.channels
    ]
    await bench.store.close()
    bench.store = await Store.open(bench.data)
    await bench.store.begin_run(
        settings_text="moved",
        bench=replace(BENCH, channels=tuple(later)),
        started_s=bench.at_s + 100.0,
        version="0",
    )
    await bench.store.append([(Reading(channel=WALL.name, value=1.0, at_s=bench.at_s + 200.0), ())])
    async with bench.forwarding(refusing.url):
        await bench.until_all_is_there()
    places = [
        key.split("place=")[1].split(",")[0]
        for key, _ in refusing.of("reading")
        if "jar-a-wall-3" in key
    ]
    assert places == ["wall"] * 10 + ["rim"]


async def test_readings_and_events_that_share_a_stamp_all_survive(bench, refusing):
    at_s = bench.at_s + 1.0
    same = [(Reading(channel=WALL.name, value=float(n), at_s=at_s), ()) for n in range(5)]
    events = tuple(alarm(n, at_s) for n in range(5))
    await bench.store.append([*same, (Reading(channel=ROOM.name, value=9.0, at_s=at_s), events)])
    async with bench.forwarding(refusing.url):
        await bench.until_all_is_there()
    assert len(refusing.of("reading")) == 6
    assert len(refusing.of("event")) == 5
    assert {at_ns // 1000 for _, at_ns in refusing.of("reading")} == {round(at_s * 1e6)}


async def test_a_stop_sends_what_is_stored_by_then(bench, engine):
    async with bench.forwarding(engine.url, sleep=lambda s: asyncio.sleep(60.0)):
        await bench.until(lambda state: not state.trouble, "it has all")
        await bench.add(50)
    bench.same_as_in(engine)


async def test_being_behind_for_long_is_a_notice_that_names_the_engine(bench, engine):
    engine.stop()
    await bench.add(10)
    async with bench.forwarding(engine.url):
        await bench.until(lambda state: state.trouble.startswith("nothing listens"), "it is away")
        assert all(one.ok for one in bench.news)  # a restart takes as long
        bench.now_s = bench.at_s + 400.0
        await bench.until(lambda state: state.behind_s == 400.0, "it is told how far")
        for _ in range(100):
            await asyncio.sleep(0.01)
            if not bench.news[-1].ok:
                break
        news = bench.news[-1]
        assert (news.part, news.ok) == (Part.FORWARDING, False)
        assert news.name == f"influx 127.0.0.1:{engine.port}"
        assert "start the engine" in news.reason
        engine.start()
        await bench.until_all_is_there()
        await bench.until(lambda state: not state.trouble, "it is well")
    assert bench.news[-1].ok


async def test_the_engine_reads_the_tags_that_we_wrote(bench, engine):
    """Names that a configuration would refuse: escaped by one library, read by another's parser."""
    names = ["two words", "a,b", "a=b", 'said "x"', "Grüße", "back\\slash"]
    at_s = bench.at_s + 1.0
    steps = [(Reading(channel=name, value=1.0, at_s=at_s), ()) for name in names]
    await bench.store.append(steps)
    async with bench.forwarding(engine.url):
        await bench.until_all_is_there()
    assert sorted(dict(labels)["channel"] for labels in engine.export("reading_value")) == sorted(
        names
    )


async def test_a_damaged_row_is_passed_over_and_the_rest_goes_on(bench, refusing):
    await bench.add(50)
    await bench.store.change(
        lambda con: con.execute("UPDATE estimate SET quality = 'odd' WHERE id IN (7, 100)")
    )
    async with bench.forwarding(refusing.url):
        await bench.until_all_is_there()  # the last one, too
    assert len(refusing.of("estimate")) == 98
    assert len(refusing.of("reading")) == 100
