"""Driver `ble-gatt` against a simulated Bluetooth service: bleak's real code, a real D-Bus."""

import pytest

from logger.instruments.ble_characteristics import Wanted
from logger.instruments.ble_gatt import BleGatt
from logger.instruments.ble_radio import Target
from logger.instruments.decoders.ble_values import DECODERS, NAMES
from logger.quantities import Channel, Place, Position, Quantity
from logger.units import unit_of
from simulators.bluetooth_sensors import (
    HUMIDITY,
    MEASUREMENT,
    TEMPERATURE,
    environmental_sensor,
    health_measurement,
    health_thermometer,
    hundredths,
    several_probes,
)

A, B = "02:00:00:00:00:0A", "02:00:00:00:00:0B"
ROOM = Place(position=Position.ROOM)


def channel(name, quantity=Quantity.TEMPERATURE, unit="degC"):
    return Channel(
        name=name,
        instrument="probe",
        quantity=quantity,
        place=ROOM,
        unit=unit_of(unit, quantity),
    )


def wanted(name="temperature", sensor=None):
    return Wanted(uuid=NAMES[name], decode=DECODERS[NAMES[name]], sensor=sensor)


@pytest.fixture
def probe(bench_time):
    """Make an instrument; a connection at once, timers short."""

    def make(target, *pairs, **options):
        pairs = pairs or ((wanted(), channel("wall")),)
        return BleGatt(
            "probe",
            target=target,
            wanted=[one for one, _ in pairs],
            channels=[one for _, one in pairs],
            now=bench_time,
            **{"every_s": 0.05, "within_s": 0.3, "probed_after_s": 0.3} | options,
        )

    return make


def by_address(address=A):
    return Target(instrument="probe", address=address)


def by_name(name="Ember"):
    return Target(instrument="probe", name=name)


async def test_what_a_sensor_notifies_is_read(bluez, probe, supervised, eventually):
    sensor = environmental_sensor(A, "Ember")
    bluez.add(sensor)
    one = supervised(
        probe(
            by_address(),
            (wanted(), channel("wall")),
            (wanted("humidity"), channel("humidity", Quantity.HUMIDITY, "percent")),
        )
    )
    temperature, humidity = sensor.find(TEMPERATURE), sensor.find(HUMIDITY)
    await eventually(lambda: bluez.listened(temperature) and bluez.listened(humidity))
    bluez.notify(sensor, temperature, bytes.fromhex("5D 16"))
    bluez.notify(sensor, humidity, bytes.fromhex("A4 11"))
    bluez.notify(sensor, temperature, bytes.fromhex("00 80"))
    bluez.notify(sensor, temperature, bytes.fromhex("0C FE"))
    await eventually(lambda: len(one.readings) >= 3)
    assert one.values[:3] == [("wall", 57.25), ("humidity", 45.16), ("wall", -5.0)]
    assert one.link.refused_count("wall") == 1
    assert (one.link.battery_percent, one.link.signal_dbm) == (90, -58)
