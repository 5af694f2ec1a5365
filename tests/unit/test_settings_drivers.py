"""What the configuration says about instruments that are wired."""

from pathlib import Path

import pytest

from logger.errors import SettingsError
from tests.support.settings_text import PORT, bench


def test_a_port_is_plain_unless_it_says_otherwise(read):
    plain = read(bench("serial-lines", PORT, "field = 0"))
    assert (plain.parity, plain.stop_bits, plain.dtr, plain.rts) == ("none", 1, None, None)
    keys = PORT + 'parity = "even"\nstop_bits = 2\ndtr = false\nrts = true'
    told = read(bench("serial-lines", keys, "field = 0"))
    assert (told.parity, told.stop_bits, told.dtr, told.rts) == ("even", 2, False, True)


def test_lines_that_are_asked_for(read):
    keys = PORT + 'start = ["UNIT g"]\npoll = ["READ?"]\nevery = "2 s"\ncommand_end = "lf"'
    told = read(bench("serial-lines", keys, "field = 0"))
    assert (told.start, told.poll, told.every_s) == (("UNIT g",), ("READ?",), 2.0)
    assert (told.command_end, told.answer_within_s) == ("lf", 1.0)


def test_several_devices_on_one_port(read):
    told = read(bench("serial-lines", PORT, 'device = "A"\nfield = 1', 'device = "B"\nfield = 1'))
    assert [(one.device, one.field) for one in told.channel] == [("A", 1), ("B", 1)]


def test_scpi(read):
    told = read(
        bench(
            "scpi",
            PORT,
            'query = "MEAS:TEMP? (@101,102)"',
            'query = "MEAS:TEMP? (@101,102)"\nfield = 1',
        )
    )
    assert {one.query for one in told.channel} == {"MEAS:TEMP? (@101,102)"}
    assert [one.field for one in told.channel] == [0, 1]


def test_modbus_has_the_defaults_of_its_standard(read):
    told = read(
        bench(
            "modbus-rtu",
            PORT,
            "device = 1\naddress = 0\nscale = 0.1",
            'device = 2\naddress = 10\ntable = "holding"\ntype = "float32"\n'
            'word_order = "low-first"',
        )
    )
    assert (told.baud, told.parity) == (19_200, "even")
    first, second = told.channel
    assert (first.device, first.address, first.table) == (1, 0, "input")
    assert (first.type, first.word_order, first.scale) == ("int16", None, 0.1)
    assert (second.device, second.address, second.table) == (2, 10, "holding")
    assert (second.type, second.word_order, second.scale) == ("float32", "low-first", 1.0)


def test_one_wire(read):
    told = read(bench("one-wire", "", 'field = "28-0000000000a1"'))
    assert [one.field for one in told.channel] == ["28-0000000000a1"]
    assert told.folder == Path("/sys/bus/w1/devices")
    told = read(bench("one-wire", 'folder = "/mnt/w1"', 'field = "28-0000000000a1"'))
    assert told.folder == Path("/mnt/w1")


FAULTS = [
    (bench("serial-lines", PORT + 'parity = "mark"', "field = 0"), 'parity: "mark" is not known'),
    (bench("serial-lines", PORT + "stop_bits = 3", "field = 0"), "stop_bits: 3 is not a whole"),
    (bench("serial-lines", PORT + 'every = "2 s"', "field = 0"), "every: is for an instrument"),
    (
        bench("serial-lines", PORT + 'poll = "READ"', "field = 0"),
        'poll: "READ" is not a list; write',
    ),
    (
        bench("serial-lines", PORT, 'device = "A"\nfield = 0'),
        "field: 0 is the column that names the device; write 1 or more",
    ),
    (
        bench("serial-lines", PORT + 'format = "json"', 'device = "A"\nfield = "t"'),
        "device: is for csv, where the first column names it; leave it out",
    ),
    (
        bench("serial-lines", PORT, 'device = "A"\nfield = 1', "field = 2"),
        "channel.device: missing where another channel has it; write which one",
    ),
    (bench("scpi", PORT, "field = 0"), 'channel.query: missing; write query = "MEAS:TEMP?'),
    (bench("scpi", PORT, 'query = "MEAS:TEMP"'), 'query: "MEAS:TEMP" is not a question; write'),
    (
        bench("scpi", PORT, 'query = "READ?"', 'query = "READ?"'),
        'channel.query: "c0" reads query "READ?" already; write another',
    ),
    (bench("modbus-rtu", PORT, "address = 0"), "channel.device: missing; write device = 1"),
    (
        bench("modbus-rtu", PORT, "device = 0\naddress = 0"),
        "device: 0 is not a whole number from 1",
    ),
    (bench("modbus-rtu", PORT, "device = 1"), "channel.address: missing; write address = 0"),
    (
        bench("modbus-rtu", PORT, 'device = 1\naddress = 0\nword_order = "low-first"'),
        "word_order: int16 has only one word; leave it out",
    ),
    (
        bench("modbus-rtu", PORT, "device = 1\naddress = 0\nscale = 0"),
        "scale: is not a number other than zero; write",
    ),
    (
        bench("modbus-rtu", PORT, *["device = 1\naddress = 0"] * 2),
        'channel.address: "c0" reads the same already; write another',
    ),
    (
        bench("one-wire", "", 'field = "../../etc"'),
        'field: "../../etc" is not a 1-Wire sensor; write',
    ),
    (bench("one-wire", PORT, 'field = "28-0000000000a1"'), "instrument.port: unknown key;"),
]


@pytest.mark.parametrize(("text", "says"), FAULTS, ids=[says for _, says in FAULTS])
def test_a_fault_alone_is_reported_alone(read, text, says):
    with pytest.raises(SettingsError) as caught:
        read(text)
    (problem,) = caught.value.problems
    assert says in problem
