"""The recorder while the disk fails: nothing is lost, everyone is told, events get out."""

import asyncio
import threading
import time
from dataclasses import replace

import pytest

from logger.alarms.lifecycle import AlarmEvent
from logger.burn.model import Burn, BurnEvent
from logger.errors import StoreError
from logger.quantities import Estimate, Part, Reading, Tick
from logger.service.records import load
from logger.store.outbox import Outbox, WaitingEvent
from logger.store.queries import open_read
from tests.support.store import AT_S, SETTINGS, configured, numbers, reading, slowed
from tests.support.waiting import within


async def pages(store, pragma):
    def ask():
        return store._con.execute(pragma).fetchone()[0]

    return await store._on_thread(ask)


async def fill_up(store):
    """The disk is full: the file may not grow by a page."""
    await pages(store, f"PRAGMA max_page_count = {await pages(store, 'PRAGMA page_count')}")


async def make_room(store):
    await pages(store, "PRAGMA max_page_count = 1000000")


async def until_full(at_work, store, eventually):
    """Take numbered readings until the disk refuses them; how many were taken."""
    await fill_up(store)
    for number in range(2000):
        at_work.recorder.take(reading(number), [])
    await eventually(lambda: at_work.recorder.fault)
    return 2000


async def test_a_full_disk_loses_nothing_is_told_and_told_well_again(
    tmp_path, opened, recording, eventually
):
    store = await opened()
    at_work = recording(store, pace={"commit_every_s": 0.01})
    taken = await until_full(at_work, store, eventually)
    assert "is full: make room" in at_work.recorder.fault
    for number in range(taken, taken + 100):
        at_work.recorder.take(reading(number), [])
        await asyncio.sleep(0.001)
    assert numbers(tmp_path) == []
    assert [(news.part, news.ok) for news in at_work.news] == [(Part.STORAGE, False)]  # once
    assert str(tmp_path) in at_work.news[0].reason
    assert at_work.news[0].at_s == AT_S
    await make_room(store)
    await eventually(lambda: at_work.recorder.unsaved == 0)
    assert numbers(tmp_path) == list(range(taken + 100))
    assert [news.ok for news in at_work.news] == [False, True]
    assert at_work.recorder.fault is None
    assert at_work.recorder.dropped == 0


async def test_a_person_is_answered_although_the_disk_is_full(
    opened, recording, evening, eventually
):
    store = await opened()
    at_work = recording(store, pace={"commit_every_s": 0.01, "saved_within_s": 0.05})
    await until_full(at_work, store, eventually)
    at_work.take([evening().lit()])
    with pytest.raises(
        StoreError, match=r"counts already, but is not saved yet .*full.*do not enter it again"
    ):
        await at_work.recorder.saved()
    assert at_work.recorder.entry_seen("lit-jar-a-0.5")  # in memory: a repeat is harmless
    assert not await store.entry_seen("lit-jar-a-0.5")
    await make_room(store)
    await eventually(lambda: at_work.recorder.unsaved == 0)
    assert await store.entry_seen("lit-jar-a-0.5")


async def test_events_get_out_while_the_disk_is_full_each_under_its_one_id(
    opened, recording, evening, eventually
):
    store = await opened()
    at_work = recording(store, pace={"commit_every_s": 0.01})
    bench = evening()
    at_work.take([bench.lit(), bench.note(0.6)])
    await at_work.recorder.saved()
    assert at_work.woken == [2]
    await until_full(at_work, store, eventually)
    at_work.take([bench.note(1.0), bench.note(2.0), bench.note(3.0)])
    assert at_work.woken == [2, 1, 1, 1]  # who sends is woken without a commit
    ids = [f"jar-a-1940000000/{what}" for what in ("lit/-/1", "note/-/2")]
    ids += [f"jar-a-1940000000/note/-/{count}" for count in (3, 4, 5)]
    waiting = await at_work.recorder.waiting_events(10)
    assert [event.id for event in waiting] == ids  # those on the disk first: in order
    assert [event.id for event in await at_work.recorder.waiting_events(3)] == ids[:3]
    await at_work.recorder.mark_delivered([event.seq for event in waiting[:4]])
    assert [event.id for event in await at_work.recorder.waiting_events(10)] == ids[4:]
    await make_room(store)
    await eventually(lambda: at_work.recorder.unsaved == 0)
    left = await at_work.recorder.waiting_events(10)
    assert [event.id for event in left] == ids[4:]
    assert left[0].event == waiting[4].event  # the same event, now from the disk
    await at_work.recorder.mark_delivered([waiting[4].seq])  # it was on its way meanwhile
    await at_work.stop()
    assert await store.waiting_events(10) == []
    assert sum(at_work.woken) == 2 + 3 + 3


