"""Old rows in chunks: every query answers as before, whatever happens meanwhile."""

import itertools
import math
import random
import re
import sqlite3
import threading
import time
from functools import partial

import pytest

from logger.burn.entries import Out
from logger.errors import StoreError
from logger.quantities import Estimate, Quality, Reading, Tick
from logger.service import records
from logger.service.burn_curve import curve_svg
from logger.store import sealing, zones
from logger.store.damage import Damage
from logger.store.opening import FILE_NAME
from logger.store.queries import open_read
from logger.store.rows import numbered
from logger.store.sealed import verify
from logger.store.sealer import Sealer
from tests.support.store import AT_S, SETTINGS, configured
from tests.support.waiting import patient
from tests.support.warm_starts import started
from tests.support.web_bench import serving

CHANNELS = ("a", "b", "jar-a-wall-3")


@pytest.fixture
def small(monkeypatch):
    """Zones, blocks and chunks of few rows, sealed as soon as they are a minute old."""
    monkeypatch.setattr(zones, "ZONE_ROWS", 20)
    monkeypatch.setattr(sealing, "BLOCK_ROWS", 64)
    monkeypatch.setattr(sealing, "CHUNK_ROWS", 16)
    monkeypatch.setattr(sealing, "BODY_BYTES", 300)
    monkeypatch.setattr(sealing, "AFTER_S", 60.0)


def some(generator, count, step_s=1.0):
    """Readings and estimates as a bench may have them: late, at once, a clock that was wrong."""
    steps, at_s = [], AT_S
    for number in range(count):
        at_s += generator.choice((0.0, 0.005, 1.0, 1.0, 1.0)) * step_s
        if generator.random() < 0.01:
            at_s += 1800.0  # a gap
        wrong_s = -86_400.0 if count // 3 < number < count // 2 else 0.0
        late_s = -300.0 if generator.random() < 0.02 else 0.0
        stamp_s = round(at_s + wrong_s + late_s + generator.gauss(0.0, 0.005), 6)
        value = generator.choice(
            (round(generator.gauss(45.0, 1.0), 2), generator.random() * 1e-9, -0.0, 3e300, 7.0)
        )
        channel = generator.choice(CHANNELS)
        known = generator.random() > 0.1
        random_part = abs(generator.gauss(0.1, 0.01))
        estimate = Estimate(
            channel=channel,
            at_s=float(int(stamp_s)),
            value=generator.gauss(45.0, 1.0) if known else None,
            standard_uncertainty=math.hypot(random_part, 1.4) if known else None,
            repeatability=random_part if known else None,
            used=generator.randrange(30),
            rejected=generator.choice((0, 0, 1)),
            quality=generator.choice(list(Quality)) if known else Quality.LOST,
        )
        steps.append((Reading(channel=channel, value=value, at_s=stamp_s), [estimate]))
    return steps


async def fill(store, steps):
    for first in range(0, len(steps), 21):  # a zone of `small` at a time
        await store.append(steps[first : first + 21])


async def seal(store, data):
    """Seal all that is due; how many steps it took."""
    sealer, steps = Sealer(store, data), 0
    while await sealer.step():
        steps += 1
    return steps


def answers(data):
    """What the queries say, to the last bit."""
    with open_read(data) as reader:
        stretches = [(0.0, None), (AT_S + 50.0, AT_S + 2000.0), (AT_S - 9e4, AT_S)]
        asked = itertools.product((None, *CHANNELS), stretches)
        found = [
            (
                [(one.channel, one.value.hex(), one.at_s) for one in reader.readings(name, *ends)],
                list(map(repr, reader.estimates(name, *ends))),
            )
            for name, ends in asked
        ]
        curves = [
            reader.series(name, from_s, AT_S + 20_000.0, points, every_s=1.0)
            for name in CHANNELS
            for from_s, points in ((AT_S, 1000), (AT_S - 90_000.0, 7), (AT_S + 0.5, 13))
        ]
        assert not reader.damage.lines
    return found, curves


