"""Old readings that belong to no burn are discarded where the bench asks for it, and no others."""

import asyncio
import shutil
import sqlite3
from dataclasses import replace
from pathlib import Path

import pytest

from logger.burn.entries import Lit, ManualReading, Note, Out
from logger.errors import SettingsError, StoreError
from logger.pipeline import Pipeline
from logger.quantities import Place, Position, Reading, Tick
from logger.service.keeping import discard_old, kept_in_words
from logger.settings.config_file import parse
from logger.store import retention, sealing, zones
from logger.store.opening import FILE_NAME
from logger.store.queries import open_read
from logger.store.sealer import Sealer
from logger.store.store import Store
from tests.support.store import AT_S, Evening

DAY_S = 86_400.0
HOUR_S = 3600.0
KEPT = '[bench]\nname = "b"\nkeep_readings_outside_burns = "90 d"\n'
LIT_S = AT_S + 2 * DAY_S  # the burn; around it four days of nothing
OUT_S = LIT_S + 3 * HOUR_S
NOW_S = AT_S + 200 * DAY_S


EVERY_S = 300


@pytest.fixture(scope="module")
def recorded(tmp_path_factory):
    """A database with five days of readings, a burn among them, and some of today."""
    data = tmp_path_factory.mktemp("months")
    with pytest.MonkeyPatch.context() as patch:
        patch.setattr(zones, "ZONE_ROWS", 32)
        asyncio.run(record(data))
    return data / FILE_NAME


async def record(data):
    bench = replace(Evening.bench, limits=replace(Evening.bench.limits, cool_down_s=4 * HOUR_S))
    pipeline = Pipeline(bench, AT_S)
    store = await Store.open(data)
    await store.begin_run(settings_text="", bench=bench, started_s=AT_S, version="0")
    entries = [
        ManualReading(
            at_s=AT_S + 90.0,
            entered_s=AT_S + 90.5,
            id="hand",
            station="jar-b",
            place=Place(position=Position.RIM),
            values=(21.0, 21.5),
        ),
        Lit(at_s=LIT_S, entered_s=LIT_S, id="lit", station="jar-a", trial="t"),
        Out(at_s=OUT_S, entered_s=OUT_S, id="out", station="jar-a"),
        Note(at_s=OUT_S, entered_s=OUT_S + DAY_S, id="note", station="jar-a", text="soot"),
    ]
    today = range(int(199.9 * DAY_S), int(200 * DAY_S), EVERY_S)
    steps = []
    for second in [*range(0, int(5 * DAY_S), EVERY_S), *today]:
        at_s = AT_S + second
        while entries and entries[0].entered_s <= at_s:
            entry = entries.pop(0)
            steps.append((entry, pipeline.step(entry)))
        steps.append((Tick(at_s=at_s), pipeline.step(Tick(at_s=at_s))))
        for channel in ("jar-a-wall-3", "room"):
            reading = Reading(channel=channel, value=22.0, at_s=at_s + 0.5)
            steps.append((reading, pipeline.step(reading)))
        if len(steps) > 60:
            await store.append(steps)  # a zone is closed at the end of a commit
            steps = []
    await store.append(steps)
    await store.close()


@pytest.fixture(params=[False, True], ids=["rows", "sealed"])
async def months(tmp_path, recorded, request, monkeypatch):
    """A store of its own with all that was recorded, as rows or sealed as far as may be."""
    shutil.copy(recorded, tmp_path / FILE_NAME)
    store = await Store.open(tmp_path)
    await store.begin_run(settings_text="", bench=Evening.bench, started_s=NOW_S, version="0")
    if request.param:
        monkeypatch.setattr(sealing, "BLOCK_ROWS", 64)
        sealer = Sealer(store, tmp_path)
        while await sealer.step():
            pass
        assert count(tmp_path, "chunk") > 20
    yield store
    await store.close()


def count(data, table):
    con = sqlite3.connect(data / FILE_NAME)
    (found,) = con.execute(f"SELECT count(*) FROM {table}").fetchone()
    con.close()
    return found


def stamps(data):
    with open_read(data) as reader:
        return [one.at_s for one in reader.readings()], [one.at_s for one in reader.estimates()]


def others(data):
    con = sqlite3.connect(data / FILE_NAME)
    tables = ("burn", "entry", "event", "alarm", "run", "settings", "health", "calibration")
    found = {name: con.execute(f"SELECT * FROM {name}").fetchall() for name in tables}
    con.close()
    return found


def of_the_burn(at_s):
    return LIT_S - HOUR_S <= at_s < OUT_S + 4 * HOUR_S


async def discarded(store, data, text=KEPT):
    settings = parse(f'{text}data = "{data}"\n', Path("bench.toml"))
    task = asyncio.create_task(
        discard_old(store, settings, lambda: NOW_S, every_s=0.01, pause_s=0.0)
    )
    before = None
    while before != (before := stamps(data)):
        await asyncio.sleep(0.3)
    task.cancel()
    await asyncio.wait({task})


