"""The whole service as a process: plugs pulled, commands, refusals, a clean stop."""

import socket
import time
import urllib.request

from logger.store.queries import open_read
from tests.support.waiting import patient, until


def lit(bench, **more):
    body = {"station": "jar-a", "trial": "marigold-6", "watched_by": "Ines", **more}
    status, answer = bench.post("/api/burns", **body)
    assert status == 201, answer
    return answer["burn"]


def test_an_unplugged_instrument_is_said_within_four_seconds_and_the_curve_has_a_gap(bench):
    bench.start()
    bench.opened()
    bench.write(lambda: [45.0, 22.0])
    until(lambda: bench.now()["instruments"][0]["state"] == "up", "readings come")
    burn = lit(bench)
    time.sleep(4)
    assert bench.alarm("silent/jar-a-wall-3") is None
    pulled_s = time.time()
    bench.port.unplug()
    alarm = until(lambda: bench.alarm("silent/jar-a-wall-3"), "silent is raised")
    assert time.time() - pulled_s < 4.0
    assert alarm["priority"] == "warning"
    assert "unplugged" in alarm["text"]
    time.sleep(max(0.0, pulled_s + 4.0 - time.time()))
    bench.port.replug()
    until(
        lambda: bench.alarm("silent/jar-a-wall-3")["state"] == "returned-unacknowledged",
        "readings are back",
    )
    time.sleep(3)
    series = bench.get("/api/series?channel=jar-a-wall-3&points=3600")
    values = series["max"]
    seen = [value for value in values if value is not None]
    assert seen
    first, last = values.index(seen[0]), len(values) - 1 - values[::-1].index(seen[-1])
    assert values[first:last].count(None) >= 3  # bridged by no line
    with urllib.request.urlopen(
        f"{bench.address}/burns/{burn}/record", timeout=patient(20)
    ) as page:
        assert "<svg" in page.read().decode()


def test_a_burn_by_commands_from_lighting_to_record(bench):
    bench.start()
    bench.opened()
    bench.write(lambda: [45.0, 22.0])
    until(lambda: bench.now()["instruments"][0]["state"] == "up", "readings come")
    done = bench.typed(
        "burn", "lit", "jar-a", "--trial", "marigold-6", "--watched-by", "Ines", "--checked"
    )
    assert done.returncode == 0, done.stderr
    assert "Ines keeps it in sight" in done.stdout
    again = bench.typed(
        "burn", "lit", "jar-a", "--trial", "marigold-6", "--watched-by", "Ines", "--checked"
    )
    assert again.returncode == 1
    assert again.stderr.count("\n") == 1
    assert "already lit" in again.stderr
    read = bench.typed("burn", "read", "jar-a", "106", "107", "105.5", "--unit", "degF",
                           "--height", "40 mm", "--clock", "9")  # fmt: skip
    assert read.returncode == 0, read.stderr
    assert bench.typed("burn", "note", "jar-a", "flame 20 mm").returncode == 0
    channel = next(c for c in bench.now()["channels"] if c["name"] == "jar-a-hand-wall-40-9")
    assert abs(channel["estimate"]["value"] - 41.2) < 0.3
    out = bench.typed("burn", "out", "jar-a", "--at", "now")
    assert out.returncode == 0, out.stderr
    burn = bench.now()["stations"][0]
    assert burn["state"] == "cooling"
    stored = bench.get(f"/api/burns/{burn['burn']}")
    assert stored["trial"] == "marigold-6"
    assert stored["hottest_measured"] is not None


def test_a_port_that_does_not_exist_is_shown_as_down_and_ends_nothing(bench):
    bench.port.unplug()
    bench.start()
    link = until(
        lambda: next((i for i in bench.now()["instruments"] if i["state"] == "down"), None),
        "down is shown",
    )
    assert "probes" in link["reason"]
    bench.port.replug()
    bench.write(lambda: [45.0, 22.0])
    until(lambda: bench.now()["instruments"][0]["state"] == "up", "it came by itself")


def test_a_second_service_on_the_same_data_is_refused_with_the_reason(bench):
    bench.start()
    second = bench.wickbench("run")
    assert second.returncode == 1
    assert second.stderr.count("\n") == 1
    assert str(bench.process.pid) in second.stderr


def test_without_a_service_an_entry_goes_straight_to_the_store_and_is_resumed(bench):
    done = bench.typed(
        "burn", "lit", "jar-a", "--trial", "marigold-6", "--watched-by", "Ines", "--checked"
    )
    assert done.returncode == 0, done.stderr
    bench.start()
    assert bench.now()["stations"][0]["state"] == "lit"


def test_a_clean_stop_exits_0_and_keeps_every_reading(bench):
    bench.start()
    bench.opened()
    for number in range(200):
        bench.port.write_line([40.0 + number / 100, 22.0])
    until(
        lambda: bench.now()["instruments"][0]["readings"] >= 400,
        "all readings arrived",
    )
    assert bench.terminate() == 0, bench.log.read_text()
    with open_read(bench.data) as reader:
        values = [r.value for r in reader.readings("jar-a-wall-3", 0.0, None)]
    assert values == [40.0 + number / 100 for number in range(200)]


def test_five_faults_of_a_configuration_are_five_lines_and_exit_2(bench):
    text = bench.config.read_text()
    text = text.replace('material = "glass"', 'material = "glas"')
    text = text.replace("clock = 3", "clock = 13")
    text = text.replace('height = "60 mm"', 'height = "60"')
    text = text.replace('driver = "serial-lines"', 'driver = "serial-line"')
    text = text.replace('name = "room"', 'name = "Room 1"')
    bench.config.write_text(text)
    done = bench.typed("check")
    assert done.returncode == 2
    lines = done.stderr.splitlines()
    assert len(lines) == 5, done.stderr
    for line, key in zip(lines, ("material", "driver", "height", "clock", "name"), strict=True):
        assert line.startswith(str(bench.config)) or "bench.toml:" in line
        assert key in line


def test_the_service_manager_is_told_of_each_second_of_the_pipeline(bench):
    with socket.socket(socket.AF_UNIX, socket.SOCK_DGRAM) as heard:
        heard.bind(str(bench.folder / "notify"))
        heard.settimeout(10)
        bench.start(cold=True, NOTIFY_SOCKET=str(bench.folder / "notify"))
        said = [heard.recv(200).decode() for _ in range(4)]
        assert any(line.startswith("READY=1") for line in said)
        assert said.count("WATCHDOG=1") >= 2
        assert bench.terminate() == 0
        while (line := heard.recv(200).decode()) != "STOPPING=1":
            assert line == "WATCHDOG=1"