def sql(data, query, *values):
    con = sqlite3.connect(data / FILE_NAME)
    with con:
        found = con.execute(query, values).fetchall()
    con.close()
    return found


@pytest.mark.parametrize("seed", range(3))
async def test_every_query_answers_as_before(tmp_path, opened, small, seed):
    store = await opened()
    await fill(store, some(random.Random(seed), 700))
    before = answers(tmp_path)
    assert await seal(store, tmp_path) >= 10
    assert answers(tmp_path) == before
    (rows,) = sql(
        tmp_path, "SELECT (SELECT count(*) FROM reading), (SELECT count(*) FROM estimate)"
    )
    assert max(rows) < 500
    with open_read(tmp_path) as reader:
        damage = Damage()
        assert verify(reader._con, damage) == 1400 - sum(rows)
        assert not damage.lines


async def test_ids_go_on_and_a_restart_finds_its_place(tmp_path, opened, small):
    store = await opened()
    await fill(store, some(random.Random(1), 300))
    await seal(store, tmp_path)
    await store.close()
    store = await opened(started_s=AT_S + 50_000.0)
    late = AT_S + 100_000.0
    await store.append([(Reading(channel="a", value=1.0, at_s=late), [])])
    assert store.run.last_seen_s is not None
    with open_read(tmp_path) as reader:
        assert [run.after_reading for run in reader.runs()] == [0, 300]
        assert list(reader.readings())[300:] == [Reading(channel="a", value=1.0, at_s=late)]
    assert sql(tmp_path, "SELECT max(id) FROM reading") == [(301,)]


async def test_the_newest_rows_stay_and_so_does_what_is_not_old(tmp_path, opened, small):
    store = await opened()
    await fill(store, some(random.Random(1), 300))
    latest_us = int(sql(tmp_path, "SELECT max(at_us) FROM reading")[0][0])
    await seal(store, tmp_path)
    assert sql(tmp_path, "SELECT max(id) FROM reading") == [(300,)]
    sealed_to = sql(tmp_path, "SELECT max(to_us) FROM zone WHERE sealed IS NOT NULL")
    assert sealed_to[0][0] < latest_us - 60_000_000


async def test_a_reader_in_the_middle_of_its_rows_gets_all_of_them(tmp_path, opened, small):
    store = await opened()
    await fill(store, some(random.Random(1), 700))
    with open_read(tmp_path) as reader:
        expected = list(reader.readings())
        under_way = reader.readings()
        first = [next(under_way) for _ in range(3)]
        await seal(store, tmp_path)
        assert first + list(under_way) == expected
        assert list(reader.readings()) == expected


async def test_readers_see_all_rows_at_every_moment_of_sealing(tmp_path, opened, small):
    store = await opened()
    await fill(store, some(random.Random(1), 1500))
    counts, over = set(), threading.Event()

    def read():
        while not over.is_set():
            with open_read(tmp_path) as reader:
                counts.add((len(list(reader.readings())), len(list(reader.estimates()))))

    reading = threading.Thread(target=read)
    reading.start()
    await seal(store, tmp_path)
    over.set()
    reading.join()
    assert counts == {(1500, 1500)}


async def test_rows_that_changed_meanwhile_are_left_alone(tmp_path, opened, small):
    store = await opened()
    await fill(store, some(random.Random(1), 300))
    block = Sealer(store, tmp_path)._pack()
    sql(tmp_path, "DELETE FROM reading WHERE id = 2")
    assert not await store.change(partial(sealing.put, block=block))
    assert sql(tmp_path, "SELECT count(*) FROM chunk") == [(0,)]
    assert sql(tmp_path, "SELECT count(*) FROM reading") == [(299,)]
    await seal(store, tmp_path)  # without it they can be
    with open_read(tmp_path) as reader:
        assert len(list(reader.readings())) == 299


