"""Burns by the number that people type: given in order, kept, accepted wherever an id is."""

import json
import sqlite3
from contextlib import closing
from dataclasses import replace
from pathlib import Path

import pytest

from logger.burn.model import Burn
from logger.pipeline import Memory, Pipeline, Recalled
from logger.service import records
from logger.store import schema
from logger.store.opening import FILE_NAME
from logger.store.store import Store
from tests.support import pipeline_bench
from tests.support.pipeline_bench import START_S, Live, lit, out
from tests.support.store import AT_S
from tests.support.web_bench import serving

HERE = Path(__file__).parent


async def test_a_number_stands_wherever_an_id_does(tmp_path):
    async with serving(tmp_path) as bench:
        first = await bench.post("/api/burns", station="jar-a", trial="cedar-6")
        assert first.json()["number"] == 1
        await bench.seconds(2)
        await bench.post("/api/burns/1/observations", text="a low flame")
        assert (await bench.post("/api/burns/1/out")).status_code == 201
        await bench.seconds(2)
        second = await bench.post("/api/burns", station="jar-a", trial="cedar-6")
        assert (second.json()["number"], second.json()["burn"]) == (2, "jar-a-1935651604")
        refused = await bench.post("/api/burns/1/out")
        assert refused.status_code == 409
        assert "burn 1 is not the latest" in refused.json()["detail"]
        await bench.seconds(1)
        by_number = (await bench.client.get("/api/burns/1")).json()
        assert by_number == (await bench.client.get(f"/api/burns/{first.json()['burn']}")).json()
        assert (by_number["number"], by_number["burn"]) == (1, "jar-a-1935651600")
        assert [one["text"] for one in by_number["entries"]][1] == "note: a low flame"
        record = await bench.client.get("/burns/2/record")
        assert "Record of burn 2" in record.text
        assert "jar-a-1935651604" not in record.text
        page = (await bench.client.get("/")).text
        assert ", burn 2</span>" in page
        assert 'href="/burns/2/record"' in page
        assert (await bench.now())["stations"][0]["number"] == 2
        unknown = await bench.client.get("/api/burns/3")
        assert unknown.status_code == 404
        assert "there is no burn 3; the latest are: 1, 2" in unknown.json()["detail"]
    async with serving(tmp_path) as bench:  # counted on after a restart, an answer too
        assert (await bench.now())["stations"][0]["number"] == 2
        again = await bench.client.post(
            "/api/burns", json={"id": "test-00000001", "station": "jar-a", "trial": "cedar-6"}
        )
        assert (again.status_code, again.json()["number"]) == (200, 1)


@pytest.mark.parametrize("written", [3, 4])
async def test_an_older_database_numbers_its_burns_by_their_time(tmp_path, written):
    with closing(sqlite3.connect(tmp_path / FILE_NAME)) as con:
        con.executescript((HERE / f"schema_{written}.sql").read_text(encoding="utf-8"))
        held = con.execute("SELECT * FROM burn").fetchall()
        (body,) = con.execute("SELECT body FROM burn").fetchone()
        for at_s, id_ in ((AT_S - 5.0, "jar-b-1"), (AT_S + 9e6, "jar-b-2")):  # lit before, after
            one = {**json.loads(body), "id": id_, "station": "jar-b", "lit_s": at_s}
            con.execute(
                "INSERT INTO burn VALUES (?, 'jar-b', ?, ?, ?, ?)",
                (id_, one["trial"], int(at_s * 1e6), held[0][4], json.dumps(one)),
            )
        con.execute(
            "INSERT INTO burn VALUES ('damaged', 'jar-b', 'x', 9e18, ?, 'no JSON')", (held[0][4],)
        )
        con.commit()
    await (await Store.open(tmp_path)).close()
    found = {number: records.burn_message(tmp_path, str(number))["burn"] for number in (1, 2, 3)}
    assert found == {1: "jar-b-1", 2: held[0][0], 3: "jar-b-2"}
    assert records.burn_message(tmp_path, held[0][0])["number"] == 2
    with closing(sqlite3.connect(tmp_path / FILE_NAME)) as con:
        assert con.execute("SELECT number FROM burn WHERE id = 'damaged'").fetchone() == (4,)
        assert con.execute("PRAGMA user_version").fetchone() == (len(schema.MIGRATIONS),)


def test_burns_lit_before_the_disk_answered_are_counted_on():
    live = Live(Pipeline(pipeline_bench.bench(), START_S, Memory()))
    live.put(lit())
    assert [one.number for one in live.of(Burn)] == [None]
    live.wait(5)
    live.put(out(live.now_s))
    told = live.put(Recalled(at_s=live.now_s, memory=Memory(last_number=11)))
    assert [one.number for one in told if isinstance(one, Burn)] == [12]
    live.wait(5)
    next_ = live.put(replace(lit(live.now_s), id="entry-9"))
    assert [one.number for one in next_ if isinstance(one, Burn)] == [13]


def test_a_withdrawn_or_corrected_burn_keeps_its_number():
    from logger.burn.entries import Corrected, Withdrawn

    live = Live(Pipeline(pipeline_bench.bench(), START_S, Memory(last_number=4)))
    live.put(lit())
    live.wait(20)
    change = {"at_s": live.now_s, "entered_s": live.now_s, "entry": "entry-1", "why": "a slip"}
    live.put(Corrected(**change, id="change-1", happened_s=START_S - 60.0))
    live.put(Withdrawn(**change, id="change-2"))
    assert [one.number for one in live.of(Burn)] == [5] * len(live.of(Burn))
    assert live.of(Burn)[-1].withdrawn
