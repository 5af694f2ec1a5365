"""Driver `serial-lines` with instruments that speak when they are asked."""

import asyncio
import os
import termios

import pytest

from logger.instruments.decoders.lines import Format, LineDecoder
from logger.instruments.instrument_link import LinkState
from logger.instruments.serial_lines import SerialLines, Talk
from logger.instruments.serial_link import SerialOptions
from logger.quantities import Channel, Place, Position, Quantity, Unit
from simulators.polled_lines import PolledLines

WITHIN_S = 1.0  # for an answer; the simulator needs 2 ms, the machine may be busy
SOON_S = 0.1  # where the test waits for it to be over


@pytest.fixture
async def balance(tmp_path, answering):
    return answering(PolledLines(tmp_path / "balance", {"READ?": "412.5 g", "T": "ok"}))


@pytest.fixture
def asked(balance, bench_time):
    def make(*poll, start=(), within_s=WITHIN_S, **options):
        mass = Channel(
            name="mass",
            instrument="balance",
            quantity=Quantity.MASS,
            place=Place(position=Position.SUPPORT),
            unit=Unit(name="g"),
        )
        return SerialLines(
            "balance",
            options=SerialOptions(port=str(balance.link), **options),
            channels=[mass],
            decoder=lambda: LineDecoder(Format.CSV, [0], drop_head=not poll),
            now=bench_time,
            talk=Talk(start=start, poll=poll, every_s=0.01, within_s=within_s),
        )

    return make


async def test_each_question_brings_a_reading_the_first_one_too(asked, supervised, eventually):
    bench = supervised(asked("READ?"))
    await eventually(lambda: len(bench.readings) >= 5)
    assert set(bench.values) == {("mass", 412.5)}
    assert bench.link.refused_count() == 0


async def test_commands_at_the_start_are_sent_once_an_opening(
    asked, balance, supervised, eventually
):
    bench = supervised(asked("READ?", start=("UNIT g",)))
    await eventually(lambda: len(bench.readings) >= 3)
    assert balance.commands[:2] == ["UNIT g", "READ?"]
    assert balance.commands.count("UNIT g") == 1


async def test_half_an_answer_never_becomes_the_head_of_the_next(
    asked, balance, supervised, eventually
):
    balance.lines["READ?"] = "412.5 g"
    bench = supervised(asked("READ?", within_s=SOON_S))
    await eventually(lambda: bench.readings)
    balance.wedged = True
    before = balance.questions
    await eventually(lambda: balance.questions > before)
    balance.send_raw(b"4")
    await eventually(bench.link.refused_count)
    balance.send_raw(b"12.")
    balance.wedged = False
    seen = len(bench.readings)
    await eventually(lambda: len(bench.readings) > seen + 3)
    assert set(bench.values) == {("mass", 412.5)}


async def test_one_that_does_not_answer_is_down_until_it_does(
    asked, balance, supervised, eventually
):
    bench = supervised(asked("READ?", within_s=SOON_S))
    await eventually(lambda: bench.readings)
    balance.wedged = True
    await eventually(lambda: bench.link.state is LinkState.DOWN)
    assert "no answer" in bench.link.reason
    balance.wedged = False
    await eventually(lambda: bench.link.ok)


async def test_one_that_talks_unasked_is_told_apart(asked, balance, supervised, eventually):
    bench = supervised(asked("NOTHING", within_s=SOON_S))

    def talk():
        balance.send_raw(b"412.5 g\r\n")
        return "sends without being asked" in bench.link.reason

    await eventually(talk)


async def test_stop_bits_and_control_lines_can_be_set(asked, balance, supervised, eventually):
    """A pseudo-terminal has no control lines: setting them must not end the opening."""
    bench = supervised(asked("READ?", stop_bits=2, baud=19_200, dtr=False, rts=False))
    await eventually(lambda: bench.readings)
    port = os.open(balance.link, os.O_RDWR | os.O_NOCTTY)
    try:
        _, _, cflag, _, ispeed, _, _ = termios.tcgetattr(port)
    finally:
        os.close(port)
    assert cflag & termios.CSTOPB
    assert ispeed == termios.B19200


async def test_a_parity_that_the_port_has_not_is_told_and_tried_again(
    asked, balance, supervised, eventually
):
    """Linux lets a pseudo-terminal drop the parity bit in silence once, and refuses it then."""
    first = supervised(asked("READ?", parity="E"))
    await eventually(lambda: first.readings)
    first.task.cancel()
    await asyncio.gather(first.task, return_exceptions=True)
    second = supervised(asked("READ?", parity="E"))
    await eventually(lambda: second.link.state is LinkState.DOWN)
    assert "check baud, parity or stop bits" in second.link.reason
