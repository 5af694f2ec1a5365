"""A messy table kept by hand into a data folder: every fault told, all or none, never twice."""

import json
import sqlite3
from dataclasses import replace
from pathlib import Path

import pytest

import config
from logger.alarms.lifecycle import AlarmEvent
from logger.burn.entries import Lit
from logger.burn.model import Burn, BurnEvent, BurnPhase
from logger.cli import app
from logger.clock import RealClock
from logger.errors import DataError, FileFaults, StoreLocked
from logger.intake.table_map import load_map
from logger.pipeline import Memory, Pipeline
from logger.quantities import Estimate, Tick
from logger.service import records
from logger.service.core import bench_of
from logger.service.importing_burns import import_burns
from logger.service.trial_verdict import Judging
from logger.settings.config_file import parse
from logger.store.lock import DataLock
from logger.store.opening import FILE_NAME
from logger.store.queries import open_read

BENCH = """
[bench]
name = "b"
data = "{data}"
[[station]]
name = "jar-a"
material = "glass"
[[station]]
name = "jar-b"
[mqtt]
host = "127.0.0.1"
"""
MAP = """
times = ["%d.%m.%Y %H:%M"]
zone = "Europe/Vienna"
[columns]
trial = "Candle"
tester = "Code"
station = { always = "jar-a" }
lit = ["Date", "Lit"]
lasted = { column = "Burned", unit = "h" }
mass_before = { column = "Before", unit = "g" }
mass_after = { column = "After", unit = "g" }
wax = { always = "180 g" }
by = "Who"
notes = ["Soot", "Pool"]
[[reading]]
column = "Wall 3 h"
unit = "degF"
height = "60 mm"
clock = 3
after = "3 h"
[[reading]]
column = "Wall end"
unit = "degF"
height = "60 mm"
clock = 3
"""
HEADER = "Candle;Code;Date;Lit;Burned;Before;After;Wall 3 h;Wall end;Soot;Pool;Who;Moon\n"
GOOD = (
    HEADER
    + "cedar-6;M6;2025-05-04;18:30;4;532,5;513,0;128/129/128;55,0 C/55,4 C/55,1 C;0;61 mm;Ines;\n"
    "cedar-6;M6;05.05.2025;18:00;4 h;;;130/131/130;;1;;Ines;full\n"  # no balance; another date
    ";;;;;;;;;;;;\n"
    "cedar-6;M6;2025-05-06;17:45;2 h 10;493,5;17.0 oz;;131;1;70 mm;Jonas;\n"
)


@pytest.fixture
def settings(tmp_path):
    return parse(BENCH.format(data=tmp_path / "data"), tmp_path / "bench.toml")


@pytest.fixture
def bring(tmp_path, settings):
    async def run(text, *, dry_run=False, mapped=MAP, name="table.csv"):
        table, map_path = tmp_path / name, tmp_path / "map.toml"
        table.write_text(text, "utf-8")
        map_path.write_text(mapped, "utf-8")
        return await import_burns(settings, table, map_path, dry_run=dry_run)

    return run


def stored(settings):
    with open_read(settings.bench.data) as reader:
        return reader.burns()


def content(settings):
    con = sqlite3.connect(settings.bench.data / FILE_NAME)
    found = "\n".join(con.iterdump())
    con.close()
    return found


