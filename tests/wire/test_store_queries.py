"""Readers: stretches of time in any order of arrival, curves with their gaps, the export."""

import contextlib
import csv
import io
import random

import pytest

from logger.burn.entries import Out
from logger.errors import StoreError
from logger.quantities import Estimate, Quality, Reading, Tick
from logger.service.exporting import export_all
from logger.store import zones
from logger.store.buckets import Spans
from logger.store.opening import FILE_NAME, open_to_write
from logger.store.queries import open_read
from logger.timestamps import parse_instant
from tests.support.store import AT_S


def estimate(second, value, channel="a", quality=Quality.GOOD):
    return Estimate(
        channel=channel,
        at_s=AT_S + second,
        value=value,
        standard_uncertainty=0.1,
        repeatability=0.1,
        used=30,
        rejected=0,
        quality=quality,
    )


@contextlib.contextmanager
def opening_to_write(data):
    con = open_to_write(data / FILE_NAME)
    yield con
    con.close()


@pytest.fixture
async def curve(tmp_path, opened):
    """Stores estimates and reads their series."""

    async def read(estimates, *args, **more):
        store = await opened()
        await store.append([(Tick(at_s=estimates[-1].at_s), estimates)])
        with open_read(tmp_path) as reader:
            return reader.series(*args, **more)

    return read


async def test_a_stretch_of_time_is_found_in_any_order_of_arrival(tmp_path, opened, monkeypatch):
    monkeypatch.setattr(zones, "ZONE_ROWS", 50)
    generator = random.Random(3)
    readings = []
    for number in range(1000):
        jump_s = -5000.0 if 400 <= number < 450 else 0.0  # the clock was wrong for a while
        late_s = -300.0 if generator.random() < 0.01 else 0.0
        at_s = round(AT_S + number + jump_s + late_s + generator.random(), 6)
        readings.append(Reading(channel=generator.choice("abc"), value=float(number), at_s=at_s))
    store = await opened()
    for first in range(0, 1000, 7):
        await store.append([(one, []) for one in readings[first : first + 7]])
    with open_read(tmp_path) as reader:
        assert reader._all("SELECT count(*) FROM zone WHERE of = 'reading'")[0][0] >= 15
        for from_s, to_s in ((0.0, None), (AT_S, AT_S + 1.0), (AT_S + 300.0, AT_S + 500.0)):
            end_s = float("inf") if to_s is None else to_s
            for channel in (None, "b"):
                assert list(reader.readings(channel, from_s, to_s)) == [
                    one
                    for one in readings
                    if from_s <= one.at_s < end_s and channel in (None, one.channel)
                ]
        assert list(reader.readings("a", AT_S - 4700.0, AT_S - 4500.0)) == [
            one for one in readings if one.channel == "a" and one.at_s < AT_S - 4500.0
        ]
        narrow = zones.spans(reader._con, "reading", 1_940_000_100_000_000, 1_940_000_110_000_000)
        assert sum(min(one.last, 1000) - one.first + 1 for one in narrow) < 400


async def test_a_zone_that_is_closed_while_one_asks_hides_and_doubles_nothing(
    tmp_path, opened, monkeypatch
):
    monkeypatch.setattr(zones, "ZONE_ROWS", 10)
    store = await opened()
    await store.append([(Reading(channel="a", value=1.0, at_s=AT_S), [])] * 9)
    ask = zones._closed
    for meanwhile in (1, 12):
        with open_read(tmp_path) as reader, opening_to_write(tmp_path) as con:

            def closed(con_, table, con=con, meanwhile=meanwhile):
                end = ask(con_, table)
                monkeypatch.undo()  # what follows is another question
                monkeypatch.setattr(zones, "ZONE_ROWS", 10)
                con.executemany(
                    "INSERT INTO reading (channel, at_us, value) VALUES (1, ?, 1.0)",
                    [(int(AT_S) * 1_000_000,)] * meanwhile,
                )
                zones.close(con, "reading")
                return end

            before = len(list(reader.readings()))
            monkeypatch.setattr(zones, "_closed", closed)
            assert len(list(reader.readings())) == before  # all it reads is of one moment
            assert len(list(reader.readings())) == before + meanwhile


async def test_a_curve_keeps_lowest_and_highest_and_shows_gaps(curve):
    estimates = [estimate(second, 20.0 + second % 60) for second in range(0, 600, 5)]
    estimates = [one for one in estimates if not 240 <= one.at_s - AT_S < 360]
    estimates.append(estimate(30, 99.0, channel="b"))
    buckets = await curve(estimates, "a", AT_S, AT_S + 600.0, 10)
    assert [bucket.at_s - AT_S for bucket in buckets] == [60.0 * index for index in range(10)]
    full, gap = (20.0, 75.0), (None, None)
    assert [(one.low, one.high) for one in buckets] == [full] * 4 + [gap] * 2 + [full] * 4


async def test_no_bucket_is_shorter_than_estimates_come(curve):
    estimates = [estimate(second, float(second)) for second in range(0, 100, 5)]
    buckets = await curve(estimates, "a", AT_S, AT_S + 100.0, 1000)
    assert [(one.at_s - AT_S, one.low) for one in buckets] == [
        (one, one) for one in range(0, 100, 5)
    ]


