"""The writer: everything that came is there, once, in its order; the bench goes on from it."""

import json
import stat
from dataclasses import replace

import pytest

from logger.alarms.lifecycle import AlarmEvent, AlarmState
from logger.burn.entries import Acknowledge, Lit, Note, Out
from logger.burn.model import Burn, BurnEvent, BurnEventKind
from logger.errors import DataError
from logger.quantities import Estimate, Health, Reading, Rule, Tick
from logger.store.opening import FILE_NAME
from logger.store.queries import open_read
from logger.store.store import Store
from tests.support.store import AT_S


def outputs_of(steps, kind):
    return [output for _, outputs in steps for output in outputs if isinstance(output, kind)]


def items_of(steps, kind):
    return [item for item, _ in steps if isinstance(item, kind)]


async def test_all_of_an_evening_comes_back_as_it_was(tmp_path, opened, evening):
    steps = evening().hot().steps
    store = await opened(settings_text="[bench]\nname = 'back-room' # é\n")
    for first in range(0, len(steps), 7):
        await store.append(steps[first : first + 7])
    with open_read(tmp_path) as reader:
        assert list(reader.readings()) == items_of(steps, Reading)
        told = outputs_of(steps, Estimate)
        assert told
        # Whether an accuracy is assumed follows from the settings of the burn.
        assert list(reader.estimates()) == [replace(e, accuracy_assumed=False) for e in told]
        entries = [item for item, _ in steps if not isinstance(item, Reading | Tick | Health)]
        assert [stored.entry for stored in reader.entries()] == entries
        burn = outputs_of(steps, Burn)[-1]
        assert reader.burns() == [burn]
        assert burn.hottest.value_c > 60.0
        assert {stored.burn for stored in reader.entries()} == {burn.id}
        kept = reader.burn_settings(burn.id)
        assert kept.text == "[bench]\nname = 'back-room' # é\n"
        assert kept.bench == evening.bench
        told = outputs_of(steps, AlarmEvent | BurnEvent)
        assert [one.event for one in reader.events()] == told
        assert {"lit", "note"} <= {one.event for one in outputs_of(steps, BurnEvent)}
        assert {"raised", "acknowledged"} <= {one.what for one in outputs_of(steps, AlarmEvent)}
        assert [json.loads(body) for (body,) in reader._all("SELECT body FROM health")] == [
            {
                "part": "instrument",
                "name": "probes-a",
                "ok": True,
                "reason": "reading",
                "at_s": 1940000075.96,
                "battery_percent": None,
                "signal_dbm": None,
                "reconnects": 0,
                "ahead": False,
            }
        ]


async def test_a_restarted_bench_goes_on_as_if_never_stopped(opened, evening):
    unbroken = evening().hot()
    stopped = evening().hot()
    store = await opened()
    await store.append(stopped.steps)
    await store.close()
    store = await opened()
    memory = replace(await store.memory(AT_S + 90.0), run=None)  # whose number is in no id then
    resumed = evening(memory=memory, at_s=AT_S + 90.0)
    resumed.random = stopped.random
    assert resumed.pipeline.burns == unbroken.pipeline.burns
    assert {alarm.key: alarm for alarm in resumed.pipeline.alarms} == {
        alarm.key: alarm for alarm in unbroken.pipeline.alarms
    }
    assert {(alarm.finding.rule, alarm.state) for alarm in resumed.pipeline.alarms} == {
        (Rule.WALL_ALERT, AlarmState.NORMAL),  # the place is over its limit since
        (Rule.WALL_LIMIT, AlarmState.ACKNOWLEDGED),
    }
    for bench in (unbroken, resumed):
        bench.steps.clear()
        for second in range(90, 240):  # cooling: the alarms return, with the numbers they had
            bench.second(second, 76.0 - 0.4 * (second - 90))
        bench.note(240.5)

    def told(bench):
        known = bench.steps
        return [
            (event.id, event.what if isinstance(event, AlarmEvent) else event.event)
            for event in outputs_of(known, AlarmEvent | BurnEvent)
        ]

    assert told(resumed) == told(unbroken)
    assert ("jar-a-1940000000/note/-/3", "note") in told(resumed)
    assert outputs_of(resumed.steps, Estimate) == outputs_of(unbroken.steps, Estimate)


