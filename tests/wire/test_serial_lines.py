"""Driver `serial-lines` on a real pseudo-terminal, under its supervisor."""

import asyncio
import errno
import fcntl
import os
import statistics
import tty

import pytest
from serial import Serial

from logger.instruments import serial_link
from logger.instruments.from_settings import build
from logger.instruments.instrument_link import LinkState
from logger.quantities import Channel, Place, Position, Quantity, Transducer, Unit
from logger.settings import InstrumentSettings
from logger.settings.drivers.serial_lines_keys import CsvKeys
from simulators.line_formats import LineFormat
from simulators.printing_port import PrintingPort

DEGC = Unit(name="degC")
DEGF = Unit(name="degF", factor=5 / 9, offset=-160 / 9)
ROOM = Place(position=Position.ROOM)


def channel(name, **how):
    return Channel(
        name=name, instrument="probes", place=ROOM, **({"quantity": Quantity.TEMPERATURE} | how)
    )


@pytest.fixture
def probes(line_port, bench_time):
    """An instrument on the simulated port; by default columns 0 and 1 of csv."""

    def make(port=None, *, name="probes", channels=("wall", "room"), fields=(0, 1), **settings):
        channels = tuple(channel(one) if isinstance(one, str) else one for one in channels)
        below = [
            {
                "name": one.name,
                "place": "room",
                "unit": one.unit.name,
                "transducer": one.transducer,
                "field": field,
            }
            for one, field in zip(channels, fields, strict=True)
        ]
        keys = CsvKeys(name=name, port=str(port or line_port.link), channel=below, **settings)
        return build(
            InstrumentSettings(name=name, driver=keys.driver, keys=keys, channels=channels),
            bench_time,
        )

    return make


@pytest.fixture
def talking(line_port, supervised, eventually):
    """Start an instrument and let it past the line that every opening drops."""

    async def start(instrument, port=line_port):
        bench = supervised(instrument)
        await eventually(
            lambda: port.opened and bench.link.reason.startswith("open, no reading yet")
        )
        port.send_raw(b"tail of a line\r\n")
        return bench

    return start


async def test_readings_of_a_line_share_its_stamp_in_order_of_configuration(
    probes, talking, line_port, bench_time, eventually
):
    bench = await talking(probes(channels=("room", "wall"), fields=(2, 0), columns=3))
    bench_time.at_s += 7.25
    line_port.write_line([41.5, 99.0, 22.25])
    await eventually(lambda: len(bench.readings) == 2)
    assert bench.values == [("room", 22.25), ("wall", 41.5)]
    assert {reading.at_s for reading in bench.readings} == {bench_time.at_s}
    assert bench.link.state is LinkState.UP
    assert bench.link.readings == 2


async def test_a_line_in_two_halves_is_stamped_when_its_last_byte_comes(
    probes, talking, line_port, bench_time, eventually
):
    bench = await talking(probes())
    await eventually(lambda: bench_time.asked)
    bench_time.asked = 0
    line_port.send_raw(b"41.5,22")
    await eventually(lambda: bench_time.asked)  # the first half has been taken
    bench_time.at_s += 3.0
    line_port.send_raw(b".25\r\n")
    await eventually(lambda: bench.readings)
    assert bench.values == [("wall", 41.5), ("room", 22.25)]
    assert bench.readings[0].at_s == bench_time.at_s


async def test_what_the_port_received_before_is_dropped(probes, line_port, supervised, eventually):
    early = os.open(line_port.link, os.O_RDWR | os.O_NOCTTY)
    try:
        tty.setraw(early)
        line_port.send_raw(b"80.0,80.0\r\n80.0,80.0\r\n")
        bench = supervised(probes())
        await eventually(lambda: bench.link.reason.startswith("open, no reading yet"))
        line_port.send_raw(b"1.25,22.0\r\n41.25,22.0\r\n")  # the first may be a tail
        await eventually(lambda: len(bench.readings) == 2)
    finally:
        os.close(early)
    assert bench.values == [("wall", 41.25), ("room", 22.0)]


