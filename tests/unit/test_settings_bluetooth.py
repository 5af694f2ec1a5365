"""What the configuration says about Bluetooth instruments."""

import subprocess
import sys

import pytest

from logger import bluetooth
from logger.errors import SettingsError
from tests.support.settings_text import bench

ADDRESS = 'address = "aa:bb:cc:dd:ee:0f"'


def problems(read, *arguments):
    with pytest.raises(SettingsError) as caught:
        read(bench(*arguments))
    return " ".join(caught.value.problems)


def test_a_sensor_that_is_connected_to(read):
    told = read(bench("ble-gatt", ADDRESS, 'characteristic = "temperature"'))
    (channel,) = told.channel
    assert (told.address, told.adapter, told.advertised_name) == ("AA:BB:CC:DD:EE:0F", None, None)
    assert (channel.characteristic, channel.type) == (bluetooth.NAMES["temperature"], None)


def test_a_device_is_found_by_a_name_or_by_the_instruments(read):
    named = read(bench("ble-gatt", 'device_name = "Ember 3"', 'characteristic = "temperature"'))
    plain = read(bench("ble-gatt", 'adapter = "hci1"', 'characteristic = "2A6E"'))
    assert (named.advertised_name, plain.advertised_name) == ("Ember 3", "one")
    assert plain.adapter == "hci1"


def test_a_number_is_described(read):
    keys = (
        'characteristic = "6B0D2C1E-91F4-4A57-8C3E-2F60D1A79B01"\n'
        'type = "int24"\noffset = 2\nbyte_order = "big"\nscale = 0.001\nsensor = "Probe 2"'
    )
    (channel,) = read(bench("ble-gatt", ADDRESS, keys)).channel
    assert (channel.type, channel.offset, channel.byte_order) == ("int24", 2, "big")
    assert (channel.scale, channel.sensor) == (0.001, "Probe 2")


def test_several_numbers_of_one_characteristic(read):
    keys = 'characteristic = "FF01"\ntype = "int16"\noffset = '
    assert len(read(bench("ble-gatt", ADDRESS, keys + "0", keys + "2")).channel) == 2
    assert "another" in problems(read, "ble-gatt", ADDRESS, keys + "2", keys + "2")


@pytest.mark.parametrize(
    ("keys", "channel", "what"),
    [
        ('address = "AA:BB"', 'characteristic = "temperature"', "not a Bluetooth address"),
        (ADDRESS + '\ndevice_name = "Ember"', 'characteristic = "temperature"', "same as address"),
        (ADDRESS + '\nadapter = "radio"', 'characteristic = "temperature"', "not an adapter"),
        (ADDRESS, 'characteristic = "temprature"', 'did you mean "temperature"'),
        (ADDRESS, 'characteristic = "FF01"', "only its maker knows"),
        (ADDRESS, 'characteristic = "temperature"\nscale = 0.1', "write its type"),
        (ADDRESS, 'characteristic = "FF01"\ntype = "int12"', "int12"),
        (ADDRESS, 'characteristic = "FF01"\ntype = "int16"\nscale = 0', "other than zero"),
        (ADDRESS, 'characteristic = "temperature"\nsensor = 0', "not a whole number from 1"),
        (ADDRESS, "", "missing; write characteristic"),
    ],
)
def test_what_is_wrong_is_said(read, keys, channel, what):
    assert what in problems(read, "ble-gatt", keys, channel)


def test_sensors_that_only_advertise(read):
    told = read(
        bench(
            "ble-advert",
            ADDRESS + '\nsilent_after = "5 min"',
            'characteristic = "temperature"',
            'characteristic = "temperature"\nsensor = 2',
            'manufacturer = 0xFFFF\ntype = "int16"\nscale = 0.1',
            'service_data = "181A"\ntype = "uint16"\noffset = 6',
        )
    )
    assert told.silent_after_s == 300.0
    assert told.channel[2].manufacturer == 0xFFFF
    assert told.channel[3].service_data == bluetooth.ENVIRONMENTAL_SENSING


@pytest.mark.parametrize(
    ("channel", "what"),
    [
        ("", "missing; write one of"),
        ('characteristic = "temperature"\nmanufacturer = 1', "stands beside characteristic"),
        ("manufacturer = 1", "must be described"),
        ('characteristic = "temperature"\ntype = "int16"', "laid down by the open format"),
        ('characteristic = "temperature"\nsensor = "Upper"', "write its number"),
        ('service_data = "181"\ntype = "int16"', "is not a UUID"),
        ('characteristic = "pressure"', "pressure"),
    ],
)
def test_what_is_wrong_with_an_advertised_value_is_said(read, channel, what):
    assert what in problems(read, "ble-advert", ADDRESS, channel)


def test_bleak_is_loaded_only_where_it_is_needed():
    """It and D-Bus cost start-up time and memory on every bench."""
    code = (
        "import sys, logger.cli, logger.service.run, logger.service.checking, "
        "logger.service.finding, simulators.wirings\n"
        "sys.exit(bool({'bleak', 'dbus_fast'} & set(sys.modules)))"
    )
    assert subprocess.run([sys.executable, "-c", code], check=False).returncode == 0
