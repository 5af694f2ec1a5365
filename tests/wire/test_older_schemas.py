"""Databases as earlier versions wrote them, brought to this version: what they say stays the same.

Each schema_N.sql is a dump of one, schema_N.json what the program of then said of its burn: lit,
over its limit, readings by hand corrected and moved, a note withdrawn (from 4 on), a channel
calibrated, a gap, put out, weighed; with channels named by the address of a Bluetooth probe.
"""

import json
import sqlite3
from pathlib import Path

import pytest

from logger.service import records
from logger.service.trial_verdict import Judging
from logger.store import schema
from logger.store.backup import back_up
from logger.store.opening import FILE_NAME
from logger.store.queries import open_read
from logger.store.store import Store

BURN = "jar-a-1940000019"
HERE = Path(__file__).parent


@pytest.fixture(params=[3, 4])
def older(tmp_path, request):
    """A folder with a database of that version, and what was said of its burn."""
    said = json.loads((HERE / f"schema_{request.param}.json").read_text(encoding="utf-8"))
    con = sqlite3.connect(tmp_path / FILE_NAME)
    con.executescript((HERE / f"schema_{request.param}.sql").read_text(encoding="utf-8"))
    con.close()
    return tmp_path, said


MADE_ANEW = ("verdict", "entries", "warmest_room")  # in words of now; predicted as now


def told_alike(now, then):
    """Whether every number, time and name of then is told now; there may be more."""
    if isinstance(then, dict):
        return all(
            told_alike(now.get(key), value) for key, value in then.items() if key not in MADE_ANEW
        )
    if isinstance(then, list):
        return len(now) == len(then) and all(map(told_alike, now, then))
    return now == pytest.approx(then) if isinstance(then, float) else now == then


async def test_its_burn_is_told_as_the_program_of_then_told_it(older):
    data, then = older
    await (await Store.open(data)).close()
    now = records.burn_message(data, BURN)
    assert told_alike(now, then)
    outcomes = {j["criterion"]: j["outcome"] for j in then["verdict"]["judgements"]}
    assert {j["criterion"]: j["outcome"] for j in now["verdict"]["judgements"]} == outcomes
    assert "wall-limit" in outcomes
    record = records.record_html(data, BURN)
    assert "a tall flame, é" in record
    assert "cotton 3, soy" in record
    assert Judging(data).message("cotton 3, soy")["outcome"] == then["verdict"]["outcome"]


async def test_nothing_of_it_is_lost_or_changed(older):
    data, _ = older
    tables = ("reading", "estimate", "entry", "event", "alarm", "calibration", "health", "channel")

    def content():
        con = sqlite3.connect(data / FILE_NAME)
        found = {name: con.execute(f"SELECT * FROM {name}").fetchall() for name in tables}
        con.close()
        return found

    before = content()
    await (await Store.open(data)).close()
    after = content()
    for name in tables:
        assert len(after[name]) == len(before[name]) > 0 or name == "health"
        for now, then in zip(after[name], before[name], strict=True):
            assert now[: len(then)] == then
    with open_read(data) as reader:
        readings = list(reader.readings())
        assert {one.channel for one in readings} >= {"room", "bt-c4-7a-11-aa-bb-0c-1"}
        assert not reader.damage.lines


async def test_a_backup_can_be_made_of_it_before_it_is_brought_up(older):
    data, then = older
    old = data / "elsewhere"
    old.mkdir()
    made = back_up(data, old / FILE_NAME)
    assert made.counts["reading"] == 476
    con = sqlite3.connect(old / FILE_NAME)
    assert con.execute("PRAGMA user_version").fetchone()[0] < len(schema.MIGRATIONS)
    con.close()
    await (await Store.open(old)).close()
    assert told_alike(records.burn_message(old, BURN), then)