async def test_rows_that_cannot_be_packed_stay_rows_and_are_named(tmp_path, opened, small, caplog):
    store = await opened()
    await fill(store, some(random.Random(1), 700))
    sql(tmp_path, "UPDATE reading SET value = 'warm' WHERE id = 70")
    with open_read(tmp_path) as reader:
        before = list(reader.readings())
    await seal(store, tmp_path)
    assert sql(tmp_path, "SELECT typeof(value) FROM reading WHERE id = 70") == [("text",)]
    assert "not sealed" in caplog.text
    with open_read(tmp_path) as reader:
        assert list(reader.readings()) == before
        assert "table reading, row 70 is damaged" in reader.damage.lines[0]
    assert sql(tmp_path, "SELECT count(*) FROM zone WHERE of = 'reading' AND sealed > 0")[0][0] > 2


@pytest.mark.parametrize(
    "damage",
    [
        pytest.param("UPDATE block SET body = zeroblob(length(body)) WHERE id = 1", id="zeros"),
        pytest.param("UPDATE block SET body = 'warm' WHERE id = 1", id="text"),
        pytest.param("DELETE FROM block WHERE id = 1", id="gone"),
        pytest.param("UPDATE chunk SET from_us = from_us + 1 WHERE block = 1", id="head"),
        pytest.param("UPDATE chunk SET levels = 'x' WHERE block = 1", id="levels"),
    ],
)
async def test_a_damaged_chunk_is_named_and_the_rest_is_read(tmp_path, opened, small, damage):
    store = await opened()
    steps = some(random.Random(1), 700)
    await fill(store, steps)
    await seal(store, tmp_path)
    ((lost,),) = sql(tmp_path, "SELECT sum(rows) FROM chunk WHERE block = 1")
    sql(tmp_path, damage)
    with open_read(tmp_path) as reader:
        found = list(reader.readings())
        assert len(found) == 700 - lost
        assert [one for one, _ in steps if one in found] == found
        line = reader.damage.lines[0]
        assert line.startswith("table chunk, row 1 is damaged (")
        assert re.search(r"lost is \d+ readings of jar-a-wall-3 from 2031-\S+Z to 2031-\S+Z$", line)
        named = Damage()
        verify(reader._con, named)
        assert named.lines == reader.damage.lines
        assert len(list(reader.estimates())) == 700  # of other blocks


async def test_damaged_levels_and_missing_chunks_are_named(tmp_path, opened, small):
    store = await opened()
    await fill(store, some(random.Random(1), 700))
    await seal(store, tmp_path)
    levels = "UPDATE chunk SET levels = x'00112233' WHERE of = 'estimate' AND channel ="
    sql(tmp_path, f"{levels} (SELECT id FROM channel WHERE name = 'a')")
    sql(tmp_path, "DELETE FROM chunk WHERE of = 'reading' AND channel = 2 AND first = 1")
    with open_read(tmp_path) as reader:
        reader.series("a", AT_S, AT_S + 40_000.0, 10)
        reader.series("b", AT_S, AT_S + 40_000.0, 10)
        assert reader.damage.lines
        assert all("lost is a curve of a from 2031-" in line for line in reader.damage.lines)
        named = Damage()
        verify(reader._con, named)
        assert any(line.startswith("table zone, row reading 1 ") for line in named.lines)


@pytest.mark.parametrize("table", sealing.TABLES)
async def test_rows_are_found_by_their_numbers(tmp_path, opened, small, table):
    store = await opened()
    await fill(store, some(random.Random(1), 700))
    with open_read(tmp_path) as reader:
        before = list(numbered(reader._con, reader.damage, table, 1))
        await seal(store, tmp_path)
        assert [number for number, *_ in before] == list(range(1, 701))
        for first in (1, 50, 64, 65, 300, 640, 700, 900):
            assert list(numbered(reader._con, reader.damage, table, first)) == before[first - 1 :]


