"""`wickbench init`: a first configuration that the program takes as it is."""

import asyncio
import os
import platform
import threading
from collections import namedtuple
from contextlib import contextmanager
from dataclasses import replace
from pathlib import Path

import pytest

from logger.errors import SettingsError, UsageError
from logger.service import first_bench
from logger.service.checking import check_bench
from logger.service.finding import SearchPlaces, find_instruments
from logger.service.first_bench import make_first_bench
from logger.settings import load
from simulators.bluetooth_sensors import environmental_sensor
from simulators.one_wire_folder import OneWireFolder
from simulators.printing_port import PrintingPort
from tests.support.command_line import typed

Adapter = namedtuple("Adapter", "device product description manufacturer vid pid")
WARM = "28-0000000000a1"


@pytest.fixture
def places(tmp_path):
    (tmp_path / "serial" / "by-id").mkdir(parents=True)
    return SearchPlaces(
        serial=tmp_path / "serial", one_wire=tmp_path / "w1", plugged=list, bluetooth_s=0
    )


@contextmanager
def printing(port):
    """Lines come from `port` as they do from a board, several a second."""
    enough = threading.Event()

    def lines():
        while not enough.wait(0.2):
            port.write_line([22.5])

    board = threading.Thread(target=lines)
    board.start()
    try:
        yield
    finally:
        enough.set()
        board.join()


@pytest.fixture
def file(tmp_path, monkeypatch):
    monkeypatch.setenv("XDG_DATA_HOME", str(tmp_path / "data"))
    return tmp_path / "bench.toml"


def test_without_an_instrument_it_is_a_bench_for_readings_by_hand(file, places, monkeypatch):
    monkeypatch.setattr(platform, "node", lambda: "Wax_Shed.example")
    make_first_bench(file, places=places)
    bench = load(file)
    assert bench.bench.name == "wax-shed"
    assert [(one.name, one.material) for one in bench.stations] == [("jar-a", None)]
    assert bench.instruments == ()
    assert bench.web.listen == ("127.0.0.1", 8470)
    assert "burn read" in file.read_text(encoding="utf-8")


def test_what_is_left_as_a_remark_fits_too(file, places):
    make_first_bench(file, places=places)
    shown = file.read_text(encoding="utf-8").replace("# show =", "show =")
    for key in ("[limits.glass]", "wall_alert =", "wall_limit =", "material ="):
        assert f"# {key}" in shown
        shown = shown.replace(f"# {key}", key)
    file.write_text(shown, encoding="utf-8")
    bench = load(file)
    assert bench.bench.show["temperature"] == "degF"
    assert [one.material for one in bench.stations] == ["glass"]


def test_what_is_wired_is_read_at_once(file, places):
    """A board and a thermometer on their real wires: `check` has nothing to say against them."""
    OneWireFolder(places.one_wire).show(WARM, 23.5)
    with PrintingPort(places.serial / "by-id" / "usb-Board_4") as port:
        make_first_bench(file, name="shed", stations=["jar-a", "tin-b"], places=places)
        bench = load(file)
        assert [one.driver for one in bench.instruments] == ["serial-lines", "one-wire"]
        assert bench.instruments[0].keys.port == str(port.link)
        assert [one.name for one in bench.stations] == ["jar-a", "tin-b"]
        with printing(port):
            report = check_bench(bench)
    assert report.ok, report.message()


def test_a_port_of_the_computer_itself_waits_until_it_is_used(file, places):
    """Most have one, and nothing on it: as an instrument it would be silent from the start."""
    own = Adapter(
        "/dev/ttyS0", product=None, description="n/a", manufacturer=None, vid=None, pid=None
    )
    make_first_bench(file, places=replace(places, plugged=lambda: [own]))
    assert load(file).instruments == ()
    text = file.read_text(encoding="utf-8")
    began = text.index("# # Serial port /dev/ttyS0")
    file.write_text(text[:began] + text[began:].replace("# ", "", 1).replace("\n# ", "\n"))
    assert load(file).instruments[0].keys.port == "/dev/ttyS0"


async def test_bluetooth_waits_for_its_owner_to_say_so(bluez, file, places):
    """A neighbour's thermometer is no reading of this bench."""
    bluez.add(environmental_sensor("02:00:00:00:00:0A", "Ember 3", battery=64))
    await asyncio.to_thread(make_first_bench, file, places=replace(places, bluetooth_s=1.0))
    assert load(file).instruments == ()
    text = file.read_text(encoding="utf-8")
    began = text.index("# # Bluetooth Ember 3")
    file.write_text(text[:began] + text[began:].replace("# ", "", 1).replace("\n# ", "\n"))
    (ember,) = load(file).instruments
    assert ember.keys.address == "02:00:00:00:00:0A"


@pytest.mark.parametrize("there", ["a file", "a link to nowhere", "a folder"])
def test_nothing_is_ever_written_over(file, places, there):
    if there == "a file":
        file.write_text("mine\n")
    elif there == "a folder":
        file.mkdir()
    else:
        file.symlink_to(file.with_name("not-mounted"))
    with pytest.raises(UsageError, match=r"there already.*--config FILE"):
        make_first_bench(file, places=places)
    if there == "a file":
        assert file.read_text() == "mine\n"


def test_nor_a_file_that_came_during_the_search(file, places, monkeypatch):
    searched = first_bench.find_instruments

    def search(*args):
        file.write_text("mine\n")
        return searched(*args)

    monkeypatch.setattr(first_bench, "find_instruments", search)
    with pytest.raises(UsageError, match="there already"):
        make_first_bench(file, places=places)
    assert file.read_text() == "mine\n"


def test_a_full_disk_leaves_no_half_a_configuration(file, places, monkeypatch):
    def on_full_disk(self, mode="r", **kwargs):
        opened = real(self, mode, **kwargs)
        if mode == "x":
            os.dup2(full.fileno(), opened.fileno())
        return opened

    real = Path.open
    monkeypatch.setattr(Path, "open", on_full_disk)
    with real(Path("/dev/full"), "w") as full, pytest.raises(UsageError, match="No space left"):
        make_first_bench(file, places=places)
    assert not file.exists()


@pytest.mark.parametrize(
    "words",
    [
        {"name": "Back room"},
        {"name": 'x"\ny = "z'},
        {"stations": ["jar-a", "jar-a"]},
        {"stations": ["bench"]},
        {"material": "paper"},
    ],
    ids=str,
)
def test_words_that_do_not_fit_write_nothing(file, places, words):
    with pytest.raises(SettingsError, match="write"):
        make_first_bench(file, places=places, **words)
    assert not file.exists()


def test_the_command_needs_no_terminal(file, tmp_path, places, monkeypatch):
    monkeypatch.setattr(first_bench, "find_instruments", lambda *_: find_instruments(None, places))
    monkeypatch.chdir(tmp_path)
    first = typed("init", "--station", "jar-b", "--material", "glass")
    assert first.returncode == 0, first.stderr
    assert "stations: jar-b" in first.stdout
    assert "wickbench check" in first.stdout
    assert load(file).stations[0].material == "glass"
    again = typed("init")
    assert again.returncode == 2
    assert "bench.toml is there already" in again.stderr
