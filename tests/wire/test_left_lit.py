"""A start with a candle that nobody recorded out: the longer it was, the more is stored of it."""

import sqlite3
import time

import pytest

from logger.store.opening import FILE_NAME
from logger.store.zones import ZONE_ROWS
from tests.support.web_bench import SIXTY_FOUR, START_S, serving

DAY_S = 86_400.0


def fill(path, names, days):
    """The estimates of `days`, every 5 s of each channel, and the readings of the last hour."""
    con = sqlite3.connect(path)
    con.executemany("INSERT OR IGNORE INTO channel (name) VALUES (?)", [(one,) for one in names])
    ids = [id_ for (id_,) in con.execute("SELECT id FROM channel ORDER BY id")]
    con.execute("DELETE FROM zone")
    con.execute("DELETE FROM estimate")
    con.execute("DELETE FROM reading")
    con.execute("CREATE TEMP TABLE c (id INTEGER)")
    con.executemany("INSERT INTO c VALUES (?)", [(id_,) for id_ in ids])
    end_us = int((START_S + days * DAY_S) * 1e6)
    for table, columns, values, from_us, step_us in (
        (
            "estimate",
            "channel, at_us, value, standard_uncertainty, repeatability, used, rejected, quality",
            "c.id, at, 50.0 + (at / 1000000 % 7) * 0.01, 0.4, 0.1, 30, 0, 'good'",
            int((START_S + 20.0) * 1e6),
            5_000_000,
        ),
        ("reading", "channel, at_us, value", "c.id, at, 50.0", end_us - 3_600_000_000, 1_000_000),
    ):
        con.execute(
            f"INSERT INTO {table} ({columns}) WITH RECURSIVE t(at) AS (SELECT {from_us}"
            f" UNION ALL SELECT at + {step_us} FROM t WHERE at < {end_us} - {step_us})"
            f" SELECT {values} FROM t CROSS JOIN c"
        )
        con.execute(
            f"INSERT INTO zone SELECT '{table}', min(id), max(id), min(at_us), max(at_us), NULL"
            f" FROM {table} GROUP BY (id - 1) / {ZONE_ROWS}"
        )
    con.commit()
    (count,) = con.execute("SELECT count(*) FROM estimate").fetchone()
    con.close()
    return count


@pytest.mark.faults
@pytest.mark.parametrize("days", [3.9 / 24.0, 30.0], ids=["before its end", "left lit"])
async def test_a_start_with_a_candle_left_lit_is_quick(tmp_path, fault_row, long, days):
    if days > 1.0 and not long:
        days = 0.5
    async with serving(tmp_path, SIXTY_FOUR) as bench:
        await bench.light()
        await bench.seconds(2)
        names = [channel.name for channel in bench.service.settings.channels]
    count = fill(tmp_path / "data" / FILE_NAME, names, days)
    assert count > days * DAY_S / 5.0 * 63
    began_s, began_cpu_s = time.perf_counter(), time.process_time()
    async with serving(tmp_path, SIXTY_FOUR) as bench:
        took_s = time.perf_counter() - began_s
        took_cpu_s = time.process_time() - began_cpu_s  # others may be at work on this machine
        station = (await bench.now())["stations"][0]
        assert station["state"] == "lit"
        assert station["elapsed_s"] >= days * DAY_S - 10.0
        assert all(one["estimate"]["value"] for one in (await bench.now())["channels"])
    assert (took_s if long else took_cpu_s) <= 5.0
    fault_row(
        f"start, candle lit for {days * 24.0:.3g} h, 64 channels",
        tried=f"{count} estimates, an hour of readings",
        reached=f"{took_s:.1f} s, {took_cpu_s:.1f} s of computing",
        bar="<= 5 s",
    )
