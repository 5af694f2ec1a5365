"""The whole service before a real engine: what its pages say of it, and `kill -9` in between."""

import random
import socket
import time

import pytest

from logger.publish.influx import EVERY_S
from logger.settings.config_file import load
from logger.timestamps import parse_rfc3339
from tests.support.engine import compare, stored_samples
from tests.support.process_bench import TWO_PROBES, BenchProcess
from tests.support.waiting import until


@pytest.fixture
def bench(tmp_path, engine):
    configuration = f'{TWO_PROBES}\n[influx]\nurl = "{engine.url}"\nreadings = true\n'
    with BenchProcess(tmp_path, configuration) as bench:
        yield bench


def forwarding(bench):
    return bench.now()["forwarding"]


def all_is_there(bench):
    state = forwarding(bench)
    return not state["waiting"] and state["trouble"] is None


def samples(bench):
    return stored_samples(bench.data, "test-bench", load(bench.config).channels)


def test_page_check_and_alarm_tell_how_the_engine_stands(bench, engine):
    bench.start()
    bench.opened()
    bench.write(lambda: [40.0, 22.0])
    until(lambda: all_is_there(bench), "it has all")
    checked = bench.typed("check")
    assert "engine" in checked.stdout
    assert "takes points" in checked.stdout
    assert "forwarding" in checked.stdout
    engine.stop()
    until(lambda: forwarding(bench)["trouble"], "it is away")
    state = forwarding(bench)
    assert state["engine"] == f"influx 127.0.0.1:{engine.port}"
    assert state["trouble"].startswith("nothing listens there")
    assert state["text"].endswith(state["trouble"])
    until(lambda: forwarding(bench)["waiting"] > 50, "points wait")
    checked = bench.typed("check")
    assert checked.returncode == 4
    said = " ".join(checked.stdout.split())
    assert "FAULT engine nothing listens there; start the engine, or check url" in said
    assert "points wait for it, the oldest for" in said
    page = bench.text("/stations/jar-a")
    assert "nothing listens there; start the engine" in page
    engine.start()
    until(lambda: all_is_there(bench), "it has all", deadline_s=45.0)
    until_ms = (time.time() - 2.0) * 1000.0  # a farewell that takes too long waits for a start
    bench.stop_writing()
    assert bench.terminate() == 0
    assert compare(engine, samples(bench), until_ms) > 100


@pytest.mark.faults
def test_kill_9_and_an_engine_that_comes_and_goes_lose_and_double_nothing(
    bench, engine, long, seed, fault_row
):
    kills = 60 if long else 4
    rng = random.Random(seed)
    runs = True
    for kill in range(kills):
        bench.start()
        bench.opened()
        bench.write(lambda: [round(rng.gauss(40.0, 1.0), 2), 22.0], every_s=0.02)
        if kill == 0:
            body = {"station": "jar-a", "trial": "marigold-6", "watched_by": "Ines"}
            assert bench.post("/api/burns", **body)[0] == 201
        time.sleep(rng.uniform(0.2, 2.0))
        (engine.stop if runs else engine.start)()
        runs = not runs
        time.sleep(rng.uniform(0.0, 1.0))
        bench.kill()
        bench.stop_writing()
    if not runs:
        engine.start()
    bench.start()
    began_s = time.monotonic()
    until(lambda: all_is_there(bench), "it has all", deadline_s=45.0)
    took_s = time.monotonic() - began_s
    until_ms = (time.time() - 2.0) * 1000.0
    assert bench.terminate() == 0
    count = compare(engine, samples(bench), until_ms)
    assert count > 50 * kills
    fault_row(
        "kill -9 while forwarding, engine comes and goes",
        tried=kills,
        reached=f"0 of {count} samples lost, 0 doubled; all there after {took_s:.1f} s",
        bar="0 lost, 0 doubled",
    )


@pytest.mark.faults
def test_an_engine_that_hangs_delays_no_alarm(tmp_path, fault_row):
    """A listener that takes connections and never answers, with points waiting for it."""
    with socket.create_server(("127.0.0.1", 0)) as hanging:
        url = f"http://127.0.0.1:{hanging.getsockname()[1]}"
        configuration = f'{TWO_PROBES}\n[influx]\nurl = "{url}"\nreadings = true\n'
        with BenchProcess(tmp_path, configuration) as bench:
            bench.start()
            bench.opened()
            bench.write(lambda: [40.0, 22.0], every_s=0.02)
            time.sleep(1.5 * EVERY_S)  # the first batch is under way, for as long as is waited
            bench.stop_writing()
            bench.write(lambda: [70.0, 22.0], every_s=0.02)
            alarm = until(lambda: bench.alarm("wall-limit/jar-a-wall-3"), "it is raised", 60.0)
            took_s = time.time() - parse_rfc3339(alarm["since"])
            until(lambda: "no answer" in forwarding(bench)["text"], "it did hang")
            bench.stop_writing()
            assert bench.terminate() == 0
    fault_row(
        "engine hangs: from a wall alarm's rise to the page",
        tried=1,
        reached=f"{took_s:.2f} s",
        bar="at most 1 s",
    )
    assert took_s < 1.0


@pytest.mark.faults
def test_an_engine_costs_memory_only_where_one_is_configured(bench, tmp_path, engine, fault_row):
    """Resident memory after some seconds of readings and a backlog of an hour; without an engine
    and with one. The bar is our own: influxdb-client alone takes 21 MB."""

    def resident_mb(one):
        one.start(cold=True)
        one.opened()
        one.write(lambda: [40.0, 22.0], every_s=0.02)
        time.sleep(8.0)
        pid = one.process.pid
        with open(f"/proc/{pid}/status") as status:
            (line,) = (line for line in status if line.startswith("VmRSS"))
        one.stop_writing()
        assert one.terminate() == 0
        return int(line.split()[1]) / 1024.0

    other = tmp_path / "without"
    other.mkdir()
    with BenchProcess(other, TWO_PROBES) as plain:
        without = resident_mb(plain)
    with_one = resident_mb(bench)
    fault_row(
        "memory of `run` with an engine",
        tried=1,
        reached=f"{with_one:.0f} MB; without one {without:.0f} MB",
        bar="at most 40 MB more",
    )
    assert with_one - without < 40.0
