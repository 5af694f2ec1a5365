"""`wickbench find`: what is in reach, said so that it can be pasted."""

import os
from dataclasses import dataclass, replace

import pytest

from logger.service import finding
from logger.service.finding import SearchPlaces, find_instruments
from logger.service.found_text import lines
from logger.settings import load
from simulators.one_wire_folder import OneWireFolder
from simulators.printing_port import PrintingPort

HEAD = '[bench]\nname = "shed"\ndata = "data"\n'
WARM, COLD = "28-0000000000a1", "28-0000000000a0"


@dataclass
class Adapter:
    """As pyserial lists one."""

    device: str
    product: str | None = "Probe Board 4"
    description: str = "n/a"
    manufacturer: str | None = "Harbour Instruments"
    vid: int | None = 0x1209
    pid: int | None = 0x0042


@pytest.fixture
def places(tmp_path):
    for folder in ("by-id", "by-path"):
        (tmp_path / "serial" / folder).mkdir(parents=True)
    return SearchPlaces(
        serial=tmp_path / "serial", one_wire=tmp_path / "w1", plugged=list, bluetooth_s=0
    )


@pytest.fixture
def board(places):
    """A probe board with both of its stable names."""
    with PrintingPort(places.serial / "by-id" / "usb-Harbour_Probe_Board_4-if00") as port:
        device = os.path.realpath(port.link)
        (places.serial / "by-path" / "pci-0000:00-usb-0:2").symlink_to(device)
        yield device


def settings_of(tmp_path, text):
    path = tmp_path / "bench.toml"
    path.write_text(text, encoding="utf-8")
    return load(path)


def with_adapters(places, *adapters):
    return replace(places, plugged=lambda: adapters)


def test_a_port_is_named_by_its_adapter_and_says_what_it_is(places, board):
    (port,) = find_instruments(None, with_adapters(places, Adapter(board))).ports
    assert port.path.endswith("by-id/usb-Harbour_Probe_Board_4-if00")
    assert port.about == "Probe Board 4, Harbour Instruments"
    assert port.usb == "1209:0042"
    assert port.state == "free"


def test_without_a_name_of_its_own_it_is_named_by_its_socket(places, board):
    (places.serial / "by-id" / "usb-Harbour_Probe_Board_4-if00").unlink()
    (port,) = find_instruments(None, places).ports
    assert port.path.endswith("by-path/pci-0000:00-usb-0:2")


def test_without_any_stable_name_the_device_itself_is_named(places):
    (port,) = find_instruments(None, with_adapters(places, Adapter("/dev/ttyX9", None))).ports
    assert (port.path, port.about) == ("/dev/ttyX9", "Harbour Instruments")


def test_the_port_is_not_opened_and_a_holder_is_named(places, board):
    handle = os.open(board, os.O_RDWR | os.O_NOCTTY)
    try:
        (port,) = find_instruments(None, places).ports
    finally:
        os.close(handle)
    assert f"process {os.getpid()}" in port.state


def test_a_port_this_user_may_not_open_is_said_with_the_group(places, board, monkeypatch):
    monkeypatch.setattr(finding.os, "access", lambda *_: False)
    found = find_instruments(None, places)
    assert found.ports[0].state == "may not be opened by this user"
    assert "dialout" in " ".join(found.hints)


def test_what_it_prints_is_a_configuration(tmp_path, places, board):
    bus = OneWireFolder(places.one_wire)
    bus.show(WARM, 23.5)
    bus.show(COLD, 4.25)
    found = find_instruments(None, with_adapters(places, Adapter(board), Adapter("/dev/ttyX9")))
    pasted = settings_of(tmp_path, HEAD + "\n".join(lines(found)))
    assert [one.driver for one in pasted.instruments] == ["serial-lines"] * 2 + ["one-wire"] * 2
    assert {one.keys.port for one in pasted.instruments[:2]} == {port.path for port in found.ports}
    assert [one.keys.channel[0].field for one in pasted.instruments[2:]] == [COLD, WARM]
    assert len({channel.name for channel in pasted.channels}) == 4


def test_each_proposal_alone_can_be_pasted(tmp_path, places, board):
    OneWireFolder(places.one_wire).show(WARM, 23.5)
    found = find_instruments(None, places).message()
    for one in (*found["serial_ports"], *found["one_wire"]):
        assert len(settings_of(tmp_path, HEAD + one["toml"]).channels) == 1


def test_sensors_tell_their_value_or_why_they_have_none(places):
    bus = OneWireFolder(places.one_wire)
    (places.one_wire / "w1_bus_master1").mkdir()
    bus.show(WARM, 23.5)
    bus.show(COLD, 4.25, bad_crc=True)
    cold, warm = find_instruments(None, places).sensors
    assert (warm.id, warm.celsius, warm.trouble) == (WARM, 23.5, "")
    assert (cold.id, cold.celsius) == (COLD, None)
    assert "wrong CRC" in cold.trouble


def test_what_is_configured_is_named_and_not_proposed_again(tmp_path, places, board):
    OneWireFolder(places.one_wire).show(WARM, 23.5)
    first = find_instruments(None, places)
    bench = settings_of(tmp_path, HEAD + "\n".join(lines(first)))
    again = find_instruments(bench, places)
    assert again.ports[0].read_by == bench.instruments[0].name
    assert again.sensors[0].read_by == bench.instruments[1].name
    assert settings_of(tmp_path, HEAD + "\n".join(lines(again))).instruments == ()


def test_where_nothing_is_found_it_says_what_to_look_at(places):
    found = find_instruments(None, places)
    assert (found.ports, found.sensors) == ((), ())
    said = " ".join(found.hints)
    assert "carries data" in said
    assert "w1-gpio" in said
    places.one_wire.mkdir()
    assert "w1-therm" in " ".join(find_instruments(None, places).hints)


def test_control_characters_of_an_adapter_reach_no_terminal(places, board):
    adapter = Adapter(board, product="Board\x1b[2J\n[web]")
    text = "\n".join(lines(find_instruments(None, with_adapters(places, adapter))))
    assert "\x1b" not in text
    assert "\n[web]" not in text
