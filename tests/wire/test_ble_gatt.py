"""Driver `ble-gatt` against a simulated Bluetooth service: bleak's real code, a real D-Bus."""

import asyncio
import itertools

import pytest

from logger.bluetooth import NAMES
from logger.instruments.ble_characteristics import Wanted
from logger.instruments.ble_gatt import BleGatt
from logger.instruments.ble_target import Target
from logger.instruments.decoders.ble_numbers import ByteOrder, Number, NumberType
from logger.instruments.decoders.ble_values import DECODERS, BleValue
from logger.instruments.instrument_link import LinkState
from logger.quantities import Channel, Place, Position, Quantity
from logger.units import unit_of
from simulators.bluetooth_sensors import (
    BATTERY_LEVEL,
    HUMIDITY,
    MEASUREMENT,
    TEMPERATURE,
    Characteristic,
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
    sensor = bluez.add(environmental_sensor(A, "Ember"))
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
    await eventually(lambda: (one.link.battery_percent, one.link.signal_dbm) == (90, -58))


async def test_a_unit_is_brought_to_the_channels(bluez, probe, supervised, eventually):
    sensor = bluez.add(health_thermometer(A, "Ember"))
    one = supervised(
        probe(by_address(), (wanted("temperature-measurement"), channel("wall", unit="degF")))
    )
    await eventually(lambda: bluez.listened(sensor.find(MEASUREMENT)))
    bluez.notify(sensor, sensor.find(MEASUREMENT), health_measurement(37.0))
    await eventually(lambda: one.readings)
    assert one.values == [("wall", 98.6)]


async def test_what_offers_no_notification_is_asked(bluez, probe, supervised, eventually):
    sensor = bluez.add(environmental_sensor(A, "Ember", celsius=41.25))
    sensor.find(TEMPERATURE).flags = ("read",)
    one = supervised(probe(by_address()))
    await eventually(lambda: len(one.readings) >= 3)
    assert set(one.values) == {("wall", 41.25)}


async def test_a_characteristic_of_a_maker_is_described(bluez, probe, supervised, eventually):
    own = "6b0d2c1e-91f4-4a57-8c3e-2f60d1a79b01"
    sensor = bluez.add(environmental_sensor(A, "Ember"))
    sensor.services = {own: (Characteristic(own, value=bytes.fromhex("AA 01 9C")),)}
    number = Number(type=NumberType.INT16, offset=1, order=ByteOrder.BIG, scale=0.1)
    described = Wanted(uuid=own, decode=lambda data: BleValue(number.value(data)))
    one = supervised(probe(by_address(), (described, channel("wall"))))
    await eventually(lambda: bluez.listened(sensor.find(own)))
    bluez.notify(sensor, sensor.find(own), bytes.fromhex("AA 01 9D"))
    await eventually(lambda: one.readings)
    assert one.values[0] == ("wall", 41.3)


@pytest.mark.parametrize(
    ("first", "second", "described"),
    [("Upper", "lower", True), (1, 2, True), (1, 2, False)],
    ids=["description", "presentation format", "order"],
)
async def test_several_probes_of_one_device(
    bluez, probe, supervised, eventually, first, second, described
):
    sensor = bluez.add(several_probes(A, "Ember", {"Upper": 41.0, "Lower": 42.0}))
    if not described:
        for served in sensor.characteristics:
            served.descriptors = {}
    one = supervised(
        probe(
            by_address(),
            (wanted(sensor=second), channel("low")),
            (wanted(sensor=first), channel("high")),
        )
    )
    upper, lower = sensor.characteristics
    await eventually(lambda: bluez.listened(upper) and bluez.listened(lower))
    bluez.notify(sensor, upper, hundredths(41.0))
    bluez.notify(sensor, lower, hundredths(42.0))
    await eventually(lambda: len(one.readings) >= 2)
    assert one.values[:2] == [("high", 41.0), ("low", 42.0)]


async def test_which_of_several_must_be_said(bluez, probe, supervised, eventually):
    bluez.add(several_probes(A, "Ember", {"Upper": 41.0, "Lower": 42.0}))
    one = supervised(probe(by_address()))
    await eventually(lambda: one.link.state is LinkState.PARKED)
    assert '"Upper", "Lower"' in one.link.reason


async def test_a_characteristic_that_is_not_there_is_said(bluez, probe, supervised, eventually):
    bluez.add(health_thermometer(A, "Ember"))
    one = supervised(probe(by_address()))
    await eventually(lambda: "it has temperature-measurement" in one.link.reason)


async def test_two_of_one_name_are_told_apart_by_address(bluez, probe, supervised, eventually):
    mine, other = (bluez.add(environmental_sensor(one, "Ember")) for one in (A, B))
    named, addressed = supervised(probe(by_name())), supervised(probe(by_address()))
    await eventually(lambda: "write the address" in named.link.reason)
    await eventually(lambda: bluez.listened(mine.find(TEMPERATURE)))
    assert not other.connected
    bluez.notify(mine, mine.find(TEMPERATURE), hundredths(41.0))
    await eventually(lambda: ("wall", 41.0) in addressed.values)


async def test_a_name_once_found_stays_that_device(bluez, probe, supervised, eventually):
    mine = bluez.add(environmental_sensor(A, "Ember"))
    one = supervised(probe(by_name()))
    await eventually(lambda: bluez.listened(mine.find(TEMPERATURE)))
    bluez.add(environmental_sensor(B, "Ember"))
    bluez.drop_link(mine)
    await eventually(lambda: one.link.state is LinkState.DOWN)
    await eventually(lambda: bluez.listened(mine.find(TEMPERATURE)))


async def test_a_device_that_changes_its_address_is_found_by_its_name(
    bluez, probe, supervised, eventually
):
    mine = bluez.add(environmental_sensor(A, "Ember"))
    supervised(probe(by_name("ember")))
    await eventually(lambda: bluez.listened(mine.find(TEMPERATURE)))
    bluez.vanish(mine)
    again = bluez.add(environmental_sensor(B, "Ember"))
    await eventually(lambda: bluez.listened(again.find(TEMPERATURE)))


async def test_a_battery_that_cannot_be_read_ends_no_link(bluez, probe, supervised, eventually):
    sensor = bluez.add(environmental_sensor(A, "Ember"))
    level = sensor.find(BATTERY_LEVEL)
    level.paired_only = True
    one = supervised(probe(by_address()))
    await eventually(lambda: len(one.readings) >= 2)
    assert bluez.connects == 1
    assert any("battery level" in reason for _, reason in one.link.refused)


async def test_nothing_sent_before_the_link_broke_is_lost(bluez, probe, supervised, eventually):
    sensor = bluez.add(environmental_sensor(A, "Ember"))
    one = supervised(probe(by_address()))
    temperature = sensor.find(TEMPERATURE)
    await eventually(lambda: bluez.listened(temperature))
    for tenths in range(20):
        bluez.notify(sensor, temperature, hundredths(tenths / 10))
    bluez.drop_link(sensor)
    await eventually(lambda: one.link.state is LinkState.DOWN)
    assert one.values == [("wall", tenths / 10) for tenths in range(20)]
    assert one.link.reason == "the link broke"


async def test_a_hung_service_is_noticed_by_asking(bluez, probe, supervised, eventually):
    sensor = bluez.add(environmental_sensor(A, "Ember"))
    one = supervised(probe(by_address()))
    await eventually(lambda: bluez.listened(sensor.find(TEMPERATURE)))
    bluez.hang()
    await eventually(lambda: one.link.state is LinkState.DOWN, within_s=10.0)
    assert "no answer" in one.link.reason
    await bluez.go_on()
    await eventually(lambda: one.link.ok, within_s=15.0)


@pytest.mark.parametrize("after_s", [0.0, 0.05, 0.15, 0.25])
async def test_it_can_be_ended_while_the_service_hangs(
    bluez, probe, supervised, eventually, after_s
):
    """Whatever it is doing then: looking, connecting, asking."""
    sensor = bluez.add(environmental_sensor(A, "Ember"))
    sensor.connects_in_s = 0.1
    one = supervised(probe(by_address()))
    await eventually(lambda: bluez.scanned or bluez.connects)
    await asyncio.sleep(after_s)
    bluez.hang()
    await asyncio.sleep(0.05)
    one.task.cancel()
    await eventually(one.task.done, within_s=15.0)


async def test_silence_is_asked_about_and_the_answer_counts_once(
    bluez, probe, supervised, eventually
):
    sensor = bluez.add(environmental_sensor(A, "Ember", celsius=41.0))
    one = supervised(probe(by_address(), probed_after_s=0.2))
    await eventually(lambda: len(one.readings) >= 3)
    times = [later - sooner for sooner, later in itertools.pairwise(one.heard_at)]
    assert min(times) > 0.15
    assert sensor.connected


async def test_a_sensor_that_is_silent_and_cannot_be_asked_is_connected_anew(
    bluez, probe, supervised, eventually
):
    bluez.add(health_thermometer(A, "Ember"))
    pair = wanted("temperature-measurement"), channel("wall")
    one = supervised(probe(by_address(), pair, given_up_after_s=0.2))
    await eventually(lambda: bluez.connects >= 3)
    assert any("sends nothing" in news.reason for news in one.news)


async def test_connections_are_made_one_at_a_time(bluez, probe, supervised, eventually):
    sensors = [
        bluez.add(environmental_sensor(f"02:00:00:00:00:{place:02X}", f"Ember {place}"))
        for place in range(4)
    ]
    for sensor in sensors:
        sensor.connects_in_s = 0.2
        supervised(probe(by_address(sensor.address)))
    await eventually(lambda: all(bluez.listened(one.find(TEMPERATURE)) for one in sensors))
    assert bluez.most_connecting == 1


async def test_a_connect_that_hangs_holds_up_no_other_sensor(bluez, probe, supervised, eventually):
    fine, slow = (bluez.add(environmental_sensor(one, "Ember")) for one in (A, B))
    slow.connects_in_s = 3.0
    one = supervised(probe(by_address()))
    await eventually(lambda: bluez.listened(fine.find(TEMPERATURE)))
    supervised(probe(by_address(B)))
    await eventually(lambda: bluez.connecting)
    for tenths in range(10):
        bluez.notify(fine, fine.find(TEMPERATURE), hundredths(tenths / 10))
        await asyncio.sleep(0.02)
    assert len(one.readings) >= 9
    assert bluez.connecting


async def test_a_connection_that_a_killed_program_left_is_taken_over(
    bluez, probe, supervised, eventually
):
    """Such a device does not advertise: waiting for it would be for ever."""
    sensor = bluez.add(environmental_sensor(A, "Ember"))
    bluez.leave_connected(sensor)
    one = supervised(probe(by_address()))
    await eventually(lambda: bluez.listened(sensor.find(TEMPERATURE)))
    bluez.notify(sensor, sensor.find(TEMPERATURE), hundredths(41.0))
    await eventually(lambda: one.values == [("wall", 41.0)])


async def test_a_sensor_that_wants_pairing_says_so(bluez, probe, supervised, eventually):
    sensor = bluez.add(environmental_sensor(A, "Ember"))
    sensor.find(TEMPERATURE).paired_only = True
    one = supervised(probe(by_address()))
    await eventually(lambda: "bluetoothctl pair" in one.link.reason)


async def test_without_dbus_it_says_so(probe, supervised, eventually, monkeypatch, tmp_path):
    monkeypatch.setenv("DBUS_SYSTEM_BUS_ADDRESS", f"unix:path={tmp_path}/none")
    one = supervised(probe(by_address()))
    await eventually(lambda: one.link.state is LinkState.DOWN, within_s=15.0)
    assert "check that dbus runs" in one.link.reason


async def test_without_a_service_or_an_adapter_it_says_so(
    dbus, bluez, probe, supervised, eventually
):
    bluez.unplug()
    one = supervised(probe(by_address()))
    await eventually(lambda: "no Bluetooth adapter" in one.link.reason, within_s=15.0)
    await bluez.crash()
    await eventually(lambda: "service" in one.link.reason, within_s=15.0)