async def test_a_sealed_zone_can_be_discarded_whole(tmp_path, opened, small):
    store = await opened()
    await fill(store, some(random.Random(1), 700))
    await seal(store, tmp_path)
    await store.close()
    con = sqlite3.connect(tmp_path / FILE_NAME, isolation_level=None)
    gone = sealing.discard(con, "reading", 1)
    con.close()
    assert gone == 64
    with open_read(tmp_path) as reader:
        left = [number for number, *_ in numbered(reader._con, reader.damage, "reading", 1)]
        assert left == list(range(65, 701))
        damage = Damage()
        verify(reader._con, damage)
        assert not damage.lines


async def test_pages_that_rows_leave_are_used_again(tmp_path, opened, monkeypatch):
    monkeypatch.setattr(sealing, "AFTER_S", 60.0)
    store = await opened()
    pages = []
    for first in range(0, 120_000, 20_000):
        for start in range(first, first + 20_000, 5000):
            seconds = range(start, start + 5000)
            await store.append(
                [(Reading(channel="a", value=20.0, at_s=AT_S + second), ()) for second in seconds]
            )
        await seal(store, tmp_path)
        pages += sql(tmp_path, "PRAGMA page_count")[0]
    # 20,000 rows are over 100 pages; sealed, these regular ones are next to nothing
    assert pages[-1] - pages[1] < 50


async def test_a_disk_that_fails_stops_sealing_and_nothing_else(tmp_path, opened, small, caplog):
    store = await opened()
    await fill(store, some(random.Random(1), 300))

    async def refuse(block):
        raise StoreError("the disk is full")

    store.change = refuse
    assert not await Sealer(store, tmp_path).step()
    assert "nothing is sealed for now: the disk is full" in caplog.text


async def test_the_record_of_a_sealed_burn_is_the_same(
    tmp_path, opened, evening, small, monkeypatch
):
    monkeypatch.setattr(sealing, "BLOCK_ROWS", 20)
    store = await opened(**configured(SETTINGS))
    bench = evening().hot(upto=130)
    bench.step(Out(at_s=AT_S + 132.0, entered_s=AT_S + 132.0, id="out", station="jar-a", by="Ada"))
    for second in range(133, 140):
        bench.second(second, 92.0)
    await fill(store, bench.steps)
    later = [
        (Reading(channel="room", value=22.0, at_s=AT_S + 5000.0 + second), [])
        for second in range(50)
    ]
    await fill(store, later)
    estimate = Estimate(
        channel="room",
        at_s=AT_S + 5000.0,
        value=22.0,
        standard_uncertainty=0.1,
        repeatability=0.1,
        used=1,
        rejected=0,
        quality=Quality.GOOD,
    )
    await fill(store, [(Tick(at_s=AT_S + 5000.0), [estimate])] * 80)
    (burn,) = bench.pipeline.burns

    def told():
        return (
            records.burn_message(tmp_path, burn.id),
            records.record_html(tmp_path, burn.id),
            curve_svg(tmp_path, burn.id, width=900.0),
        )

    before = told()
    assert await seal(store, tmp_path)
    held = sql(tmp_path, "SELECT sum(rows) FROM chunk WHERE of = 'estimate'")
    assert held[0][0] >= 40
    assert told() == before


async def sealed_evening(folder, *, sealed):
    """A burn that is put right after a day; what is told of it then."""
    folder.mkdir()
    async with serving(folder) as bench:
        burn = await bench.light()
        await bench.seconds(120, wall=50.0, room=22.0)
        typed = await bench.post(
            f"/api/burns/{burn}/readings", values=[98.0, 98.4], sure=True, height="80 mm", clock=9
        )
        await bench.post(f"/api/burns/{burn}/out")
        await bench.seconds(60, wall=45.0, room=22.0)
        await bench.service.recorder.saved()
        if sealed:
            assert await seal(bench.service.store, bench.service.data) > 2
        await bench.post(
            f"/api/entries/{typed.json()['id']}/correct", unit="degF", why="typed in degF"
        )
        await bench.seconds(3)
        curve = await bench.client.get(
            "/api/series", params={"channel": "jar-a-wall-3", "points": "100"}
        )
        found = await bench.client.get(f"/api/burns/{burn}")
    return found.json(), curve.json()


