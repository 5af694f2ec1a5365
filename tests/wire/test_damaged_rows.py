"""Rows that something else wrote over: named, left out, and all the rest still read."""

import sqlite3

import pytest

from logger.errors import DataError
from logger.service import records
from logger.service.trial_verdict import Judging
from logger.store import zones
from logger.store.queries import open_read
from logger.store.store import Store
from tests.support.store import AT_S, configured
from tests.support.web_bench import ONE_STATION

# what is written over a row of each table, and what is said to be lost
DAMAGE = {
    "burn": ("UPDATE burn SET body = '{\"id\":'", "the latest burn at jar-a"),
    "alarm": ("UPDATE alarm SET body = '[]' WHERE rowid = 1", "the state of this alarm"),
    "entry": ("UPDATE entry SET body = 'x' WHERE kind = 'ManualReading'", "a reading by hand"),
    "reading": ("UPDATE reading SET value = 'warm' WHERE id = 3", "one reading"),
    "estimate": ("UPDATE estimate SET value = 9e999 WHERE id = 2", "one estimate"),
    "run": ("UPDATE run SET last_seen_us = 'late'", "when the run before was last seen"),
    "text": ("UPDATE burn SET body = CAST(x'ff41' AS TEXT)", "the latest burn at jar-a"),
}


def write_over(data, sql):
    con = sqlite3.connect(data / "bench.sqlite3")
    with con:
        assert con.execute(sql).rowcount
    con.close()


@pytest.mark.parametrize("table", DAMAGE)
async def test_a_start_names_the_row_and_remembers_the_rest(tmp_path, opened, evening, table):
    store = await opened()
    bench = evening().hot()
    await store.append(bench.steps)
    await store.close()
    sql, lost = DAMAGE[table]
    write_over(tmp_path, sql)
    store = Store(tmp_path)
    _, found = await store.start(
        settings_text="",
        bench=bench.bench,
        started_s=AT_S + 90.0,
        version="1",
        broker=False,
        on_late=lambda late: None,
    )
    memory = found.memory
    await store.close()
    assert f"table {'burn' if table == 'text' else table}, row" in found.damage
    assert lost in found.damage
    assert len(memory.alarms) == len(bench.pipeline.alarms) - (table == "alarm")
    assert len(memory.burns) == (table not in ("burn", "text"))


@pytest.mark.parametrize("over", ["last = 'x'", "from_us = 'x'", "to_us = from_us - 1"])
async def test_zones_are_made_anew_and_nothing_is_lost(
    tmp_path, opened, evening, monkeypatch, over
):
    monkeypatch.setattr(zones, "ZONE_ROWS", 10)
    store = await opened()
    bench = evening().hot()
    for start in range(0, len(bench.steps), 20):
        await store.append(bench.steps[start : start + 20])
    await store.close()
    with open_read(tmp_path) as reader:
        whole = [*reader.readings(None, AT_S + 5.0, AT_S + 30.0)]
    assert len(whole) > 20
    write_over(tmp_path, f"UPDATE zone SET {over} WHERE of = 'reading'")
    with open_read(tmp_path) as reader:
        assert [*reader.readings(None, AT_S + 5.0, AT_S + 30.0)] == whole
    for named in (True, False):
        store = Store(tmp_path)
        _, found = await store.start(
            settings_text="",
            bench=bench.bench,
            started_s=AT_S + 90.0,
            version="1",
            broker=False,
            on_late=lambda late: None,
        )
        await store.append(bench.steps[:20])
        await store.close()
        assert ("table zone (reading) was damaged" in found.damage) is named
    with open_read(tmp_path) as reader:
        assert whole == [*reader.readings(None, AT_S + 5.0, AT_S + 30.0)][: len(whole)]


@pytest.mark.parametrize("table", ["reading", "estimate", "entry"])
async def test_a_reader_leaves_the_row_out_and_names_it(tmp_path, opened, evening, table):
    store = await opened()
    await store.append(evening().hot().steps)
    with open_read(tmp_path) as reader:
        readings, entries = len(list(reader.readings())), len(reader.entries())
        estimates = len(list(reader.estimates()))
    write_over(tmp_path, DAMAGE[table][0])
    with open_read(tmp_path) as reader:
        assert len(list(reader.readings())) == readings - (table == "reading")
        assert len(list(reader.estimates())) == estimates - (table == "estimate")
        assert len(reader.entries()) == entries - (table == "entry")
        (line,) = reader.damage.lines
        assert line.startswith(f"table {table}, row ")


async def test_one_damaged_burn_is_said_and_does_not_hide_the_others(tmp_path, opened, evening):
    store = await opened()
    bench = evening()
    bench.lit()
    bench.lit(1.0, station="jar-b")
    await store.append(bench.steps)
    write_over(tmp_path, "UPDATE burn SET body = '' WHERE station = 'jar-a'")
    with open_read(tmp_path) as reader:
        assert [burn.station for burn in reader.burns()] == ["jar-b"]
        with pytest.raises(DataError, match=r"table burn, row jar-a-1940000000 is damaged"):
            reader.burn("jar-a-1940000000")
        assert len(reader.events()) == 2


async def test_a_record_says_what_it_lacks_and_no_verdict_is_given_without_a_burn(
    tmp_path, opened, evening
):
    store = await opened(**configured(ONE_STATION.replace("{folder}", str(tmp_path))))
    bench = evening().hot()
    await store.append(bench.steps)
    (burn,) = bench.pipeline.burns
    assert "could be read" not in records.record_html(tmp_path, burn.id)
    write_over(tmp_path, "UPDATE event SET body = '{' WHERE seq = 2")
    html = records.record_html(tmp_path, burn.id)
    assert "Not all that was stored could be read" in html
    assert "table event, row 2 is damaged" in html
    write_over(tmp_path, "UPDATE settings SET bench = '[1]'")
    for ask in (records.record_html, records.burn_message):
        with pytest.raises(DataError, match="table settings"):
            ask(tmp_path, burn.id)
    write_over(tmp_path, "UPDATE burn SET body = ''")
    with pytest.raises(DataError, match="there is no verdict on the trial"):
        Judging(tmp_path).message(burn.trial)