async def test_the_memory_holds_the_latest_burn_of_each_station_and_ten_minutes(opened, evening):
    bench = evening()
    bench.lit(0.5)
    at_s = AT_S + 10.0
    bench.step(Out(at_s=at_s, entered_s=at_s, id="out-1", station="jar-a"))
    bench.lit(20.5)
    bench.lit(30.5, station="jar-b")
    for second in (40, 41, 700):
        bench.second(second, 30.0)
    store = await opened()
    empty = await store.memory(AT_S)
    assert (empty.burns, empty.alarms, empty.readings, empty.burn_events) == ((), (), (), {})
    await store.append(bench.steps)
    memory = await store.memory(AT_S + 700.9)
    assert {burn.id for burn in memory.burns} == {"jar-a-1940000020", "jar-b-1940000030"}
    assert [burn.id for burn in memory.earlier] == ["jar-a-1940000000"]  # may be put right still
    counts = {"jar-a-1940000000": 2, "jar-a-1940000020": 1, "jar-b-1940000030": 1}
    assert memory.burn_events == counts
    assert memory.readings == tuple(items_of(bench.steps, Reading)[-2:])


async def test_the_memory_holds_the_last_burn_of_each_candle_that_is_out(opened, evening):
    bench = evening()
    for second, tester in ((0.5, "A1"), (100.5, "B2"), (200.5, "a1 "), (300.5, ""), (400.5, "B2")):
        at_s = AT_S + second
        bench.step(
            Lit(at_s=at_s, entered_s=at_s, id=f"lit-{second}", station="jar-a", trial="soy",
                tester=tester)
        )  # fmt: skip
        for after_s in range(30, 56):
            bench.second(int(second) + after_s, 30.0)
        if second < 400.0:
            at_s += 60.0
            bench.step(Out(at_s=at_s, entered_s=at_s, id=f"out-{second}", station="jar-a"))
    store = await opened()
    await store.append(bench.steps)
    candles = (await store.memory(AT_S + 500.0)).candles
    assert [(burn.tester.strip(), burn.lit_s - AT_S) for burn in candles] == [
        ("B2", 100.5), ("a1", 200.5), ("", 300.5),
    ]  # fmt: skip
    assert all(set(burn.learned) == {"jar-a-wall-3"} for burn in candles)
    (lit,) = (await store.memory(AT_S + 500.0)).burns
    assert lit.expected == candles[0].learned


async def test_equal_stamps_keep_all_readings_in_order_of_arrival(tmp_path, opened):
    readings = [
        Reading(channel=channel, value=value, at_s=AT_S + 0.123457)
        for channel, value in (("b", 2.0), ("a", 1.5), ("b", 2.0), ("b", -0.25), ("a", 1e-300))
    ]
    late = Reading(channel="a", value=7.0, at_s=AT_S - 3600.000001)  # a board without a battery
    store = await opened()
    await store.append([(reading, []) for reading in (*readings, late)])
    with open_read(tmp_path) as reader:
        assert list(reader.readings()) == [*readings, late]
        assert list(reader.readings("a", AT_S)) == [readings[1], readings[4]]


async def test_what_people_enter_keeps_its_place_between_the_readings(tmp_path, opened, evening):
    bench = evening()
    bench.lit()
    for second in range(1, 4):
        bench.second(second, 30.0)
        bench.note(second + 0.9)
    store = await opened()
    for first in range(0, len(bench.steps), 5):  # across commits too
        await store.append(bench.steps[first : first + 5])
    with open_read(tmp_path) as reader:
        found = reader._all("SELECT after_reading FROM entry ORDER BY seq")
    assert found == [(0,), (2,), (4,), (6,)]


async def test_a_burn_keeps_the_settings_it_was_lit_under(tmp_path, opened, evening):
    bench = evening()
    bench.lit()
    store = await opened(settings_text="first")
    await store.append(bench.steps)
    await store.close()
    store = await opened(settings_text="second")
    bench.steps.clear()
    bench.step(Out(at_s=AT_S + 9.0, entered_s=AT_S + 9.0, id="out-1", station="jar-a"))
    bench.lit(20.5)
    await store.append(bench.steps)
    await store.close()
    again = await opened(settings_text="first")
    with open_read(tmp_path) as reader:
        first, second = reader.burns("cotton 3, soy")
        assert first.out_s == AT_S + 9.0
        assert reader.burn_settings(first.id).text == "first"
        assert reader.burn_settings(second.id).text == "second"
        assert reader._all("SELECT count(*) FROM settings") == [(2,)]  # each text once
        (trial,) = reader.trials()
        assert (trial.name, trial.created_s, trial.burns) == ("cotton 3, soy", AT_S + 0.5, 2)
        assert reader.burns("none") == []
        assert reader.burn("none") is None
    assert len(again.run.settings) == 64