async def test_what_is_no_reading_is_counted_and_named(probes, talking, line_port, eventually):
    bench = await talking(probes())
    line_port.send_raw(b"\xff\xfe\x00noise\n")
    line_port.send_raw(b"41,2,22,1\n")  # a decimal comma makes four columns
    line_port.send_raw(b"x" * 3000 + b"\n")
    line_port.send_raw(b"41.2,nan\r\n")
    line_port.send_raw(b"41.3,22.1\r")
    await eventually(lambda: len(bench.readings) == 3)
    assert bench.values == [("wall", 41.2), ("wall", 41.3), ("room", 22.1)]
    assert bench.link.refused_count() == 4
    assert bench.link.refused_count("room") == 1
    reasons = " / ".join(reason for _, reason in bench.link.refused)
    assert "4 columns instead of 2" in reasons
    assert "over 1024 bytes" in reasons
    assert "not text" in reasons
    assert all(found.excerpt.isprintable() for found in bench.link.refused.values())


async def test_a_unit_that_is_written_out_is_converted(probes, talking, line_port, eventually):
    line_port.line_format = LineFormat(decimals=2, unit="F")
    bench = await talking(probes(channels=("wall", channel("room", unit=DEGF))))
    line_port.write_line([140.0, 71.96])
    await eventually(lambda: len(bench.readings) == 2)
    assert bench.values == [("wall", 60.0), ("room", 71.96)]


@pytest.mark.parametrize(
    ("configured", "written"),
    [
        pytest.param(channel("wall"), b"412.5 g", id="mass-for-temperature"),
        pytest.param(
            channel("wall", quantity=Quantity.MASS, unit=Unit(name="g")),
            b"41.2 C",
            id="temperature-for-mass",
        ),
        pytest.param(
            channel("wall", transducer=Transducer.THERMOCOUPLE_K, unit=Unit(name="mV")),
            b"41.2 C",
            id="temperature-for-voltage",
        ),
    ],
)
async def test_a_unit_of_something_else_is_refused_by_name(
    configured, written, probes, talking, line_port, eventually
):
    bench = await talking(probes(channels=(configured, "room")))
    line_port.send_raw(written + b",22.0\n")
    await eventually(lambda: bench.readings)
    assert bench.values == [("room", 22.0)]
    ((named, reason),) = bench.link.refused
    assert named == "wall"
    assert configured.unit.name in reason


async def test_microvolts_become_the_millivolts_of_the_channel(
    probes, talking, line_port, eventually
):
    wall = channel("wall", transducer=Transducer.THERMOCOUPLE_K, unit=Unit(name="mV"))
    bench = await talking(probes(channels=(wall,), fields=(0,)))
    line_port.send_raw(b"4096 uV\n")
    await eventually(lambda: bench.readings)
    assert bench.values == [("wall", 4.096)]


async def test_a_pulled_plug_is_told_and_readings_come_back(probes, talking, line_port, eventually):
    bench = await talking(probes())
    line_port.write_line([41.0, 22.0])
    await eventually(lambda: len(bench.readings) == 2)
    line_port.unplug()
    await eventually(lambda: "is not there" in bench.link.reason)
    assert "unplugged: put the plug back" in [one.reason for one in bench.news]
    assert not bench.link.ok
    line_port.replug()
    await eventually(lambda: line_port.opened)
    await eventually(lambda: bench.link.reason.startswith("open, no reading yet"))
    line_port.write_line([50.0, 50.0])  # in the place of the tail
    line_port.write_line([42.0, 22.0])
    await eventually(lambda: len(bench.readings) == 4)
    assert bench.values[2:] == [("wall", 42.0), ("room", 22.0)]
    assert bench.link.state is LinkState.UP


async def test_an_input_error_of_the_system_is_a_pulled_plug(
    probes, talking, line_port, eventually, monkeypatch
):
    """USB adapters report EIO where a pseudo-terminal reports the end of the file."""
    bench = await talking(probes())

    def broken(*_):
        raise OSError(errno.EIO, "Input/output error")

    with monkeypatch.context() as patch:
        patch.setattr(serial_link.os, "read", broken)
        line_port.write_line([41.0, 22.0])
        await eventually(lambda: any("unplugged" in one.reason for one in bench.news))
    await eventually(lambda: bench.link.reason.startswith("open, no reading yet"))


async def test_a_plug_pulled_in_mid_line_leaves_no_half_number(
    probes, talking, line_port, eventually
):
    bench = await talking(probes(channels=("wall",), fields=(0,)))
    line_port.send_raw(b"141.")
    line_port.unplug()
    await eventually(lambda: "is not there" in bench.link.reason)
    line_port.replug()
    await eventually(lambda: bench.link.reason.startswith("open, no reading yet"))
    line_port.send_raw(b"25\n41.5\n")
    await eventually(lambda: bench.readings)
    assert bench.values == [("wall", 41.5)]


