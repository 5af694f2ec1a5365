"""`wickbench check` on simulated instruments: each tried once, each channel judged."""

import stat
import threading
import time

import pytest

from logger.service import checking, checking_routes
from logger.service.calibrating import calibrate
from logger.service.check_text import WIDTH, lines
from logger.service.checking import check_bench
from logger.settings import load
from logger.store.opening import FILE_NAME
from logger.store.store import Store
from simulators.one_wire_folder import OneWireFolder
from simulators.printing_port import PrintingPort
from tests.support.waiting import patient

SENSOR = "28-0000000000a1"
BENCH = """
[bench]
name = "shed"
data = "{folder}/data"
[[station]]
name = "jar-a"
[web]
listen = "127.0.0.1:0"
[limits.glass]
wall_limit = "140 degC"                 # meant in the other unit

[[instrument]]
name = "probes"
driver = "serial-lines"
port = "{folder}/probes"
columns = 6
[[instrument.channel]]
name = "jar-a-wall-3"
station = "jar-a"
quantity = "temperature"
place = "wall"
height = "60 mm"
field = 0
unit = "degC"
kind = "contact"
accuracy = "1.5 delta_degC"
[[instrument.channel]]
name = "broken"
quantity = "temperature"
place = "room"
field = 1
unit = "degC"
[[instrument.channel]]
name = "balance"
quantity = "mass"
place = "support"
field = 2
unit = "kg"
[[instrument.channel]]
name = "humidity"
quantity = "humidity"
place = "room"
field = 3
unit = "percent"

[[instrument.channel]]
name = "attic"
place = "room"
field = 4
unit = "degC"
[[instrument.channel]]
name = "jar-a-wall-9"
station = "jar-a"
place = "wall"
height = "60 mm"
clock = 9
field = 5
unit = "degC"
kind = "infrared"
emissivity = 0.3
reflected = "22 degC"

[[instrument]]
name = "bus"
driver = "one-wire"
folder = "{folder}/w1"
every = "200 ms"
[[instrument.channel]]
name = "room"
quantity = "temperature"
place = "room"
field = "{sensor}"
unit = "degC"

[[instrument]]
name = "gone"
driver = "serial-lines"
port = "{folder}/gone"
[[instrument.channel]]
name = "far"
quantity = "temperature"
place = "room"
field = 0
unit = "degC"
"""


HUMID = {
    "points": [{"reference": 75.3, "shown": 73.3}, {"reference": 32.8, "shown": 30.8}],
    "uncertainty": "0.5 percent",
    "reference": "saturated salts",
    "by": "Ines",
    "at": "2026-01-02",
}


@pytest.fixture
def report(tmp_path, monkeypatch):
    monkeypatch.setattr(checking, "LISTEN_S", 1.5)
    OneWireFolder(tmp_path / "w1").show(SENSOR, 23.5)
    path = tmp_path / "bench.toml"
    path.write_text(BENCH.format(folder=tmp_path, sensor=SENSOR), encoding="utf-8")
    ended = threading.Event()
    with PrintingPort(tmp_path / "probes") as port:

        def print_lines() -> None:
            count = 0
            while not ended.is_set():
                count += 1
                port.send_raw(f"{41.2 + count % 3 / 10:.1f},x,0.4125,44,71.6,30.1\r\n".encode())
                time.sleep(0.1)

        thread = threading.Thread(target=print_lines, daemon=True)
        thread.start()
        calibrate(load(path), "humidity", HUMID)
        try:
            yield check_bench(load(path))
        finally:
            ended.set()
            thread.join(patient(5.0))