async def test_what_belongs_to_no_burn_goes_and_all_else_stays(tmp_path, months):
    before, kept = stamps(tmp_path), others(tmp_path)
    with open_read(tmp_path) as reader:
        burn_before = list(reader.readings(None, LIT_S - HOUR_S, OUT_S + 4 * HOUR_S))
        estimates_before = list(reader.estimates(None, LIT_S - HOUR_S, OUT_S + 4 * HOUR_S))
    await discarded(months, tmp_path)
    after = stamps(tmp_path)
    for then, now in zip(before, after, strict=True):
        assert [at_s for at_s in then if of_the_burn(at_s)] == [
            at_s for at_s in now if of_the_burn(at_s)
        ]
        assert [at_s for at_s in then if at_s > NOW_S - 90 * DAY_S] == [
            at_s for at_s in now if at_s > NOW_S - 90 * DAY_S
        ]
        old = [at_s for at_s in now if not of_the_burn(at_s) and at_s < NOW_S - 90 * DAY_S]
        assert len(old) < 4 * 64  # beside the burn and the newest, in one zone with them
        assert len(then) > 2_800 > 2 * len(now)
    assert others(tmp_path) == kept
    with open_read(tmp_path) as reader:
        assert list(reader.readings(None, LIT_S - HOUR_S, OUT_S + 4 * HOUR_S)) == burn_before
        assert list(reader.estimates(None, LIT_S - HOUR_S, OUT_S + 4 * HOUR_S)) == estimates_before
        assert not reader.damage.lines
    con = sqlite3.connect(tmp_path / FILE_NAME)
    loose = "SELECT count(*) FROM block WHERE id NOT IN (SELECT block FROM chunk)"
    assert con.execute(loose).fetchone() == (0,)
    con.close()
    again = Reading(channel="room", value=21.0, at_s=NOW_S + 1.0)
    await months.append([(again, [])])
    assert stamps(tmp_path)[0][-1] == NOW_S + 1.0


async def test_by_default_everything_is_kept(tmp_path, months):
    before = stamps(tmp_path)
    await discarded(months, tmp_path, text='[bench]\nname = "b"\n')
    assert stamps(tmp_path) == before


async def test_while_a_candle_is_not_out_all_since_it_was_lit_is_kept(tmp_path, months):
    con = sqlite3.connect(tmp_path / FILE_NAME)
    con.execute("UPDATE burn SET body = json_set(body, '$.out_s', NULL)")
    con.commit()
    con.close()
    before = [at_s for at_s in stamps(tmp_path)[0] if at_s >= LIT_S - HOUR_S]
    await discarded(months, tmp_path)
    assert [at_s for at_s in stamps(tmp_path)[0] if at_s >= LIT_S - HOUR_S] == before


async def test_where_a_burn_cannot_be_read_nothing_is_discarded(tmp_path, months):
    con = sqlite3.connect(tmp_path / FILE_NAME)
    con.execute("UPDATE burn SET body = '{'")
    con.commit()
    with pytest.raises(StoreError, match="no old readings are discarded"):
        retention.due(con, NOW_S, HOUR_S)
    con.close()
    before = stamps(tmp_path)
    await discarded(months, tmp_path)
    assert stamps(tmp_path) == before


async def test_a_zone_that_changed_meanwhile_is_left(tmp_path, months):
    con = sqlite3.connect(tmp_path / FILE_NAME, isolation_level=None)
    zone = retention.due(con, NOW_S - 90 * DAY_S, HOUR_S)[0]
    assert retention.discard(con, zone._replace(last=zone.last + 1)) == 0
    assert retention.discard(con, zone) >= 32
    assert retention.discard(con, zone) == 0
    con.close()


async def test_a_fault_of_it_never_ends_the_watch(tmp_path, months, monkeypatch):
    def broken(*_):
        raise KeyError("of ours")

    monkeypatch.setattr(retention, "due", broken)
    before = stamps(tmp_path)
    await discarded(months, tmp_path)
    assert stamps(tmp_path) == before


def test_the_configuration_says_how_long_and_check_repeats_it():
    settings = parse(KEPT, Path("bench.toml"))
    assert settings.bench.keep_readings_outside_burns_s == 90 * DAY_S
    assert "kept for 90 days, those of burns for ever" in kept_in_words(settings)
    assert "for ever" in kept_in_words(parse('[bench]\nname = "b"\n', Path("bench.toml")))


@pytest.mark.parametrize(
    ("value", "says"),
    [
        ('"30 d"', r'bench.toml:3: bench.keep_readings_outside_burns: .*write "62 d" or more'),
        ("90", r'90 has no unit; write it in quotes, as in "90 d"'),
        ('"-1 d"', "not more than zero"),
    ],
)
def test_a_time_in_which_a_burn_may_still_be_entered_is_refused(value, says):
    with pytest.raises(SettingsError, match=says):
        parse(KEPT.replace('"90 d"', value), Path("bench.toml"))
