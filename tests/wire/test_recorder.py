"""The recorder while the disk does its work: when it commits, what it answers, how it stops."""

import asyncio
import threading

import pytest

from logger.alarms.lifecycle import AlarmEvent
from logger.announcements import PhoneLine
from logger.burn.model import BurnEvent, BurnStatus
from logger.errors import StoreError
from logger.quantities import Reading, Tick
from logger.store.queries import open_read
from logger.store.writing import LineChanges
from tests.support.store import AT_S, numbers, reading, slowed
from tests.support.waiting import within


async def test_readings_are_committed_together_every_half_second(
    tmp_path, opened, recording, monkeypatch
):
    store = await opened()
    sizes, began = [], []
    append = store.append

    async def counted(batch, **more):
        sizes.append(len(batch))
        began.append(asyncio.get_running_loop().time())
        return await append(batch, **more)

    monkeypatch.setattr(store, "append", counted)
    at_work = recording(store, pace={"commit_every_s": 0.05})
    for number in range(100):
        at_work.recorder.take(reading(number), [])
        await asyncio.sleep(0.002)
    await at_work.stop()
    assert numbers(tmp_path) == list(range(100))
    assert sum(sizes) == 100
    assert len(sizes) >= 4  # in some 0.2 s or, on a busy machine, longer
    # on the whole: where one begins late on a busy machine, the next is nearer
    assert (began[-2] - began[0]) / (len(began) - 2) >= 0.049


async def test_what_a_person_entered_is_saved_at_once(tmp_path, opened, recording, evening):
    store = await opened()
    at_work = recording(store, pace={"commit_every_s": 30.0})
    bench = evening()
    at_work.take([bench.lit()])
    await at_work.recorder.saved()
    at_work.take(bench.second(1, 40.0))
    at_work.take([bench.note(1.9)])
    async with within(2.0):
        await at_work.recorder.saved()
    with open_read(tmp_path) as reader:
        assert [one.entry.id for one in reader.entries()] == ["lit-jar-a-0.5", "note-1.9"]
        assert len(list(reader.readings())) == 2  # what came before it is there too
    assert at_work.recorder.entry_seen("note-1.9")
    assert at_work.recorder.unsaved == 0
    await at_work.recorder.saved()  # nothing to wait for


async def test_an_entry_that_nobody_waits_for_is_saved_at_once_too(
    opened, recording, evening, eventually
):
    at_work = recording(await opened(), pace={"commit_every_s": 30.0})
    at_work.take([evening().lit()])
    await at_work.recorder.saved()
    bench = evening()
    bench.lit()
    entry, _ = bench.note(1.0)
    at_work.recorder.take(entry, [])  # nothing came of it
    await eventually(lambda: at_work.recorder.unsaved == 0)


async def test_readings_can_be_waited_for_too(tmp_path, opened, recording):
    store = await opened()
    at_work = recording(store, pace={"commit_every_s": 30.0})
    at_work.recorder.take(reading(0), [])
    await at_work.recorder.saved()
    at_work.recorder.take(reading(1), [])
    async with within(2.0):
        await asyncio.gather(at_work.recorder.saved(), at_work.recorder.saved())
    assert numbers(tmp_path) == [0, 1]


async def test_events_are_committed_at_once_and_wake_who_sends_them(
    opened, recording, evening, eventually
):
    store = await opened()
    at_work = recording(store, pace={"commit_every_s": 30.0})
    bench = evening()
    at_work.take(bench.hot().steps)
    expected = [
        output
        for _, outputs in bench.steps
        for output in outputs
        if isinstance(output, AlarmEvent | BurnEvent)
    ]
    await eventually(lambda: sum(at_work.woken) == len(expected))
    waiting = await at_work.recorder.waiting_events(100)
    assert [event.id for event in waiting] == [event.id for event in expected]
    assert await at_work.recorder.waiting_events(1) == waiting[:1]


async def test_what_was_delivered_is_not_offered_again_and_is_marked(opened, recording, evening):
    store = await opened()
    at_work = recording(store)
    at_work.take(evening().hot().steps)
    await at_work.recorder.saved()
    first, second, *others = await at_work.recorder.waiting_events(100)
    await at_work.recorder.mark_delivered([first.seq, second.seq, 4711])
    assert await at_work.recorder.waiting_events(100) == others  # at once, before the commit
    await at_work.stop()  # the mark itself is flushed
    assert await store.waiting_events(100) == others


async def test_statuses_are_not_kept(opened, recording, evening):
    store = await opened()
    at_work = recording(store)
    tick, outputs = evening().step(Tick(at_s=AT_S + 1.0))
    assert any(isinstance(output, BurnStatus) for output in outputs)
    at_work.recorder.take(tick, outputs)
    assert at_work.recorder._queue[0] == (tick, ())


