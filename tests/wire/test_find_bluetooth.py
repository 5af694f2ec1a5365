"""`find` and `check` with Bluetooth: what is in reach, or why nothing can be."""

import asyncio

import pytest

from logger.service.checking import check_bench
from logger.service.finding import SearchPlaces, find_instruments
from logger.service.found_text import lines
from logger.settings import load
from simulators.bluetooth_sensors import (
    Peripheral,
    advertising_sensor,
    environmental_sensor,
    several_probes,
)

A, B, C, D = (f"02:00:00:00:00:0{place}" for place in "ABCD")
HEAD = '[bench]\nname = "shed"\ndata = "data"\n'


@pytest.fixture
def places(tmp_path):
    (tmp_path / "serial").mkdir()
    return SearchPlaces(
        serial=tmp_path / "serial", one_wire=tmp_path / "w1", plugged=list, bluetooth_s=1.0
    )


def settings_of(tmp_path, text):
    path = tmp_path / "bench.toml"
    path.write_text(text, encoding="utf-8")
    return load(path)


async def test_sensors_in_reach_come_with_the_lines_to_paste(bluez, places, tmp_path):
    bluez.add(environmental_sensor(A, "Ember 3", battery=64))
    bluez.add(several_probes(B, "Twin", {"Upper": 41.0, "Lower": 42.0}))
    bluez.add(advertising_sensor(C, "Shelf", 0xFCD2, bytes.fromhex("40 01 61 02 CA 09 06 5E 1F")))
    bluez.add(Peripheral(address=D, name="Somebody's\x1b[2J lamp"))
    found = await asyncio.to_thread(find_instruments, None, places)
    by_name = {one.name: one for one in found.bluetooth}
    assert set(by_name) == {"Ember 3", "Twin", "Shelf"}
    ember, shelf = by_name["Ember 3"], by_name["Shelf"]
    assert ember.services == ("Environmental Sensing", "Battery")
    assert (ember.signal_dbm, ember.battery_percent, shelf.battery_percent) == (-58, 64, 97)
    text = "\n".join(lines(found))
    assert "\x1b" not in text
    assert f"lamp ({D})" in text
    pasted = settings_of(tmp_path, HEAD + text)
    assert {one.driver for one in pasted.instruments} == {"ble-gatt", "ble-advert"}
    assert len(pasted.channels) == 2 + 2 + 2
    twin = next(one for one in pasted.instruments if one.name == "twin")
    assert [one.sensor for one in twin.keys.channel] == ["Upper", "Lower"]
    assert not any(sensor.connected for sensor in bluez.sensors.values())

    again = await asyncio.to_thread(find_instruments, pasted, places)
    assert {one.read_by for one in again.bluetooth} == {one.name for one in pasted.instruments}
    assert all(one.toml is None for one in again.bluetooth)


async def test_an_encrypted_sensor_is_named(bluez, places):
    bluez.add(advertising_sensor(C, "Shelf", 0xFCD2, bytes.fromhex("41 A4 72 66 C9 5F 73 00")))
    found = await asyncio.to_thread(find_instruments, None, places)
    assert "key is missing" in "\n".join(lines(found))


async def test_without_bluetooth_one_line_says_why(dbus, bluez, places, monkeypatch, tmp_path):
    async def hint():
        found = await asyncio.to_thread(find_instruments, None, places)
        (said,) = [one for one in found.hints if "no Bluetooth" in one]
        return said

    bluez.power(False)
    assert "Bluetooth is off" in await hint()
    bluez.unplug()
    assert "no Bluetooth adapter" in await hint()
    await bluez.crash()
    assert "service does not run" in await hint()
    monkeypatch.setenv("DBUS_SYSTEM_BUS_ADDRESS", f"unix:path={tmp_path}/none")
    assert "check that dbus runs" in await hint()


async def test_check_tries_a_bluetooth_sensor(bluez, tmp_path):
    bluez.add(environmental_sensor(A, "Ember 3", celsius=21.5, battery=15))
    bench = settings_of(
        tmp_path,
        HEAD
        + f"""
[[instrument]]
name = "ember"
driver = "ble-gatt"
address = "{A}"
[[instrument.channel]]
name = "room"
place = "room"
unit = "degC"
characteristic = "temperature"
accuracy = "0.5 delta_degC"
""",
    )
    report = await asyncio.to_thread(check_bench, bench)
    items = {item.what: item for item in report.items}
    assert items["instrument ember"].ok
    assert "battery 15 %; signal -58 dBm" in items["instrument ember"].text
    assert items["channel room"].ok
    assert "21.5" in items["channel room"].text
