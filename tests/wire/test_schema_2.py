"""A database of schema 2, as the program wrote it that kept no bench and events as published.

schema_2.sql is a dump of one: lit, over its limit, killed at 495 s, back at 540 s, put out.
"""

import json
import sqlite3
from pathlib import Path

import pytest

from logger import messages
from logger.errors import DataError
from logger.service import records
from logger.service.trial_verdict import Judging
from logger.store.opening import FILE_NAME
from logger.store.queries import open_read
from logger.store.store import Store

DUMP = Path(__file__).with_name("schema_2.sql").read_text(encoding="utf-8")
LIT_S = 1_940_000_000.5
BURN = "jar-a-1940000000"


def write(data, sql):
    con = sqlite3.connect(data / FILE_NAME)
    con.executescript(sql)
    con.close()


@pytest.fixture
def older(tmp_path):
    """The folder of the database as it was written."""
    write(tmp_path, DUMP)
    return tmp_path


@pytest.fixture
async def opened_now(older):
    """The same, opened by this program once."""
    await (await Store.open(older)).close()
    return older


def published(data):
    con = sqlite3.connect(data / FILE_NAME)
    found = con.execute("SELECT payload FROM event ORDER BY seq").fetchall()
    con.close()
    return [json.loads(payload) for (payload,) in found]


def without_bench(data):
    with open_read(data) as reader:
        return reader._all("SELECT text FROM settings WHERE bench IS NULL")


async def test_its_events_are_published_and_told_as_they_would_have_been(older):
    before = published(older)
    store = await Store.open(older)
    waiting = await store.waiting_events(100)
    await store.close()
    with open_read(older) as reader:
        events = reader.events()
        assert not reader.damage.lines
    now = [messages.event(one.event) for one in events]
    assert [one | old for one, old in zip(now, before, strict=True)] == now  # keys may be new
    assert {one["event"] for one in before} >= {"raised", "reminded", "acknowledged", "returned"}
    (seen,) = (e.event for e in events if getattr(e.event, "what", "") == "acknowledged")
    assert seen.time_s == seen.alarm.acknowledged_s == 1_940_000_459.654321  # to all its digits
    assert [one.seq for one in waiting] == [one.seq for one in events[3:]]


def test_its_record_is_what_it_was(opened_now):
    """Figures as the program of then gave them."""
    with open_read(opened_now) as reader:
        record = records.load(reader, BURN)
    assert (record.bench, record.words.temperature_in.name) == ("back-room", "degF")
    assert record.burn.hottest.value_c == pytest.approx(65.641, abs=0.001)
    assert record.until_s == record.burn.out_s == LIT_S + 541.0
    assert [s.channel.name for s in record.series] == [
        "jar-a-wall-9", "jar-a-wall-3", "jar-a-hand-rim", "room",
    ]  # fmt: skip
    limit = next(one for one in record.alarms if one.rule == "wall-limit")
    assert (limit.raised_s, limit.acknowledged_s) == (1_940_000_350.0, 1_940_000_459.654321)
    assert (limit.ended_s, limit.acknowledged_by) == (1_940_000_751.0, "Ada")
    assert len(record.alarms) == 12
    assert [line.text.removeprefix("jar-a: ") for line in record.diary] == [
        "recorded lit, a burn of cotton 3, soy",
        "read by hand, rim: 88.7, 89.6, 87.8 °F",
        "a tall flame, é",
        "nothing watched it for 42 s. Go and look at the candle",
        "recorded out",
    ]
    assert [line.at_s for line in record.diary][1:3] == [1_940_000_095.25, 1_940_000_150.0]
    (looser,) = record.looser
    assert "1 h instead of 30 min" in looser
    assert "a tall flame, é" in records.record_html(opened_now, BURN)
    assert Judging(opened_now).message("cotton 3, soy")["outcome"] == "fail"


async def test_a_burn_lit_now_outlives_the_grammar_of_its_configuration(
    tmp_path, opened, evening, older
):
    ((text,),) = without_bench(await _brought_up(older))
    data = tmp_path / "now"
    bench = evening().hot()
    store = await opened(data, settings_text=text)
    await store.append(bench.steps)
    (burn,) = bench.pipeline.burns
    before = records.burn_message(data, burn.id)
    write(data, "UPDATE settings SET text = 'bench = 1'")  # as another version may see it
    assert records.burn_message(data, burn.id) == before
    assert "bench = 1" in records.record_html(data, burn.id)


async def test_a_text_that_is_understood_no_more_is_named(older):
    await _brought_up(older)
    write(older, "UPDATE settings SET text = replace(text, 'accuracy', 'precision')")
    with pytest.raises(DataError, match=r"table settings: .*unknown key"):
        records.record_html(older, BURN)


async def test_a_damaged_event_neither_stops_the_step_nor_those_behind_it(older):
    write(older, "UPDATE event SET payload = '{' WHERE seq = 4")
    write(older, "UPDATE event SET payload = '[]' WHERE seq = 5")
    store = await Store.open(older)
    assert [one.seq for one in await store.waiting_events(3)] == [6, 7, 8]
    await store.close()
    with open_read(older) as reader:
        assert len(reader.events()) == 28
        assert len(reader.damage.lines) == 2


async def _brought_up(data):
    await (await Store.open(data)).close()
    return data