async def test_a_sealed_burn_is_put_right_as_any_other(tmp_path, small):
    plain = await sealed_evening(tmp_path / "plain", sealed=False)
    assert await sealed_evening(tmp_path / "sealed", sealed=True) == plain
    assert "typed in degF" in str(plain[0]["entries"])


async def test_a_service_seals_by_itself(tmp_path, small, monkeypatch):
    monkeypatch.setattr("logger.store.sealer.IDLE_S", 0.02)
    monkeypatch.setattr("logger.store.sealer.PAUSE_S", 0.0)
    async with serving(tmp_path) as bench:
        await bench.seconds(200, wall=50.0, room=22.0)
        await bench.service.recorder.saved()
        deadline_s = time.monotonic() + patient(10.0)
        while not sql(bench.service.data, "SELECT 1 FROM chunk LIMIT 1"):
            assert time.monotonic() < deadline_s
            await bench.seconds(1, wall=50.0, room=22.0)
        assert (await bench.client.get("/healthz")).json()["ok"]


KILLED = """
import asyncio, sys
from pathlib import Path
from logger.pipeline import Bench
from logger.quantities import Reading
from logger.settings.limit_keys import default_limits
from logger.store import sealing, zones
from logger.store.sealer import Sealer
from logger.store.store import Store
zones.ZONE_ROWS, sealing.BLOCK_ROWS, sealing.AFTER_S = 50, 200, 60.0

async def main():
    store = await Store.open(Path(sys.argv[1]))
    bench = Bench(channels=(), stations=(), limits=default_limits())
    run = await store.begin_run(settings_text="", bench=bench, started_s=1.0, version="0")
    sealer, number = Sealer(store, Path(sys.argv[1])), int(sys.argv[2])
    while True:
        await store.append([
            (Reading(channel="ab"[n % 2], value=n / 8, at_s=1e9 + n), ())
            for n in range(number, number + 300)
        ])
        number += 300
        print("stored", number, flush=True)
        while await sealer.step():
            print("sealed", flush=True)

asyncio.run(main())
"""


@pytest.mark.faults
def test_killed_while_it_seals_nothing_is_lost_or_doubled(tmp_path, long, fault_row):
    generator = random.Random(11)
    kills, sealed, begun = (100 if long else 4), 0, 0
    for _ in range(kills):
        output = tmp_path / "output"
        with output.open("w+") as file:
            process = started("-c", KILLED, str(tmp_path), str(begun), output=file.fileno())
            deadline_s = time.monotonic() + patient(20.0)
            while "sealed" not in output.read_text():
                assert process.poll() is None
                assert time.monotonic() < deadline_s
                time.sleep(0.005)
            time.sleep(generator.uniform(0.0, 0.1))  # the moment of the kill is what is tested
            process.kill()
            process.wait()
        told = output.read_text().split()
        stored = max(int(word) for word in told if word.isdigit())
        sealed += told.count("sealed")
        with open_read(tmp_path) as reader:
            held = [reading.value * 8 for reading in reader.readings()]
            damage = Damage()
            verify(reader._con, damage)
        assert held == list(range(len(held)))
        assert len(held) >= stored
        assert not damage.lines
        begun = len(held)
    fault_row(
        "kill -9 while old readings are sealed",
        tried=f"{kills} kills, {sealed} steps",
        reached="0 readings lost or doubled",
        bar="0",
    )


async def test_zones_made_anew_know_what_is_sealed(tmp_path, opened, small):
    store = await opened()
    await fill(store, some(random.Random(1), 700))
    await seal(store, tmp_path)
    before = answers(tmp_path)
    sound = "SELECT * FROM zone WHERE sealed IS NOT NULL ORDER BY of, first"
    kept = sql(tmp_path, sound)
    await store.close()
    sql(tmp_path, "UPDATE zone SET to_us = 'late'")
    with open_read(tmp_path) as reader:
        assert len(list(reader.readings())) == 700
    await (await opened()).close()
    assert answers(tmp_path) == before
    assert sql(tmp_path, sound) == kept