async def test_a_delivery_that_is_told_late_finds_its_event_whatever_became_of_it(
    opened, recording, evening, eventually, monkeypatch
):
    monkeypatch.setattr("logger.store.recorder._AT_ONCE", 100)  # the event is in a later commit
    store = await opened()
    at_work = recording(store, pace={"commit_every_s": 0.01})
    await until_full(at_work, store, eventually)
    at_work.take([evening().lit()])
    (event,) = await at_work.recorder.waiting_events(10)
    await at_work.recorder.mark_delivered([event.seq])
    await make_room(store)
    await at_work.recorder.saved()
    assert await at_work.recorder.waiting_events(10) == []
    await at_work.stop()
    assert await store.waiting_events(10) == []


def test_an_event_on_the_disk_and_still_in_memory_is_offered_once(evening):
    outbox = Outbox()
    _, outputs = evening().lit()
    (event,) = [output for output in outputs if isinstance(output, BurnEvent)]
    outbox.add([event])
    stored = WaitingEvent(seq=7, event=event)
    assert outbox.offer([stored], 10, unsaved=True) == [stored]


async def test_only_readings_are_dropped_when_memory_is_full_and_they_are_counted(
    tmp_path, opened, recording, evening, eventually
):
    store = await opened()
    await store.append([(reading(0), [])])
    await fill_up(store)
    at_work = recording(store, bound=300, pace={"commit_every_s": 0.01})
    bench = evening().hot()
    at_work.take([(reading(number), []) for number in range(1, 301)])
    await eventually(lambda: at_work.recorder.fault)
    at_work.take(bench.steps)
    raw = [
        item
        for item, outputs in bench.steps
        if isinstance(item, Reading) and not any(isinstance(one, AlarmEvent) for one in outputs)
    ]
    assert at_work.recorder.dropped == len(raw) > 100
    await eventually(lambda: "new ones are lost" in at_work.recorder.fault)
    await make_room(store)
    await eventually(lambda: at_work.recorder.unsaved == 0)
    assert f"{len(raw)} readings were lost" in at_work.news[-1].reason
    with open_read(tmp_path) as reader:
        made = [output for _, outputs in bench.steps for output in outputs]
        events = [one.id for one in made if isinstance(one, AlarmEvent | BurnEvent)]
        assert [one.event.id for one in reader.events()] == events
        assert reader.burns() == [[one for one in made if isinstance(one, Burn)][-1]]
        assert len(reader.entries()) == 4
        assert [int(one.value) for one in reader.readings("a")] == list(range(301))
        assert any(isinstance(one, Estimate) for one in made)
        assert list(reader.estimates("room")) == []
    at_work.recorder.take(reading(301), [])
    await at_work.recorder.saved()
    assert at_work.news[-1].ok


async def test_readings_faster_than_the_disk_are_not_lost_in_silence(
    tmp_path, opened, recording, eventually
):
    at_work = recording(await opened(), bound=10, pace={"commit_every_s": 0.01})
    for number in range(15):
        at_work.recorder.take(reading(number), [])
    await eventually(lambda: at_work.recorder.unsaved == 0)
    assert numbers(tmp_path) == list(range(10))
    assert [news.ok for news in at_work.news] == [False, True]
    assert "faster than the disk" in at_work.news[0].reason
    assert "5 readings were lost" in at_work.news[1].reason
    for number in range(15, 27):
        at_work.recorder.take(reading(number), [])
    await eventually(lambda: at_work.recorder.unsaved == 0)
    assert "2 readings were lost" in at_work.news[3].reason  # of this time
    assert at_work.recorder.dropped == 7  # in all