async def test_a_port_that_does_not_exist_is_tried_until_it_does(
    probes, line_port, supervised, eventually
):
    line_port.unplug()
    bench = supervised(probes())
    await eventually(lambda: bench.news)
    assert bench.link.state is LinkState.DOWN
    assert str(line_port.link) in bench.link.reason
    line_port.replug()
    await eventually(lambda: bench.link.reason.startswith("open, no reading yet"))
    line_port.send_raw(b"\n41.0,22.0\n")
    await eventually(lambda: bench.link.ok)


async def test_a_port_that_another_program_holds_is_tried_until_it_is_free(
    probes, line_port, supervised, eventually
):
    other = os.open(line_port.link, os.O_RDWR | os.O_NOCTTY)
    fcntl.flock(other, fcntl.LOCK_EX)
    bench = supervised(probes())
    await eventually(lambda: bench.news)
    assert "held by another program" in bench.link.reason
    os.close(other)
    await eventually(lambda: bench.link.reason.startswith("open, no reading yet"))


async def test_our_own_lock_keeps_other_programs_out(probes, talking, line_port):
    await talking(probes())
    with pytest.raises(OSError, match="exclusively lock"):
        Serial(str(line_port.link), exclusive=True)


@pytest.mark.parametrize("kind", ["file", "folder"])
async def test_what_is_no_serial_port_for_a_while_is_tried_again(
    kind, probes, supervised, eventually, tmp_path
):
    port = tmp_path / "port"
    if kind == "file":
        port.write_text("41.0,22.0\n")
    else:
        port.mkdir()
    bench = supervised(probes(port))
    await eventually(lambda: "not a serial port" in bench.link.reason)
    assert bench.link.state is LinkState.DOWN
    if kind == "file":
        port.unlink()
    else:
        port.rmdir()
    with PrintingPort(port):
        await eventually(lambda: bench.link.reason.startswith("open, no reading yet"))


async def test_stopping_frees_the_port(probes, talking, line_port):
    bench = await talking(probes())
    bench.task.cancel()
    await asyncio.gather(bench.task, return_exceptions=True)
    assert not line_port.opened


async def test_200_reconnects_leak_no_file(probes, talking, line_port, eventually, open_files):
    bench = await talking(probes(channels=("wall",), fields=(0,)))

    async def speak(value):
        line_port.send_raw(b"\n%d\n" % value)
        await eventually(lambda: bench.readings and bench.readings[-1].value == value)

    await speak(0)
    before = open_files()
    for turn in range(1, 201):
        line_port.unplug()
        await eventually(lambda: bench.link.state is LinkState.DOWN)
        line_port.replug()
        await eventually(lambda: bench.link.reason.startswith("open, no reading yet"))
        await speak(turn)
    assert open_files() == before
    assert [reading.value for reading in bench.readings] == list(range(201))


async def test_the_trouble_of_one_instrument_delays_no_other(
    probes, talking, line_port, supervised, eventually, tmp_path
):
    """Noise without end, a plug that goes in and out, and an absent port, beside one that works."""
    bench = await talking(probes(channels=("wall",), fields=(0,)))
    supervised(probes(tmp_path / "absent", name="absent"))
    with PrintingPort(tmp_path / "noisy") as noisy, PrintingPort(tmp_path / "loose") as loose:
        noise = supervised(probes(noisy.link, name="noisy"))
        supervised(probes(loose.link, name="loose"))

        turns = 0  # of the loop, each with its share of trouble

        async def trouble():
            nonlocal turns
            while True:
                noisy.send_raw(b"\xff#41,,;x\n" * 400)
                if turns % 10 == 5:
                    loose.unplug()
                elif turns % 10 == 0:
                    loose.replug()
                turns += 1
                await asyncio.sleep(0)

        task = asyncio.create_task(trouble())
        waited = []
        for number in range(100):
            line_port.send_raw(b"%d.5\n" % number)
            sent = turns
            await eventually(lambda number=number: len(bench.readings) > number)
            waited.append(turns - sent)
        task.cancel()
        await asyncio.gather(task, return_exceptions=True)
    assert [reading.value for reading in bench.readings] == [n + 0.5 for n in range(100)]
    assert noise.link.refused_count() > 1000
    # In turns, whose length is the machine's: in milliseconds, 2 on a calm one.
    assert statistics.median(waited) <= 10, waited
