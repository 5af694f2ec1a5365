"""From a configuration to readings: every wired kind of instrument on one bench."""

import asyncio
import itertools
import statistics

import pytest

from logger.instruments.from_settings import build
from logger.instruments.instrument_link import LinkState
from logger.quantities import Averaging
from logger.settings import load
from logger.settings.drivers.serial_lines_keys import CsvKeys
from simulators import private_bus
from simulators.modbus_line import ModbusLine
from simulators.one_wire_folder import OneWireFolder
from simulators.polled_lines import PolledLines
from simulators.printing_port import PrintingPort
from simulators.scenarios import first_light
from simulators.scpi_scanner import ScpiScanner
from simulators.wirings import MixedWiring
from tests.support.waiting import patient

SENSOR = "28-0000000000a1"
CONFIGURATION = """
[bench]
name = "shed"
data = "data"

[[instrument]]
name = "probes"
driver = "serial-lines"
port = "{folder}/probes"
[[instrument.channel]]
name = "a-1"
quantity = "temperature"
place = "room"
unit = "degC"
device = "A"
field = 1
[[instrument.channel]]
name = "b-2"
quantity = "temperature"
place = "room"
unit = "degC"
device = "B"
field = 2

[[instrument]]
name = "balance"
driver = "serial-lines"
port = "{folder}/balance"
format = "pairs"
poll = ["READ?"]
every = "20 ms"
answer_within = "200 ms"
[[instrument.channel]]
name = "mass"
quantity = "mass"
place = "support"
unit = "g"
field = "m"

[[instrument]]
name = "scanner"
driver = "scpi"
port = "{folder}/scanner"
every = "20 ms"
answer_within = "200 ms"
[[instrument.channel]]
name = "scanned"
quantity = "temperature"
place = "room"
unit = "degC"
query = "MEAS:TEMP? (@101)"

[[instrument]]
name = "line"
driver = "modbus-rtu"
port = "{folder}/line"
parity = "none"  # pseudo-terminals have no parity bit
every = "20 ms"
answer_within = "200 ms"
[[instrument.channel]]
name = "register"
quantity = "temperature"
place = "room"
unit = "degC"
device = 3
table = "holding"
address = 7
scale = 0.1

[[instrument]]
name = "bus"
driver = "one-wire"
folder = "{folder}/w1"
every = "20 ms"
[[instrument.channel]]
name = "one-wire"
quantity = "temperature"
place = "room"
unit = "degC"
field = "{sensor}"
"""


@pytest.fixture
async def simulators(tmp_path, answering):
    bus = OneWireFolder(tmp_path / "w1")
    bus.show(SENSOR, 23.5)
    with PrintingPort(tmp_path / "probes") as probes:
        yield {
            "probes": probes,
            "balance": answering(PolledLines(tmp_path / "balance", {"READ?": "m=412.5"})),
            "scanner": answering(ScpiScanner(tmp_path / "scanner", {101: 57.25})),
            "line": answering(ModbusLine(tmp_path / "line", {3: {3: {7: 405}}})),
            "bus": bus,
        }


@pytest.fixture
def instruments(tmp_path, simulators, bench_time):
    path = tmp_path / "bench.toml"
    path.write_text(CONFIGURATION.format(folder=tmp_path, sensor=SENSOR), encoding="utf-8")
    return [build(settings, bench_time) for settings in load(path).instruments]


async def test_every_kind_is_read_from_its_configuration(
    instruments, simulators, supervised, eventually
):
    benches = {instrument.name: supervised(instrument) for instrument in instruments}
    await eventually(lambda: benches["probes"].link.reason.startswith("open, no reading yet"))
    simulators["probes"].send_raw(b"\nA,41.5,1\nB,2,22.5\n")
    await eventually(lambda: all(bench.readings for bench in benches.values()))
    await eventually(lambda: len(benches["probes"].readings) == 1)
    found = {value for bench in benches.values() for value in bench.values}
    assert ("mass", 412.5) in found
    assert ("scanned", 57.25) in found
    assert ("register", 40.5) in found
    assert ("one-wire", 23.5) in found


async def test_four_broken_instruments_do_not_delay_the_fifth(
    instruments, simulators, supervised, eventually
):
    benches = {instrument.name: supervised(instrument) for instrument in instruments}
    await eventually(lambda: benches["line"].readings and benches["bus"].readings)
    heard = benches["bus"].heard_at

    async def usual_gap_s():
        seen = len(heard)
        await eventually(lambda: len(heard) > seen + 50, within_s=20.0)
        gaps_s = (after - before for before, after in itertools.pairwise(heard[seen:]))
        return statistics.median(gaps_s)

    alone_s = await usual_gap_s()
    simulators["probes"].unplug()
    simulators["balance"].wedged = True
    simulators["scanner"].unplug()
    simulators["line"].wedged = True
    broken = [benches[name] for name in ("probes", "balance", "scanner", "line")]

    def all_told():
        return all("plug" in bench.link.reason or "answer" in bench.link.reason for bench in broken)

    await eventually(all_told, within_s=20.0)
    # Asked every 20 ms: to wait for any of the others, 200 ms each, would make it ten times that.
    assert await usual_gap_s() < 4.0 * alone_s


async def test_settings_that_contradict_each_other_park_that_instrument_alone(
    bench_time, supervised
):
    room = {"place": "room", "unit": "degC"}
    channels = [{"name": "a", "device": "A", "field": 1}, {"name": "b", "field": 2}]
    keys = CsvKeys(name="x", port="/dev/none", channel=[room | one for one in channels])
    bench = supervised(build(keys.settings(Averaging()), bench_time))
    await asyncio.wait_for(bench.task, patient(5.0))
    assert bench.link.state is LinkState.PARKED
    assert "either each channel names its device, or none does" in bench.link.reason


def test_without_dbus_the_demonstration_says_so_and_shows_all_places(tmp_path, monkeypatch):
    with_probe = MixedWiring(first_light(1), tmp_path)
    monkeypatch.setattr(private_bus.shutil, "which", lambda _: None)
    without = MixedWiring(first_light(1), tmp_path)
    assert "without its Bluetooth probe" in without.note
    assert "ble-gatt" not in without.toml
    assert without.toml.count("[[instrument.channel]]") == with_probe.toml.count(
        "[[instrument.channel]]"
    )
    assert ("ble-gatt" in with_probe.toml) is (with_probe.note == "")