async def test_a_messy_table_comes_in_and_says_what_it_proves(bring, settings):
    found = await bring(GOOD)
    assert [one.line for one in found.burns] == [2, 3, 5]
    assert (found.known, found.empty_rows, found.not_taken) == (0, 1, ("Moon",))
    first, second, third = (one.proves for one in found.burns)
    by_hand = "heat: in part, read by hand only: what it reached in between is not known; "
    assert first.startswith(by_hand)
    assert second.startswith(by_hand)
    # one value of a place is not relied on
    assert third.startswith("heat: no, its readings by hand are too few, or contradict")
    assert third.endswith("counts as burn 3 of this candle: no, it burned for 2 h 10 min of 4 h")
    burns = stored(settings)
    assert [burn.elapsed_s(0.0) for burn in burns] == [14_400.0, 14_400.0, 7800.0]
    assert {burn.hand_kept for burn in burns} == {"table.csv"}
    assert [burn.number for burn in burns] == [1, 2, 3]
    assert [burn.mass_before_g for burn in burns] == [532.5, None, 493.5]
    # 17 oz by the exact ounce of 28.349523125 g (international avoirdupois pound, 1959)
    assert burns[2].mass_after_g == pytest.approx(17.0 * 28.349523125)
    assert burns[0].hottest.value_c == pytest.approx(55.17, abs=0.01)
    # 130, 131, 130 degF: (130.333 - 32) / 1.8
    assert burns[1].hottest.value_c == pytest.approx((130.3333 - 32.0) / 1.8, abs=0.01)


async def test_it_is_judged_no_better_than_it_was_measured(bring, settings):
    await bring(GOOD)
    for burn in stored(settings):
        message = records.burn_message(settings.bench.data, burn.id)
        assert message["verdict"]["outcome"] == "undecided"
        assert message["hand_kept"] == "table.csv"
        html = records.record_html(settings.bench.data, burn.id)
        assert "imported from the hand-kept table table.csv" in html
    told = json.dumps(message["entries"])
    assert "Soot: 1" in told
    assert "Pool: 70 mm" in told


async def test_a_service_that_starts_then_goes_on_as_before(bring, settings, opened):
    await bring(GOOD)
    (last,) = [one for one in stored(settings) if one.mass_after_g and one.mass_after_g < 490.0]
    store = await opened(settings.bench.data, bench=bench_of(settings))
    now_s = RealClock().now_s()
    pipeline = Pipeline(bench_of(settings), now_s, await store.memory(now_s))
    assert [burn.id for burn in pipeline.burns] == [last.id]
    outputs = [one for n in range(60) for one in pipeline.step(Tick(at_s=now_s + n))]
    assert not [one for one in outputs if isinstance(one, AlarmEvent)]
    (status,) = [one for one in pipeline.statuses(now_s) if one.station == "jar-a"]
    assert status.phase is BurnPhase.COLD


async def test_a_hot_reading_fails_it_all_the_same_and_raises_no_alarm(bring, settings):
    await bring(HEADER + "cedar-6;M6;2025-05-04;18:30;4;;;160/161/160;159/160/160;;;Ines;\n")
    (burn,) = stored(settings)
    message = records.burn_message(settings.bench.data, burn.id)
    assert message["verdict"]["outcome"] != "pass"
    assert burn.hottest.value_c > 70.0
    assert burn.cooled  # no wall of today tells of it
    with sqlite3.connect(settings.bench.data / FILE_NAME) as con:
        assert con.execute("SELECT count(*) FROM alarm").fetchone() == (0,)
        waiting = con.execute("SELECT count(*) FROM event WHERE delivered = 0").fetchone()
    assert waiting == (0,)


async def test_what_is_improbable_comes_in_once_somebody_is_sure(bring, settings):
    row = "cedar-6;M6;2025-05-04;18:30;4;;;250/251/250;;;;Ines;\n"
    with pytest.raises(FileFaults, match="is it right"):
        await bring(HEADER + row)
    assert len((await bring(HEADER + row, mapped="sure = true\n" + MAP)).burns) == 1


async def test_a_dry_run_says_the_same_and_changes_nothing(bring, settings):
    dry = await bring(GOOD, dry_run=True)
    assert not settings.bench.data.exists()
    wet = await bring(GOOD)
    assert dry == wet


