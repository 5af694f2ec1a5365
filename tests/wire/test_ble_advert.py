"""Driver `ble-advert` against a simulated Bluetooth service."""

import asyncio

import pytest

from logger.instruments.ble_advert import Announced, BleAdvert, Described
from logger.instruments.ble_target import Target
from logger.instruments.decoders.ble_numbers import Number, NumberType
from logger.instruments.instrument_link import LinkState
from logger.quantities import Channel, Place, Position, Quantity
from logger.units import unit_of
from simulators.bluetooth_sensors import Peripheral, advertising_sensor

A, B = "02:00:00:00:00:0A", "02:00:00:00:00:0B"
BTHOME, ENVIRONMENT = 0xFCD2, 0x181A


def channel(name, quantity=Quantity.TEMPERATURE, unit="degC"):
    return Channel(
        name=name,
        instrument="shelf",
        quantity=quantity,
        place=Place(position=Position.ROOM),
        unit=unit_of(unit, quantity),
    )


@pytest.fixture
def shelf(bench_time):
    def make(*pairs, name=None, **options):
        pairs = pairs or ((Announced(kind="temperature"), channel("air")),)
        address = A if name is None else None
        return BleAdvert(
            "shelf",
            target=Target(instrument="shelf", address=address, name=name),
            wanted=[one for one, _ in pairs],
            channels=[one for _, one in pairs],
            now=bench_time,
            **options,
        )

    return make


async def test_bthome_is_read_and_repetitions_count_once(bluez, shelf, supervised, eventually):
    sensor = bluez.add(
        advertising_sensor(A, "Shelf", BTHOME, bytes.fromhex("40 00 01 01 10 02 CA 09 03 BF 13"))
    )
    one = supervised(
        shelf(
            (Announced(kind="temperature"), channel("air", unit="degF")),
            (Announced(kind="humidity"), channel("damp", Quantity.HUMIDITY, "percent")),
        )
    )
    await eventually(lambda: len(one.readings) >= 2)
    sent = bluez.adverts
    await eventually(lambda: bluez.adverts > sent + 5)
    assert one.values == [("air", 77.108), ("damp", 50.55)]
    assert (one.link.battery_percent, one.link.signal_dbm) == (16, -58)
    (data,) = sensor.service_data
    sensor.service_data[data] = bytes.fromhex("40 00 02 02 C4 09")
    await eventually(lambda: len(one.readings) == 3)
    assert one.values[2] == ("air", 77.0)


async def test_environmental_sensing_service_data(bluez, shelf, supervised, eventually):
    bluez.add(advertising_sensor(A, "Shelf", ENVIRONMENT, bytes.fromhex("5D 16 A4 11")))
    one = supervised(shelf())
    await eventually(lambda: len(one.readings) >= 3)
    assert set(one.values) == {("air", 57.25)}


async def test_what_only_its_maker_knows_is_described(bluez, shelf, supervised, eventually):
    maker = {0xFFFF: bytes.fromhex("01 9C 01")}
    data = {"0000fff1-0000-1000-8000-00805f9b34fb": bytes.fromhex("29 00")}
    bluez.add(Peripheral(address=A, name="Shelf", manufacturer_data=maker, service_data=data))
    (uuid,) = data
    tenths = Number(type=NumberType.INT16, offset=1, scale=0.1)
    whole = Number(type=NumberType.UINT16)
    one = supervised(
        shelf(
            (Described(source=0xFFFF, number=tenths), channel("made")),
            (Described(source=uuid, number=whole), channel("served")),
        )
    )
    await eventually(lambda: len(one.readings) >= 4)
    assert set(one.values) == {("made", 41.2), ("served", 41.0)}


async def test_an_encrypted_sensor_is_named_as_such(bluez, shelf, supervised, eventually):
    data = bytes.fromhex("41 A4 72 66 C9 5F 73 00 11 22 33 78 23 72 14")
    bluez.add(advertising_sensor(A, "Shelf", BTHOME, data))
    one = supervised(shelf())
    await eventually(lambda: one.link.refused_count() >= 3)
    ((_, reason),) = one.link.refused
    assert "key is missing" in reason
    assert one.readings == []


