"""What a hanging disk gives only after the start: the lit candle is known again."""

import asyncio
import threading
import time

import pytest

from logger.burn.entries import Acknowledge
from logger.burn.model import Burn, BurnEvent
from logger.errors import Refused
from logger.pipeline import Memory, Recalled
from logger.quantities import Part, Tick
from logger.store import store as writer
from logger.store.opening import open_to_read
from logger.store.remembered import Remembered
from tests.support.store import AT_S, Evening
from tests.support.waiting import eventually, patient
from tests.support.web_bench import serving


def remembered():
    """As a database holds it after an evening over the limit."""
    before = Evening().hot()
    return Memory(
        burns=before.pipeline.burns,
        alarms=before.pipeline.alarms,
        entries=tuple(
            (item, None) for item, _ in before.steps if type(item).__name__ == "ManualReading"
        ),
        burn_events={before.pipeline.burns[0].id: 2},
    )


def acknowledge(alarm):
    at_s = AT_S + 205.0
    return Acknowledge(at_s=at_s, entered_s=at_s, id="ack-2", alarm=alarm)


def test_the_lit_candle_and_its_alarms_are_known_again_and_it_is_said():
    memory = remembered()
    late = Evening(at_s=AT_S + 200.0)
    with pytest.raises(Refused):
        late.note(201.0)
    _, outputs = late.step(Recalled(at_s=AT_S + 202.0, memory=memory))
    (event,) = [one for one in outputs if isinstance(one, BurnEvent)]
    assert event.id.endswith("/watch-resumed/-/3")  # it counts on
    assert "Go and look" in event.text
    assert late.pipeline.burns == memory.burns
    assert {alarm.key for alarm in late.pipeline.alarms} == {a.key for a in memory.alarms}
    with pytest.raises(Refused, match="is acknowledged"):  # by whom is known again too
        late.step(acknowledge("wall-limit/jar-a-wall-3"))
    _, outputs = late.note(206.0)
    assert any(isinstance(one, Burn) for one in outputs)


def test_what_was_entered_meanwhile_stands_above_it():
    late = Evening(at_s=AT_S + 200.0)
    late.lit(201.0)
    (burn,) = late.pipeline.burns
    _, outputs = late.step(Recalled(at_s=AT_S + 202.0, memory=remembered()))
    assert late.pipeline.burns == (burn,)
    assert not [one for one in outputs if isinstance(one, BurnEvent)]


@pytest.fixture
def hanging(tmp_path, monkeypatch):
    """A store on a disk that answers nobody, and what makes it answer."""
    answers = threading.Event()

    def read(path):
        answers.wait(patient(10.0))
        return open_to_read(path)

    monkeypatch.setattr("logger.store.remembered.open_to_read", read)
    (tmp_path / writer.FILE_NAME).touch()
    return writer.Store(tmp_path, lambda: answers.wait(patient(10.0))), answers


async def started(store, on_late=lambda found: None):
    began_s = time.monotonic()
    _, found = await store.start(
        settings_text="",
        bench=Evening.bench,
        started_s=AT_S,
        version="1",
        broker=False,
        on_late=on_late,
    )
    return time.monotonic() - began_s, found


async def test_a_start_waits_for_a_hanging_disk_no_longer_than_it_says(hanging):
    store, answers = hanging
    late = asyncio.Queue()
    took_s, found = await started(store, late.put_nowait)
    assert found is None
    assert took_s <= writer.START_S + writer.HANGS_S - 0.1
    answers.set()
    recalled = await asyncio.wait_for(late.get(), patient(10.0))
    assert isinstance(recalled, Remembered)
    assert "does not answer" in store.fault_at_start
    await store.close()


async def test_a_disk_that_answers_late_in_that_time_is_waited_for(hanging):
    store, answers = hanging
    asyncio.get_running_loop().call_later(writer.START_S - 0.5 * writer.HANGS_S, answers.set)
    _, found = await started(store)
    assert found is not None
    assert store.fault_at_start is None
    await store.close()


async def test_a_disk_that_hangs_at_the_start_is_told_at_once(hanging, recording):
    store, answers = hanging
    await started(store)
    at_work = recording(store)
    await asyncio.sleep(0)
    await asyncio.sleep(0)
    (news,) = at_work.news
    assert (news.part, news.ok) == (Part.STORAGE, False)
    at_work.take([(Tick(at_s=AT_S + 1.0), [])])
    answers.set()
    await at_work.recorder.saved()
    assert [news.ok for news in at_work.news] == [False, True]
    await at_work.stop()
    await store.close()


async def test_a_disk_that_answers_as_soon_as_the_start_gave_it_up_is_heard(tmp_path, monkeypatch):
    async with serving(tmp_path) as bench:
        await bench.light()
    answers = threading.Event()
    start, begin = writer.Store.start, writer.Store._begin

    def hangs(store):
        answers.wait(patient(10.0))
        return begin(store)

    async def gives_up(store, **more):
        begun = await start(store, **more)
        answers.set()
        return begun

    def read(path):
        answers.wait(patient(10.0))
        return open_to_read(path)

    monkeypatch.setattr(writer.Store, "_begin", hangs)
    monkeypatch.setattr("logger.store.remembered.open_to_read", read)
    monkeypatch.setattr(writer.Store, "start", gives_up)
    async with serving(tmp_path) as bench:
        await bench.seconds(1)
        await eventually(lambda: any(burn.lit for burn in bench.service.pipeline.burns))