async def test_twice_changes_nothing_whatever_the_file_is_called(bring, settings):
    await bring(GOOD)
    before = content(settings)
    again = await bring(GOOD, name="again.csv")
    assert (again.burns, again.known) == ((), 3)
    assert content(settings) == before
    more = await bring(GOOD + "cedar-6;M6;2025-05-08;18:00;4;;;;;;;Ines;\n")
    assert ([one.line for one in more.burns], more.known) == ([6], 3)
    assert more.burns[0].proves.endswith("counts as burn 4 of this candle: yes")


async def test_every_fault_is_told_with_row_and_column_and_nothing_comes_in(bring, settings):
    bad = (
        "cedar-6;M6;4 May;evening;4;532;513;128;;;;Ines;\n"
        "cedar-6;M6;2025-05-07;18:00;long;heavy;513;warm;;;;Ines;\n"
        "cedar-6;M6;2025-05-08;18:00;;532;513;;;;;Ines;\n"
        "cedar-6;M6;2025-05-09;18:00;2 h;532;513;128;;;;Ines;\n"
        ";;2025-05-10;18:00;4;532;513;;;;;Ines;\n"
        "cedar-6;M6;2025-05-11;18:00;4;500;531;;;;;Ines;\n"
        "cedar-6;M6;2025-05-12;18:00;4;;;;580;;;Ines;\n"
        "cedar-6;M6;2025-05-04;20:00;4;;;;;;;Ines;\n"
        "cedar-6;M6;2125-05-04;20:00;4;;;;;;;Ines;\n"
        "cedar-6;M6;2025-05-13;18:00;4;;;;;;;Ines;;;;\n"
    )
    with pytest.raises(FileFaults) as told:
        await bring(GOOD + bad)
    said = [line.split("table.csv:")[1] for line in told.value.problems]
    expected = [
        ("6", "column Date + Lit", "4 May evening", "2031-05-04 18:30 or %d.%m.%Y %H:%M"),
        ("7", "column Burned", "long", "4 h"),
        ("8", "column Burned", "neither how long"),
        ("9", "column Wall 3 h", "3 h", "leave this cell empty"),
        ("10", "trial"),
        ("11", "more than before"),
        ("12", "580", "is it right? Change it, or write sure = true"),
        ("13", "burning at that time already"),
        ("14", "in the future"),
        ("15", "16 cells below 13 columns"),
    ]
    assert len(said) == len(expected), said
    for line, (row, *words) in zip(said, expected, strict=True):
        assert line.startswith(f"{row}: "), line
        for word in words:
            assert word in line, line
    assert not settings.bench.data.exists()


async def test_length_and_end_must_fit_and_be_possible(bring, settings):
    mapped = MAP.replace('by = "Who"', 'by = "Who"\nout = "Moon"')
    row = "cedar-6;M6;2025-05-04;18:30;4;;;;;;;Ines;{}\n"
    with pytest.raises(FileFaults, match="4 h of burning do not fit 3 h to its end"):
        await bring(HEADER + row.format("21:30"), mapped=mapped)
    with pytest.raises(FileFaults, match="burned for 240 h: check the unit"):
        await bring(HEADER + row.replace(";4;", ";240;").format(""), mapped=mapped)
    found = await bring(HEADER + row.replace(";4;", ";;").format("22:40"), mapped=mapped)
    assert found.burns[0].burn.elapsed_s(0.0) == 15_000.0


async def test_a_burn_of_the_bench_stands_above_the_table(bring, settings):
    await bring(GOOD)
    changed = GOOD.replace("532,5", "533,5")
    before = content(settings)
    with pytest.raises(FileFaults, match=r"table.csv:2: jar-a was burning at that time already"):
        await bring(changed)
    assert content(settings) == before


async def test_a_running_service_is_not_written_beside(bring, settings):
    lock = DataLock.acquire(settings.bench.data)
    try:
        with pytest.raises(StoreLocked, match="stop it"):
            await bring(GOOD)
        assert len((await bring(GOOD, dry_run=True)).burns) == 3
    finally:
        lock.release()


