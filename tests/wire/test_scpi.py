"""Driver `scpi` against a simulated scanner on a pseudo-terminal."""

import pytest

from logger.instruments.instrument_link import LinkState
from logger.instruments.scpi import Scpi, queries
from logger.instruments.serial_link import SerialOptions
from logger.quantities import Channel, Place, Position, Quantity
from simulators.scpi_scanner import ScpiScanner

WITHIN_S = 1.0  # for an answer; the simulator needs 2 ms, the machine may be busy
SOON_S = 0.2  # where the test waits for it to be over


def channel(name):
    return Channel(
        name=name,
        instrument="scanner",
        quantity=Quantity.TEMPERATURE,
        place=Place(position=Position.ROOM),
    )


@pytest.fixture
async def scanner(tmp_path, answering):
    return answering(ScpiScanner(tmp_path / "scanner", {101: 57.25, 102: 40.5, 103: None}))


@pytest.fixture
def meter(scanner, bench_time):
    """Channels by name, each with its question and its place in the answer."""

    def make(within_s=WITHIN_S, **asked):
        texts, places = zip(*asked.values(), strict=True)
        return Scpi(
            "scanner",
            options=SerialOptions(port=str(scanner.link)),
            queries=queries(texts, places, [channel(name) for name in asked]),
            now=bench_time,
            every_s=0.01,
            within_s=within_s,
        )

    return make


async def test_values_of_one_answer_share_its_stamp(meter, supervised, bench_time, eventually):
    both = "MEAS:TEMP? (@101,102)"
    bench = supervised(meter(room=(both, 1), wall=(both, 0)))
    await eventually(lambda: len(bench.readings) >= 4)
    assert bench.values[:4] == [("room", 40.5), ("wall", 57.25)] * 2
    assert {reading.at_s for reading in bench.readings} == {bench_time.at_s}
    assert bench.link.about == "Harbour Instruments Scanner 8"
    assert bench.link.state is LinkState.UP
    assert bench.link.refused_count() == 0


async def test_a_question_is_asked_once_a_round(meter, scanner, supervised, eventually):
    both = "MEAS:TEMP? (@101,102)"
    supervised(meter(wall=(both, 0), other=("MEAS:TEMP? (@102)", 0), room=(both, 1)))
    await eventually(lambda: len(scanner.commands) > 20)
    rounds = " ".join(scanner.commands).split("SYST:ERR?")
    assert rounds[1].split() == ["MEAS:TEMP?", "(@101,102)", "MEAS:TEMP?", "(@102)"]


async def test_an_overload_is_never_a_reading(meter, supervised, eventually):
    all_three = "MEAS:TEMP? (@101,102,103)"
    bench = supervised(meter(wall=(all_three, 0), broken=(all_three, 2)))
    await eventually(lambda: len(bench.readings) >= 3)
    assert {name for name, _ in bench.values} == {"wall"}
    assert bench.link.refused_count("broken") >= 2
    ((_, reason),) = bench.link.refused
    assert "over range" in reason


async def test_what_the_instrument_complains_about_is_reported(
    meter, scanner, supervised, eventually
):
    bench = supervised(meter(SOON_S, wall=("MEAS:TEMP? (@101)", 0), wrong=("MEAS:FLUX?", 0)))
    await eventually(
        lambda: (None, "the instrument reports -113 Undefined header") in bench.link.refused
    )
    assert ("wrong", "no answer to MEAS:FLUX?") in bench.link.refused
    assert {name for name, _ in bench.values} <= {"wall"}


async def test_a_late_answer_never_becomes_another_channels(meter, scanner, supervised, eventually):
    """It comes when the time for it is over, just ahead of the answer to the next question."""
    bench = supervised(meter(SOON_S, wall=("MEAS:TEMP? (@101)", 0), room=("MEAS:TEMP? (@102)", 0)))
    await eventually(lambda: bench.readings)
    for _ in range(3):
        seen = bench.link.refused_count("wall")
        scanner.slow = "MEAS:TEMP? (@101)"
        await eventually(lambda seen=seen: bench.link.refused_count("wall") > seen)
        taken = len(bench.readings)
        await eventually(lambda taken=taken: len(bench.readings) > taken + 4)
    assert set(bench.values) == {("wall", 57.25), ("room", 40.5)}


async def test_a_wedged_instrument_is_down_until_it_answers(meter, scanner, supervised, eventually):
    bench = supervised(meter(SOON_S, wall=("MEAS:TEMP? (@101)", 0)))
    await eventually(lambda: bench.readings)
    scanner.wedged = True
    await eventually(lambda: bench.link.state is LinkState.DOWN)
    assert "no answer to *IDN?" in bench.link.reason
    scanner.wedged = False
    seen = len(bench.readings)
    await eventually(lambda: len(bench.readings) > seen)
    assert bench.link.ok


async def test_without_an_error_queue_it_reads_on(meter, scanner, supervised, eventually):
    scanner.has_error_queue = False
    bench = supervised(meter(SOON_S, wall=("MEAS:TEMP? (@101)", 0)))
    await eventually(lambda: len(bench.readings) > 5)
    assert bench.link.refused[None, "no answer to SYST:ERR?"].count == 1


async def test_a_plug_pulled_and_put_back(meter, scanner, supervised, eventually):
    bench = supervised(meter(wall=("MEAS:TEMP? (@101)", 0)))
    await eventually(lambda: bench.readings)
    scanner.unplug()
    await eventually(lambda: bench.link.state is LinkState.DOWN)
    scanner.replug()
    await eventually(lambda: bench.link.ok)


async def test_start_commands_are_sent_at_each_opening(scanner, supervised, bench_time, eventually):
    instrument = Scpi(
        "scanner",
        options=SerialOptions(port=str(scanner.link)),
        queries=queries(["MEAS:TEMP? (@101)"], [0], [channel("wall")]),
        now=bench_time,
        start=("*CLS",),
        every_s=0.01,
        within_s=WITHIN_S,
    )
    bench = supervised(instrument)
    await eventually(lambda: bench.link.ok)
    assert scanner.commands[:2] == ["*IDN?", "*CLS"]