async def test_cancelled_in_the_middle_of_a_write_nothing_is_lost_or_doubled(
    tmp_path, opened, recording, monkeypatch, eventually
):
    store = await opened()
    begun, go_on = threading.Event(), threading.Event()
    slowed(store, monkeypatch, begun=begun, go_on=go_on)
    at_work = recording(store, pace={"commit_every_s": 0.01})
    for number in range(10):
        at_work.recorder.take(reading(number), [])
    await eventually(begun.is_set)
    for number in range(10, 20):
        at_work.recorder.take(reading(number), [])  # these wait for the next commit
    at_work.task.cancel()
    await asyncio.sleep(0)
    assert not at_work.task.done()
    go_on.set()
    await at_work.stop()
    assert numbers(tmp_path) == list(range(20))
    assert at_work.recorder.unsaved == 0


async def test_cancelled_while_idle_it_ends_at_once(opened, recording):
    at_work = recording(await opened(), pace={"commit_every_s": 30.0})
    at_work.recorder.take(reading(0), [])
    await asyncio.sleep(0)
    await at_work.stop(within_s=5.0)
    assert at_work.task.cancelled()


async def test_a_slow_disk_does_not_hold_up_who_takes(opened, recording, monkeypatch, eventually):
    store = await opened()
    begun, go_on = threading.Event(), threading.Event()
    slowed(store, monkeypatch, begun=begun, go_on=go_on)
    at_work = recording(store, pace={"commit_every_s": 0.01})
    at_work.recorder.take(reading(0), [])
    await eventually(begun.is_set)
    for number in range(1, 1001):
        at_work.recorder.take(reading(number), [])
    assert not go_on.is_set()
    assert at_work.recorder.unsaved == 1001  # all taken, and the disk has not moved
    go_on.set()
    await at_work.recorder.saved()


async def test_a_step_that_cannot_be_stored_does_not_hold_up_the_others(
    tmp_path, opened, recording, caplog
):
    at_work = recording(await opened())
    for number in range(10):
        at_work.recorder.take(reading(number), [])
    at_work.recorder.take(Reading(channel="a", value=10.0, at_s=1e30), [])
    for number in range(11, 20):
        at_work.recorder.take(reading(number), [])
    with pytest.raises(StoreError, match="cannot be saved"):  # nobody is told that it was
        await at_work.recorder.saved()
    await at_work.recorder.saved()
    assert [news.ok for news in at_work.news] == [False, True]
    assert numbers(tmp_path) == [number for number in range(20) if number != 10]
    assert at_work.recorder.unstorable == 1
    assert "1e+30" in caplog.text
    at_work.recorder.take(reading(20), [])
    await at_work.recorder.saved()


def line(number):
    return PhoneLine(id=f"7/{number}", at_s=AT_S + number, text=f"look at place {number}")


async def lines_kept(store):
    return [one.id for one in (await store._on_thread(store._start))[1].lines]


async def test_a_line_for_the_phone_is_kept_until_it_is_done(opened, recording):
    store = await opened()
    at_work = recording(store, pace={"commit_every_s": 0.01})
    for number in range(3):
        at_work.recorder.keep_line(line(number))
    at_work.take([(reading(1), [])])
    await at_work.recorder.saved()
    assert await lines_kept(store) == ["7/0", "7/1", "7/2"]
    at_work.recorder.mark_lines_done(["7/1"])
    at_work.recorder.keep_line(line(3))
    at_work.recorder.mark_lines_done(["7/3"])  # before it could be saved
    await at_work.stop()
    assert await lines_kept(store) == ["7/0", "7/2"]


async def test_a_line_that_is_done_while_it_is_being_written_is_not_kept(
    opened, recording, monkeypatch
):
    store = await opened()
    begun, go_on = threading.Event(), threading.Event()
    slowed(store, monkeypatch, begun=begun, go_on=go_on)
    at_work = recording(store)
    at_work.recorder.keep_line(line(0))
    await asyncio.to_thread(begun.wait, 5.0)
    at_work.recorder.mark_lines_done(["7/0"])
    go_on.set()
    await at_work.stop()
    assert await lines_kept(store) == []


async def test_without_a_broker_no_line_waits_for_one_of_a_later_day(opened, tmp_path):
    store = await opened()
    await store.append([], lines=LineChanges(new=(line(0),)))
    await store.close()
    store = await opened(started_s=AT_S + 60.0, broker=False)
    assert await lines_kept(store) == []