@pytest.mark.parametrize(
    ("mapped", "why"),
    [
        (MAP.replace('"Burned"', '"Lasted"'), "its header lacks: Lasted"),
        (MAP.replace('lit = ["Date", "Lit"]', ""), "columns.lit: is missing"),
        (MAP.replace("tester =", "testr ="), "columns.testr: is no field here"),
        (MAP.replace("Europe/Vienna", "Europe/Nowhere"), "zone: there is none"),
        (MAP.replace('station = { always = "jar-a" }', ""), "must say on which station"),
        (MAP.replace('always = "jar-a"', 'always = "jar-z"'), "no station jar-z"),
        ("[columns", "cannot be read as TOML"),
    ],
)
async def test_a_wrong_map_says_what_to_change(bring, mapped, why):
    with pytest.raises(DataError, match=why):
        await bring(GOOD, mapped=mapped)


def test_the_example_in_config_comes_in_by_the_command(tmp_path, capsys):
    bench = tmp_path / "bench.toml"
    bench.write_text(BENCH.format(data=tmp_path / "data"), "utf-8")
    folder = Path(config.__file__).parent
    table, mapped = str(folder / "table-example.csv"), str(folder / "table-map.toml")
    load_map(Path(mapped))
    words = ["import", table, "--map", mapped, "--config", str(bench)]
    app(words, standalone_mode=False)
    said = capsys.readouterr().out
    assert "3 burns would be imported; with --yes they are" in said
    assert not (tmp_path / "data").exists()
    app([*words, "--yes", "--json"], standalone_mode=False)
    told = json.loads(capsys.readouterr().out)
    assert told["imported"]
    assert [one["row"] for one in told["burns"]] == [2, 3, 5]


READ_OFTEN = tuple(range(30, 210, 30)) + tuple(range(210, 241, 10))  # minutes after lighting


async def test_it_is_judged_as_the_same_values_entered_at_the_bench(
    bring, settings, tmp_path, opened
):
    """Same values, same uncertainties, same verdict: how they came to be stored changes nothing."""
    columns = [(minute, clock) for minute in READ_OFTEN for clock in (3, 9)]
    mapped = 'times = ["%d.%m.%Y %H:%M"]\nzone = "UTC"\n[columns]\ntrial = "Candle"\n'
    mapped += 'station = { always = "jar-a" }\nlit = "Lit"\n'
    mapped += 'lasted = { column = "Burned", unit = "h" }\n' + "".join(
        f'[[reading]]\ncolumn = "{minute} {clock}"\nunit = "degC"\nheight = "60 mm"\n'
        f'clock = {clock}\nafter = "{minute} min"\n'
        for minute, clock in columns
    )
    warming = [
        f"{c:.1f}/{c + 0.2:.1f}/{c - 0.1:.1f}" for c in (48.0 - 0.2 * (9 - n[1]) for n in columns)
    ]
    header = ";".join(["Candle", "Lit", "Burned", *(f"{m} {c}" for m, c in columns)])
    rows = [";".join(["fern-4", f"{day}.05.2025 18:00", "4", *warming]) for day in (4, 5)]
    await bring("\n".join([header, *rows]), mapped=mapped)
    with open_read(settings.bench.data) as reader:
        entries = [one.entry for one in reader.entries()]
    logged = parse(BENCH.format(data=tmp_path / "logged"), tmp_path / "logged.toml")
    store = await opened(logged.bench.data, bench=bench_of(logged), started_s=entries[0].at_s)
    pipeline = Pipeline(bench_of(logged), entries[0].at_s, Memory(last_number=0))
    for entry in entries:
        more = {"hand_kept": ""} if isinstance(entry, Lit) else {}
        at_bench = replace(entry, entered_s=entry.at_s, **more)
        kept = [o for o in pipeline.step(at_bench) if isinstance(o, Burn | BurnEvent | Estimate)]
        await store.append([(at_bench, kept)])
    brought, there = (Judging(one.bench.data).message("fern-4") for one in (settings, logged))
    assert brought["judgements"]
    assert brought == there
