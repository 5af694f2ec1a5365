"""Driver `one-wire` on files as the kernel makes them."""

import os

import pytest

from logger.instruments.instrument_link import LinkState
from logger.instruments.one_wire import OneWire
from logger.quantities import Channel, Place, Position, Quantity, Unit
from simulators.one_wire_folder import OneWireFolder

WALL, ROOM = "28-0000000000a1", "28-0000000000b2"


def channel(name, **how):
    return Channel(
        name=name,
        instrument="bus",
        quantity=Quantity.TEMPERATURE,
        place=Place(position=Position.ROOM),
        **how,
    )


@pytest.fixture
def bus(tmp_path):
    bus = OneWireFolder(tmp_path / "devices")
    bus.show(WALL, 57.25)
    bus.show(ROOM, -0.5)
    return bus


@pytest.fixture
def thermometers(bus, bench_time):
    def make(channels=None, within_s=5.0):
        return OneWire(
            "bus",
            sensors=(ROOM, WALL),
            channels=channels or (channel("room"), channel("wall")),
            now=bench_time,
            folder=bus.folder,
            every_s=0.01,
            within_s=within_s,
        )

    return make


async def test_sensors_are_read_in_order(thermometers, supervised, bench_time, eventually):
    bench = supervised(thermometers())
    await eventually(lambda: len(bench.readings) >= 4)
    assert bench.values[:4] == [("room", -0.5), ("wall", 57.25)] * 2
    assert bench.readings[0].at_s == bench_time.at_s
    assert bench.link.state is LinkState.UP


async def test_a_channel_may_be_in_fahrenheit(thermometers, supervised, eventually):
    degf = Unit(name="degF", factor=5 / 9, offset=-160 / 9)
    bench = supervised(thermometers((channel("room", unit=degf), channel("wall"))))
    await eventually(lambda: bench.readings)
    assert bench.readings[0].value == pytest.approx(31.1)


async def test_a_kernel_that_shows_only_the_temperature_is_read(
    thermometers, bus, supervised, eventually
):
    (bus.folder / WALL / "w1_slave").unlink()
    (bus.folder / WALL / "temperature").write_text("41187\n")
    bench = supervised(thermometers())
    await eventually(lambda: ("wall", 41.187) in bench.values)


@pytest.mark.parametrize("fault", ["power-on", "crc", "unplugged"])
async def test_a_fault_of_one_sensor_is_named_and_the_other_is_read(
    fault, thermometers, bus, supervised, eventually
):
    if fault == "power-on":
        bus.show_power_on(WALL)
        reason = "power-on value"
    elif fault == "crc":
        bus.show(WALL, 57.25, bad_crc=True)
        reason = "wrong CRC"
    else:
        bus.unplug(WALL)
        reason = "is not on the bus"
    bench = supervised(thermometers())
    await eventually(lambda: len(bench.readings) >= 3)
    assert {name for name, _ in bench.values} == {"room"}
    ((named, why),) = bench.link.refused
    assert named == "wall"
    assert reason in why
    bus.show(WALL, 58.0)
    await eventually(lambda: ("wall", 58.0) in bench.values)


async def test_a_bus_without_sensors_is_down_until_one_is_back(
    thermometers, bus, supervised, eventually
):
    bus.unplug(WALL)
    bus.unplug(ROOM)
    bench = supervised(thermometers())
    await eventually(lambda: bench.link.state is LinkState.DOWN)
    assert "none of its sensors" in bench.link.reason
    bus.show(ROOM, 22.0)
    await eventually(lambda: bench.link.ok)


async def test_without_a_bus_it_says_what_to_switch_on(
    bench_time, supervised, eventually, tmp_path
):
    bench = supervised(
        OneWire(
            "bus",
            sensors=(WALL,),
            channels=(channel("wall"),),
            now=bench_time,
            folder=tmp_path / "none",
        )
    )
    await eventually(lambda: bench.link.state is LinkState.DOWN)
    assert "switch the 1-Wire bus on" in bench.link.reason


async def test_a_bus_that_hangs_holds_up_nobody_and_no_more_than_one_thread(
    thermometers, bus, supervised, eventually
):
    """A pipe that nobody writes to holds its reader like a kernel that waits for the wire."""
    file = bus.folder / WALL / "w1_slave"
    good = file.read_bytes()
    file.unlink()
    os.mkfifo(file)
    bench = supervised(thermometers(within_s=0.05))
    await eventually(lambda: "hangs" in bench.link.reason)
    reading = bench.instrument._reading
    tried = len(bench.news)
    await eventually(lambda: len(bench.news) > tried + 3)
    assert bench.instrument._reading is reading
    held = file.with_name("held")
    file.rename(held)
    file.write_bytes(good)
    held.write_bytes(good)  # and the reader goes on
    await eventually(lambda: ("wall", 57.25) in bench.values)
