"""Driver `modbus-rtu` against simulated devices on a pseudo-terminal."""

import struct

import pytest

from logger.instruments.decoders.modbus_registers import RegisterNumber, RegisterType, WordOrder
from logger.instruments.instrument_link import LinkState
from logger.instruments.modbus_frames import Register, answer_in, blocks, question
from logger.instruments.modbus_rtu import ModbusRtu
from logger.instruments.serial_link import SerialOptions
from logger.quantities import Channel, Place, Position, Quantity
from simulators.modbus_line import ModbusLine

WITHIN_S = 1.0  # for an answer; the simulator needs 2 ms, the machine may be busy
SOON_S = 0.1  # where the test waits for it to be over


def channel(name):
    return Channel(
        name=name,
        instrument="line",
        quantity=Quantity.TEMPERATURE,
        place=Place(position=Position.ROOM),
    )


def register(address, *, device=1, function=4, type=RegisterType.INT16, scale=0.1, **order):
    number = RegisterNumber(type=type, scale=scale, **order)
    return Register(device=device, function=function, address=address, number=number)


@pytest.fixture
async def line(tmp_path, answering):
    """Device 1: input registers 0 to 2 in tenths; device 2: holding registers 10 to 13."""
    line = ModbusLine(
        tmp_path / "rs485",
        {1: {4: {0: 572, 1: 405, 2: 65_531}}, 2: {3: dict.fromkeys(range(10, 14), 0)}},
    )
    line.put(2, 3, 10, struct.pack(">f", 41.25))
    line.put(2, 3, 12, bytes.fromhex("eb7e ffff"))  # -5250 = ffffeb7e, its lower half first
    return answering(line)


@pytest.fixture
def modbus(line, bench_time):
    def make(within_s=WITHIN_S, **registers):
        channels = [channel(name) for name in registers]
        return ModbusRtu(
            "line",
            options=SerialOptions(port=str(line.link), baud=115_200),
            blocks=blocks(channels, list(registers.values())),
            now=bench_time,
            every_s=0.01,
            within_s=within_s,
        )

    return make


async def test_neighbours_are_read_in_one_go_and_share_a_stamp(
    modbus, line, supervised, bench_time, eventually
):
    bench = supervised(modbus(room=register(1), wall=register(0), cold=register(2)))
    await eventually(lambda: len(bench.readings) >= 3)
    assert bench.values[:3] == [("room", 40.5), ("wall", 57.2), ("cold", -0.5)]
    assert {reading.at_s for reading in bench.readings} == {bench_time.at_s}
    assert set(line.asked) == {(1, 4, 0, 3)}
    assert bench.link.refused_count() == 0


async def test_several_devices_types_and_word_orders_on_one_line(modbus, supervised, eventually):
    bench = supervised(
        modbus(
            wall=register(0),
            float=register(10, device=2, function=3, type=RegisterType.FLOAT32, scale=1.0),
            swapped=register(
                12,
                device=2,
                function=3,
                type=RegisterType.INT32,
                scale=0.01,
                word_order=WordOrder.LOW_FIRST,
            ),
        )
    )
    await eventually(lambda: len(bench.readings) >= 3)
    assert bench.values[:3] == [("wall", 57.2), ("float", 41.25), ("swapped", -52.5)]


@pytest.mark.parametrize(
    ("how", "reason"),
    [
        pytest.param("crc", "wrong CRC", id="bad-crc"),
        pytest.param("half", "half an answer", id="half-frame"),
    ],
)
async def test_a_spoilt_answer_is_named_and_the_next_is_read(
    how, reason, modbus, line, supervised, eventually
):
    bench = supervised(modbus(SOON_S, wall=register(0)))
    await eventually(lambda: bench.readings)
    line.spoilt.append(how)
    await eventually(lambda: bench.link.refused_count("wall"))
    seen = len(bench.readings)
    await eventually(lambda: len(bench.readings) > seen)
    ((_, named),) = bench.link.refused
    assert reason in named
    assert set(bench.values) == {("wall", 57.2)}


async def test_an_answer_behind_noise_is_found(modbus, line, supervised, eventually):
    line.spoilt = ["noise"] * 5
    bench = supervised(modbus(wall=register(0)))
    await eventually(lambda: len(bench.readings) >= 6)
    assert set(bench.values) == {("wall", 57.2)}
    assert bench.link.refused_count() == 0