async def test_a_lost_or_absent_estimate_is_a_gap(curve):
    estimates = [
        estimate(0, 20.0),
        estimate(5, 20.0, quality=Quality.LOST),
        estimate(10, 21.0, quality=Quality.DOUBTFUL),
        estimate(15, None, quality=Quality.LOST),
    ]
    buckets = await curve(estimates, "a", AT_S, AT_S + 20.0, 4)
    assert [bucket.low for bucket in buckets] == [20.0, None, 21.0, None]
    assert [bucket.high for bucket in buckets] == [20.0, None, 21.0, None]


@pytest.mark.parametrize(
    ("args", "count", "width_s"),
    [
        pytest.param((0.0, 14_400.0, 1000, 5.0), 1000, 14.4, id="evening"),
        pytest.param((0.0, 60.0, 1000, 5.0), 12, 5.0, id="minute"),
        pytest.param((0.0, 60.0, 1000, 2.5), 20, 3.0, id="estimates-on-whole-seconds"),
        pytest.param((0.0, 60.0, 1000, 0.1), 60, 1.0, id="not-oftener-than-ticks"),
        pytest.param((0.0, 2.0, 1000, 5.0), 1, 2.0, id="shorter-than-a-step"),
    ],
)
def test_the_length_of_a_bucket(args, count, width_s):
    spans = Spans.of(*args)
    assert (spans.count, spans.width_s) == (count, width_s)


async def test_the_export_holds_what_came_in_order_and_in_full(tmp_path, opened):
    generator = random.Random(5)
    readings = [
        Reading(
            channel=generator.choice(("jar-a-wall-3", "room")),
            value=generator.choice((41.25, -0.1, 1e-7, 3.0, generator.random() * 100.0)),
            at_s=round(AT_S + number // 2 + generator.random(), 6),
        )
        for number in range(200)
    ]
    store = await opened()
    await store.append([(one, []) for one in readings])
    out = io.StringIO()
    assert export_all(tmp_path, out) == 200
    header, *rows = csv.reader(io.StringIO(out.getvalue()))
    assert header == ["time", "channel", "value"]
    assert all(len(time) == len("2031-06-23T12:53:20.000000Z") for time, _, _ in rows)
    assert [
        Reading(channel=channel, value=float(value), at_s=parse_instant(time))
        for time, channel, value in rows
    ] == readings
    out = io.StringIO()
    expected = [one for one in readings if AT_S + 10.0 <= one.at_s < AT_S + 20.0]
    assert export_all(tmp_path, out, AT_S + 10.0, AT_S + 20.0) == len(expected)


async def test_events_and_entries_can_be_asked_for_by_burn_or_time(tmp_path, opened, evening):
    bench = evening().hot()
    bench.step(Out(at_s=AT_S + 95.0, entered_s=AT_S + 95.0, id="out", station="jar-a"))
    bench.lit(100.5, station="jar-b", trial="wood 1")
    store = await opened()
    await store.append(bench.steps)
    with open_read(tmp_path) as reader:
        everything = reader.events()
        of_a = reader.events("jar-a-1940000000")
        assert [one.event.event for one in reader.events("jar-b-1940000100")] == ["lit"]
        assert {one.event.burn for one in of_a} == {"jar-a-1940000000"}
        assert len(of_a) == len(everything) - 1
        late = reader.events(from_s=AT_S + 90.0, to_s=AT_S + 100.0)
        assert [one.event.event for one in late] == ["out"]
        assert [one.entry.id for one in reader.entries("jar-b-1940000100")] == ["lit-jar-b-100.5"]
        assert [trial.name for trial in reader.trials()] == ["cotton 3, soy", "wood 1"]
        assert not any(event.delivered for event in everything)


async def test_readers_see_what_is_committed_and_hold_up_nobody(tmp_path, opened):
    store = await opened()
    with open_read(tmp_path) as reader:
        for number in range(3):
            await store.append([(Reading(channel="a", value=1.0, at_s=AT_S + number), [])])
            under_way = reader.readings()
            next(under_way)  # a reader in the middle of its rows
            assert len(list(reader.readings())) == number + 1
            under_way.close()
        with pytest.raises(StoreError, match="may not be written"):
            reader._all("DELETE FROM reading")


async def test_the_latest_rows_of_a_year_are_found_without_a_look_at_all_its_zones(
    tmp_path, opened
):
    await (await opened()).close()
    with opening_to_write(tmp_path) as con:
        con.executemany(
            "INSERT INTO zone (of, first, last, from_us, to_us, sealed)"
            " VALUES ('reading', ?1, ?1 + 9, ?1, ?1 + 9, 10)",
            ((first,) for first in range(1, 50_001, 10)),
        )
        done = []
        con.set_progress_handler(lambda: done.append(1), 1)  # one for each step of SQLite
        found = zones.spans(con, "reading", 0, 10**6, from_row=49_985)
        con.set_progress_handler(None, 1)
        assert [(one.first, one.last) for one in found][:2] == [(49_981, 49_990), (49_991, 50_000)]
        assert found[2].first == 50_001
        assert len(done) < 500
        con.execute("UPDATE zone SET last = 'x' WHERE first = 49991")
        found = zones.spans(con, "reading", 0, 10**6, from_row=49_985)
        assert found[-1].first == 1  # all is looked through