async def test_a_run_says_when_the_bench_was_last_watched(tmp_path, opened, evening):
    store = await opened()
    assert (store.run.last_seen_s, store.run.last_ended) == (None, True)
    await store.append([(Tick(at_s=AT_S + 60.0), [])])
    await store._on_thread(store._con.close)  # as a killed process leaves it
    killed = await opened(started_s=AT_S + 100.0)
    assert (killed.run.last_seen_s, killed.run.last_ended) == (AT_S + 60.0, False)
    last = Reading(channel="room", value=22.0, at_s=AT_S + 101.25)
    await killed.append([(last, [])])
    await killed.close()
    command = await opened(started_s=AT_S + 200.0, watching=False)
    assert command.run.last_seen_s == last.at_s
    await command.append([evening().lit(200.5)])
    await command.close()
    service = await opened(started_s=AT_S + 300.0)
    assert (service.run.last_seen_s, service.run.last_ended) == (last.at_s, True)
    with open_read(tmp_path) as reader:
        assert [run.watching for run in reader.runs()] == [True, True, False, True]
        assert [run.after_reading for run in reader.runs()] == [0, 0, 1, 1]
    store._closed = True
    store._thread.shutdown()


async def test_a_disk_that_fails_at_the_end_does_not_keep_the_store_open(opened, caplog):
    store = await opened()
    await store._on_thread(lambda: store._con.execute("PRAGMA query_only = 1"))
    await store.close()
    assert "the end of the run is not noted" in caplog.text
    assert not (await opened()).run.last_ended


async def test_ticks_alone_are_not_written_each_time(opened):
    store = await opened()
    before = await store._on_thread(lambda: store._con.total_changes)
    for second in range(1, 20):
        await store.append([(Tick(at_s=AT_S + second), [])])
    assert await store._on_thread(lambda: store._con.total_changes) - before == 3


async def test_a_commit_of_a_second_writes_little(tmp_path, opened):
    log = tmp_path / f"{FILE_NAME}-wal"
    store, grew = await opened(), []
    for second in range(40):
        before = log.stat().st_size
        names = (f"probe-{number}" for number in range(16))
        await store.append(
            [(Reading(channel=n, value=20.5, at_s=AT_S + second), ()) for n in names]
        )
        grew.append(log.stat().st_size - before)
    assert sum(grew[10:]) / 30 < 3_200  # 16 rows of 27 bytes; one page of 4 KiB is more


async def test_a_hotter_place_of_a_burn_writes_its_row_and_no_index(tmp_path, opened, evening):
    store, steps = await opened(), evening().hot().steps
    await store.append(steps)
    burn, log = outputs_of(steps, Burn)[-1], tmp_path / "bench.sqlite3-wal"
    hotter = [
        replace(burn, hottest=replace(burn.hottest, value_c=burn.hottest.value_c + more_k))
        for more_k in (0.1, 0.2)
    ]
    before = log.stat().st_size
    await store.append([(Tick(at_s=steps[-1][0].at_s), hotter)])
    assert log.stat().st_size - before <= 3 * 1048  # pages of 1 KiB with a head of 24 bytes each
    with open_read(tmp_path) as reader:
        assert reader.burns() == hotter[-1:]


async def test_the_longest_commit_is_kept_for_who_looks_after_a_kill(tmp_path, opened):
    store = await opened()
    for second in range(3):
        await store.append([(Reading(channel="a", value=1.0, at_s=AT_S + second), [])])
    known_s = store.longest_commit_s
    await store.append([(Reading(channel="a", value=1.0, at_s=AT_S + 3), [])])
    with open_read(tmp_path) as reader:
        assert reader.runs()[0].longest_commit_s == pytest.approx(known_s, abs=1e-6)
    assert 0.0 < known_s < 5.0


async def test_the_outbox_keeps_order_and_marks_once(opened, evening):
    steps = evening().hot().steps
    store = await opened()
    assert await store.append(steps) == len(outputs_of(steps, AlarmEvent | BurnEvent))
    events = outputs_of(steps, AlarmEvent | BurnEvent)
    waiting = await store.waiting_events(100)
    assert [event.id for event in waiting] == [event.id for event in events]
    assert [one.event for one in waiting] == events
    assert await store.waiting_events(2) == waiting[:2]
    await store.mark_delivered([waiting[0].seq, waiting[2].seq])
    await store.mark_delivered([waiting[0].seq])
    assert await store.waiting_events(100) == [waiting[1], *waiting[3:]]
    await store.append([], delivered=[waiting[1].id])
    assert await store.waiting_events(100) == waiting[3:]
    assert await store.append(steps) == 0  # the same once more: nothing is new, all is known
    assert await store.waiting_events(100) == waiting[3:]