async def test_a_disk_that_does_not_answer_is_told_and_events_do_not_wait_for_it(
    opened, recording, evening, monkeypatch, eventually
):
    store = await opened()
    begun, go_on = threading.Event(), threading.Event()
    slowed(store, monkeypatch, begun=begun, go_on=go_on)
    at_work = recording(store, pace={"slow_after_s": 0.02, "stalled_after_s": 0.5})
    at_work.take([evening().lit()])
    await eventually(lambda: at_work.woken)
    assert at_work.news == []  # slow so far
    await eventually(lambda: at_work.news)
    assert "does not answer" in at_work.news[0].reason
    assert at_work.woken == [1]
    async with within(1.0):
        (event,) = await at_work.recorder.waiting_events(10)
    await at_work.recorder.mark_delivered([event.seq])
    go_on.set()
    await at_work.recorder.saved()
    assert [news.ok for news in at_work.news] == [False, True]
    await at_work.stop()
    assert await store.waiting_events(10) == []


async def test_a_paused_program_is_no_stalled_disk(
    opened, recording, evening, monkeypatch, eventually
):
    """As by SIGSTOP in the middle of a commit: neither the loop nor the writer runs meanwhile."""
    store = await opened()
    begun, go_on = threading.Event(), threading.Event()
    slowed(store, monkeypatch, begun=begun, go_on=go_on)
    at_work = recording(store, pace={"slow_after_s": 0.2, "stalled_after_s": 0.4})
    at_work.take([evening().lit()])
    await asyncio.to_thread(begun.wait, 5.0)
    time.sleep(1.0)  # noqa: ASYNC251 - the pause
    asyncio.get_running_loop().call_later(0.05, go_on.set)
    await at_work.recorder.saved()
    assert at_work.news == []
    await at_work.stop()


async def test_stopped_while_the_disk_is_full_it_tries_again_then_ends_and_says_so(
    tmp_path, opened, recording, eventually, caplog
):
    store = await opened()
    at_work = recording(
        store, pace={"commit_every_s": 0.01, "retry_first_s": 60.0, "retry_last_s": 60.0}
    )
    taken = await until_full(at_work, store, eventually)
    await at_work.stop(within_s=3.0)
    assert f"stopped with {taken} steps unsaved" in caplog.text
    assert numbers(tmp_path) == []


async def test_room_made_while_stopping_saves_what_was_kept(
    tmp_path, opened, recording, eventually
):
    store = await opened()
    at_work = recording(store, pace={"commit_every_s": 0.01, "flush_within_s": 5.0})
    taken = await until_full(at_work, store, eventually)
    at_work.task.cancel()
    await asyncio.sleep(0.02)
    assert not at_work.task.done()
    await make_room(store)
    await at_work.stop()
    assert numbers(tmp_path) == list(range(taken))


async def test_the_bench_resumes_from_what_was_saved_after_a_full_disk(
    opened, recording, evening, eventually
):
    store = await opened()
    at_work = recording(store, pace={"commit_every_s": 0.01})
    await until_full(at_work, store, eventually)
    bench = evening().hot()
    at_work.take(bench.steps)
    await make_room(store)
    await at_work.recorder.saved()
    memory = await store.memory(AT_S + 90.0)
    assert memory.burns == bench.pipeline.burns
    assert set(memory.alarms) == set(bench.pipeline.alarms)
    assert isinstance(bench.steps[1][0], Tick)


async def test_what_a_full_disk_cost_is_a_gap_in_the_record_with_the_reason_beside_it(
    tmp_path, opened, recording, evening, eventually
):
    store = await opened(**configured(SETTINGS))
    at_work = recording(store, bound=150, pace={"commit_every_s": 0.01})
    bench = evening()
    at_work.take([bench.lit()])

    async def burn(first, last):
        told = len(at_work.news)
        for second in range(first, last):
            at_work.take(bench.second(second, 45.0))
            await asyncio.sleep(0.005)
            for news in at_work.news[told:]:
                at_work.take([bench.step(replace(news, at_s=AT_S + second + 0.9))])
            told = len(at_work.news)

    await burn(1, 60)
    await at_work.recorder.saved()
    await fill_up(store)
    await burn(60, 260)
    await make_room(store)
    await eventually(lambda: at_work.recorder.unsaved == 0)
    await burn(260, 320)
    await at_work.recorder.saved()
    with open_read(tmp_path) as reader:
        record = load(reader, bench.pipeline.burns[0].id)
    (gap,) = record.series[0].coverage.gaps
    assert 60.0 < gap.from_s - AT_S < 260.0
    assert 255.0 < gap.to_s - AT_S < 270.0
    (alarm,) = (one for one in record.alarms if one.rule == "storage")
    assert "is full" in alarm.text or "new ones are lost" in alarm.text
    assert AT_S + 60.0 < alarm.raised_s <= gap.from_s + 1.0