async def test_an_adapter_that_echoes_is_understood(modbus, line, supervised, eventually):
    line.echo = True
    line.devices[1][4][0x0305] = 333
    bench = supervised(modbus(wall=register(0), high=register(0x0305)))
    await eventually(lambda: len(bench.readings) >= 6)
    assert set(bench.values) == {("wall", 57.2), ("high", 33.3)}
    assert bench.link.refused_count() == 0


async def test_an_exception_is_told_with_its_meaning(modbus, supervised, eventually):
    bench = supervised(modbus(wall=register(0), wrong=register(77), none=register(0, function=3)))
    await eventually(lambda: bench.link.refused_count("none"))
    assert ("wrong", "device 1 answers exception 2, illegal data address: check address") in (
        bench.link.refused
    )
    assert ("none", "device 1 answers exception 1, illegal function: check table") in (
        bench.link.refused
    )
    assert set(bench.values) <= {("wall", 57.2)}


async def test_a_silent_device_is_asked_seldom_and_the_others_are_read(
    modbus, line, supervised, eventually
):
    line.silent.add(2)
    bench = supervised(modbus(SOON_S, wall=register(0), lost=register(10, device=2, function=3)))
    await eventually(lambda: len(bench.readings) >= 40)
    asked = [device for device, *_ in line.asked]
    assert 3 <= asked.count(2) <= 3 + 40 // 10 + 1
    assert bench.link.state is LinkState.UP
    reasons = {reason for name, reason in bench.link.refused if name == "lost"}
    assert reasons == {"device 2: no answer: check its address, baud rate, parity and wiring"}
    line.silent.clear()
    await eventually(lambda: any(name == "lost" for name, _ in bench.values))
    asked = len(line.asked)
    await eventually(lambda: len(line.asked) >= asked + 20)
    assert [device for device, *_ in line.asked[asked : asked + 20]].count(2) == 10


async def test_a_silent_line_is_down_until_it_answers(modbus, line, supervised, eventually):
    bench = supervised(modbus(SOON_S, wall=register(0)))
    await eventually(lambda: bench.readings)
    line.wedged = True
    await eventually(lambda: bench.link.state is LinkState.DOWN)
    assert "no device answers" in bench.link.reason
    line.wedged = False
    await eventually(lambda: bench.link.ok)


async def test_a_plug_pulled_and_put_back(modbus, line, supervised, eventually):
    bench = supervised(modbus(wall=register(0)))
    await eventually(lambda: bench.readings)
    line.unplug()
    await eventually(lambda: bench.link.state is LinkState.DOWN)
    assert "is not there" in bench.link.reason or "unplugged" in bench.link.reason
    line.replug()
    await eventually(lambda: bench.link.ok)


def test_questions_are_those_of_the_specification():
    """Frames of the Modbus specification (as quoted in public test suites)."""
    (block,) = blocks(
        [channel(name) for name in "abc"],
        [register(0x6B + at, device=0x11, function=3, scale=1.0) for at in range(3)],
    )
    assert question(block) == bytes.fromhex("1103006B00037687")
    words = answer_in(bytes.fromhex("110306AE415652434049AD"), block)
    assert list(words) == [0xAE41, 0x5652, 0x4340]


def test_an_answer_cut_anywhere_is_the_same_answer():
    (block,) = blocks([channel("a")], [register(0, scale=1.0)])
    whole = bytes.fromhex("010402ffff") + bytes.fromhex("b880")
    assert answer_in(whole, block) == [0xFFFF]
    assert all(answer_in(whole[:cut], block) is None for cut in range(len(whole)))
    assert answer_in(b"\x01\x04" + whole, block) == [0xFFFF]


def test_registers_that_nobody_asked_for_are_not_read():
    channels = [channel(name) for name in "abcd"]
    registers = [register(0), register(3), register(4, type=RegisterType.FLOAT32), register(400)]
    found = [(block.address, block.count) for block in blocks(channels, registers)]
    assert found == [(0, 1), (3, 3), (400, 1)]


def test_a_read_has_at_most_125_registers():
    channels = [channel(f"c{at}") for at in range(130)]
    found = [(b.address, b.count) for b in blocks(channels, [register(at) for at in range(130)])]
    assert found == [(0, 125), (125, 5)]