async def test_a_second_event_under_one_id_is_kept_apart_and_told(opened, caplog):
    one = BurnEvent(
        id="jar-a-1/note/-/2",
        time_s=AT_S,
        since_s=AT_S,
        station="jar-a",
        burn="jar-a-1",
        event=BurnEventKind.NOTE,
        text="first",
    )
    steps = [(Tick(at_s=AT_S), [replace(one, text=text)]) for text in ("first", "second", "third")]
    last = (Reading(channel="a", value=1.0, at_s=AT_S), [])
    store = await opened()
    await store.append([*steps, last])
    waiting = await store.waiting_events(9)
    assert [event.id for event in waiting] == [one.id, f"{one.id}~2", f"{one.id}~3"]
    assert [event.event.text for event in waiting] == ["first", "second", "third"]
    assert caplog.text.count("a second event has the id") == 2
    assert len((await store.memory(AT_S)).readings) == 1


async def test_an_entry_counts_once_and_a_second_under_its_id_is_kept_apart(
    tmp_path, opened, evening, caplog
):
    bench = evening()
    bench.lit()
    note = bench.note(3.0, id="n-1")
    other = bench.note(4.0, text="another", id="n-1")
    store = await opened()
    assert not await store.entry_seen("n-1")
    await store.append(bench.steps)
    await store.append([note])
    assert await store.entry_seen("n-1")
    with open_read(tmp_path) as reader:
        assert [stored.entry for stored in reader.entries()][1:] == [note[0], other[0]]
        assert reader.entry("n-1").entry == note[0]
        assert reader.entry("n-1").burn == "jar-a-1940000000"
        assert reader.entry("n-1~2").entry == other[0]
        assert reader.entry("none") is None
    assert caplog.text.count("a second entry has the id") == 1


async def test_text_that_is_no_unicode_is_stored_with_a_mark_for_what_cannot_be(
    tmp_path, opened, evening
):
    bench = evening()
    bench.lit(trial="soy \ud83d")
    bench.note(2.0, text="half \ud800 of it, '; DROP TABLE burn; --", id="\udfff")
    store = await opened()
    await store.append(bench.steps)
    assert await store.entry_seen("\udfff")
    with open_read(tmp_path) as reader:
        assert reader.entries()[1].entry.text == "half ? of it, '; DROP TABLE burn; --"
        assert [trial.name for trial in reader.trials()] == ["soy ?"]
        assert len(reader.burns("soy \ud83d")) == 1


async def test_a_value_no_database_can_hold_writes_nothing_of_its_batch(opened):
    sound = Note(at_s=AT_S, entered_s=AT_S, id="a", station="jar-a", text="sound")
    store = await opened()
    for bad in (replace(sound, id="b", at_s=1e30), replace(sound, id="c", at_s=float("nan"))):
        with pytest.raises(DataError, match="cannot be stored"):
            await store.append([(sound, []), (bad, [])])
    assert not await store.entry_seen("a")


async def test_entries_about_alarms_belong_to_the_burn_of_the_alarm(tmp_path, opened, evening):
    bench = evening().hot()
    store = await opened()
    await store.append(bench.steps)
    with open_read(tmp_path) as reader:
        (found,) = [one for one in reader.entries() if isinstance(one.entry, Acknowledge)]
    assert found.burn == "jar-a-1940000000"


async def test_a_folder_that_others_may_read_is_taken_from_them_and_that_is_said(tmp_path, caplog):
    data = tmp_path / "data"
    await (await Store.open(data)).close()
    for one, mode in ((data, 0o755), (data / "bench.sqlite3", 0o644)):
        one.chmod(mode)
    await (await Store.open(data)).close()
    assert [stat.S_IMODE(one.stat().st_mode) for one in (data, data / "bench.sqlite3")] == [
        0o700,
        0o600,
    ]
    assert f"{data} was open to others (mode 755); now it is for its owner alone" in caplog.text
    assert "bench.sqlite3 was open to others (mode 644)" in caplog.text