async def test_silence_is_noticed_and_over_when_it_is_back(bluez, shelf, supervised, eventually):
    sensor = bluez.add(advertising_sensor(A, "Shelf", BTHOME, bytes.fromhex("40 02 CA 09")))
    one = supervised(shelf(silent_after_s=0.5))
    await eventually(lambda: one.link.ok)
    bluez.vanish(sensor)
    await eventually(lambda: one.link.state is LinkState.DOWN)
    assert "stopped advertising" in one.link.reason
    bluez.come_back(sensor)
    await eventually(lambda: one.link.ok)
    assert one.link.reconnects == 1


async def test_a_slow_advertiser_may_be_slow(bluez, shelf, supervised, eventually):
    sensor = bluez.add(advertising_sensor(A, "Shelf", BTHOME, bytes.fromhex("40 02 CA 09")))
    sensor.advertises_every_s = 0.8
    one = supervised(shelf(silent_after_s=2.0))
    await eventually(lambda: len(one.readings) >= 3)
    assert LinkState.DOWN not in {one.link.state}
    assert all(news.ok or "no reading yet" in news.reason for news in one.news)


async def test_two_of_one_name_are_not_mixed(bluez, shelf, supervised, eventually):
    for place, celsius in ((A, "CA 09"), (B, "C4 09")):
        bluez.add(advertising_sensor(place, "Shelf", BTHOME, bytes.fromhex(f"40 02 {celsius}")))
    named, addressed = supervised(shelf(name="Shelf")), supervised(shelf())
    await eventually(lambda: "write the address" in named.link.reason)
    await eventually(lambda: len(addressed.readings) >= 3)
    assert named.readings == []
    assert set(addressed.values) == {("air", 25.06)}


async def test_one_scanner_serves_all(bluez, shelf, supervised, eventually):
    bluez.add(advertising_sensor(A, "Shelf", BTHOME, bytes.fromhex("40 02 CA 09")))
    several = [supervised(shelf()) for _ in range(3)]
    await eventually(lambda: all(one.readings for one in several))
    assert bluez.most_scans == 1


async def test_a_changed_property_is_no_advertisement(bluez, shelf, supervised, eventually):
    """What a device advertised earlier stays with it: it would pass for fresh."""
    sensor = bluez.add(advertising_sensor(A, "Shelf", BTHOME, bytes.fromhex("40 02 CA 09")))
    one = supervised(shelf(silent_after_s=5.0))
    await eventually(lambda: one.readings)
    sensor.in_reach = False
    bluez.forget_signal(sensor)
    count = len(one.readings)
    bluez.touch(sensor)
    sent = bluez.adverts
    other = bluez.add(advertising_sensor(B, "Other", BTHOME, b"\x40"))
    await eventually(lambda: bluez.adverts > sent + 2 and other.in_reach)
    assert len(one.readings) == count


async def test_a_service_that_hung_while_it_was_to_scan(bluez, shelf, supervised, eventually):
    """It was asked to scan, given up on and asked anew: it takes the first for one that goes on."""
    bluez.add(advertising_sensor(A, "Shelf", BTHOME, bytes.fromhex("40 02 CA 09")))
    bluez.hang()
    one = supervised(shelf(silent_after_s=0.3))
    await eventually(lambda: len(bluez.unanswered) >= 1)
    await asyncio.sleep(0.5)
    await bluez.go_on()  # it has told its devices; now the scan
    await eventually(lambda: one.link.state is LinkState.DOWN or one.link.ok)
    bluez.hang()
    await eventually(lambda: one.link.state is LinkState.DOWN)
    await asyncio.sleep(1.0)
    await bluez.go_on()
    await eventually(lambda: one.link.ok, within_s=10.0)


async def test_it_ends_at_once_while_the_service_hangs(bluez, shelf, supervised, eventually):
    bluez.add(advertising_sensor(A, "Shelf", BTHOME, bytes.fromhex("40 02 CA 09")))
    one = supervised(shelf())
    await eventually(lambda: one.link.ok)
    bluez.hang()
    one.task.cancel()
    await eventually(one.task.done, within_s=5.0)