def test_each_channel_is_judged_and_shown(report):
    items = {item["what"]: item for item in report.message()["items"]}
    assert [what for what, item in items.items() if not item["ok"]] == [
        "channel broken", "channel attic", "instrument gone", "channel far",
    ]  # fmt: skip
    assert not report.ok

    wall = items["channel jar-a-wall-3"]
    assert wall["value"] == pytest.approx(41.3, abs=0.3)
    assert 41.2 <= wall["first"] <= 41.4
    assert 0.0 <= wall["age_s"] < 1.0
    assert wall["interval_s"] == pytest.approx(0.1, abs=0.05)
    assert wall["noise"] > 0.0
    assert set(wall["budget"]) == {"repeatability", "accuracy", "coupling"}
    assert wall["budget"]["accuracy"] == pytest.approx(1.5 / 3**0.5, abs=0.001)
    assert wall["warns_early"] == pytest.approx(2 * wall["standard_uncertainty"], abs=0.002)
    assert "below the limit" in wall["text"]

    broken = items["channel broken"]
    assert broken["refused"][0]["count"] > 3
    assert "refused" in broken["text"]
    assert "gone is not there" in items["instrument gone"]["text"]


def test_mass_and_humidity_are_told_in_their_own_units(report):
    items = {item["what"]: item for item in report.message()["items"]}
    assert items["channel balance"]["value"] == pytest.approx(412.5)
    assert items["channel balance"]["unit"] == "g"
    assert items["channel humidity"]["value"] == pytest.approx(46.0)  # it is calibrated
    assert items["channel humidity"]["budget"]["calibration"] == pytest.approx(0.4, abs=0.05)
    assert items["channel humidity"]["unit"] == "percent"
    assert items["channel humidity"]["warns_early"] is None


def test_a_room_in_the_other_unit_is_doubted_and_a_doubtful_channel_says_why(report):
    items = {item["what"]: item for item in report.message()["items"]}
    warm = items["channel attic"]
    assert not warm["ok"]
    assert 'a room at 71.6 °C? Is the board sending °F? Then write unit = "degF"' in warm["text"]
    tinned = items["channel jar-a-wall-9"]
    assert "doubtful (emissivity 0.3 is too low to be taken from a table" in tinned["text"]
    assert any("glass alert 57.2 °C, limit 140.0 °C" in item.text for item in report.items)
    assert any("140.0 °C instead of 60.0 °C" in item.text for item in report.items)


def test_nothing_is_made_where_no_bench_has_run_yet(tmp_path):
    path = tmp_path / "bench.toml"
    path.write_text(
        f'[bench]\nname = "shed"\ndata = "{tmp_path}/deep/data"\n[[station]]\nname = "jar-a"\n'
        '[web]\nlisten = "127.0.0.1:0"\n'
    )
    items = {item.what: item for item in check_bench(load(path)).items}
    assert items["data"].ok
    assert list(tmp_path.iterdir()) == [path]


async def test_a_data_folder_that_others_may_read_is_taken_from_them_and_that_is_said(
    tmp_path, caplog
):
    path = tmp_path / "bench.toml"
    path.write_text(BENCH.replace("{folder}", str(tmp_path)).replace("{sensor}", SENSOR))
    settings = load(path)
    folder = settings.bench.data
    await (await Store.open(folder)).close()
    loose = {folder: 0o755, folder / FILE_NAME: 0o644}
    for one, mode in loose.items():
        one.chmod(mode)
    (item,) = await checking_routes.data(settings)
    assert item.ok
    assert item.text.startswith(f"{folder} can be written")
    assert [stat.S_IMODE(one.stat().st_mode) for one in loose] == [0o700, 0o600]
    assert all(
        f"{one} was open to others (mode {mode:o})" in caplog.text for one, mode in loose.items()
    )


def test_a_terminal_of_100_columns_shows_it_aligned(report):
    shown = list(lines(report))
    assert all(len(line) <= WIDTH for line in shown if "/" not in line)  # a path is not cut
    assert sum(line.startswith("FAULT") for line in shown) == 4
    columns = {
        line.index(word) for line in shown for word in ("41.", "23.5 ") if f"  {word}" in line
    }
    assert len(columns) == 1
    accuracy = next(line for line in shown if line.strip().startswith("accuracy"))
    assert accuracy.split()[1:3] == ["0.87", "°C"]  # 1.5 / sqrt(3), and as its basis has it
    assert accuracy.split()[:2] == ["accuracy", "0.87"]
    assert shown[-1] == f"4 of {len(report.items)} need fixing"
