"""Ids of events over a crash: none stands for two events, none changes."""

from logger.alarms.lifecycle import AlarmEvent
from logger.burn.model import BurnEvent
from logger.store.outbox import Outbox


def ids(steps):
    return [
        output.id
        for _, outputs in steps
        for output in outputs
        if isinstance(output, AlarmEvent | BurnEvent)
    ]


async def test_an_id_told_from_memory_before_a_kill_is_never_used_again(opened, evening):
    store = await opened()
    first = evening(memory=await store.memory(1.0))
    first.lit()
    for second in range(1, 60):
        first.second(second, 40.0 + 0.4 * second)
    await store.append(first.steps)
    told = len(first.steps)
    for second in range(60, 200):  # the disk fails: told, and never saved
        first.second(second, 76.0 - 0.4 * (second - 60))
    first.note(200.5)
    lost = ids(first.steps[told:])
    assert lost
    store = await opened()  # killed, and started again
    second_run = evening(memory=await store.memory(1.0))
    for second in range(210, 420):
        second_run.second(second, 90.0 if second < 300 else 40.0)
    second_run.note(420.5, text="another")
    again = ids(second_run.steps)
    assert len(again) >= len(lost)
    assert not set(again) & set(ids(first.steps))
    unnumbered = [id_.split("/") for id_ in again]
    assert {parts[-2] for parts in unnumbered} == {str(store.run.id)}
    without = {(*parts[:-2], parts[-1]) for parts in unnumbered}
    assert without & {(*id_.split("/")[:-2], id_.split("/")[-1]) for id_ in lost}  # the counts meet


async def test_an_event_sent_again_after_a_restart_has_the_id_it_had(opened, evening):
    store = await opened()
    bench = evening(memory=await store.memory(1.0))
    bench.hot()
    outbox = Outbox()
    outbox.add(one for _, outputs in bench.steps for one in outputs if isinstance(one, AlarmEvent))
    told = [event.id for event in outbox.offer((), 100, unsaved=True)]
    await store.append(bench.steps)
    store = await opened()
    waiting = [event.id for event in await store.waiting_events(100)]
    assert set(told) < set(waiting)
    assert waiting == ids(bench.steps)


async def test_runs_have_numbers_of_their_own_also_when_the_clock_goes_back(opened):
    first = await opened(started_s=2_000.0)
    second = await opened(started_s=1_000.0)
    third = await opened(started_s=5_000.0)
    assert [one.run.id for one in (first, second, third)] == [2_000, 2_001, 5_000]


def test_a_replay_has_no_run_in_its_ids(evening):
    bench = evening()
    bench.lit()
    assert ids(bench.steps) == ["jar-a-1940000000/lit/-/1"]
