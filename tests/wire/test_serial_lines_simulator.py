"""The simulated serial instrument as a reader finds it: bytes on a real pseudo-terminal."""

import json
import os
import select
import signal
import subprocess
import sys
import time
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path

import pytest
import serial

from simulators.line_formats import LineFormat
from simulators.printing_port import PrintingPort
from simulators.scenarios import SCENARIOS
from tests.support.processes import die_with_parent
from tests.support.waiting import patient

DEADLINE_S = patient(10.0)


@contextmanager
def opened(path: Path) -> Iterator[int]:
    reader = os.open(path, os.O_RDWR | os.O_NOCTTY | os.O_NONBLOCK)
    try:
        yield reader
    finally:
        os.close(reader)


def read_until(reader: int, enough) -> bytes:
    data, end_s = b"", time.monotonic() + DEADLINE_S
    while not enough(data):
        assert select.select([reader], [], [], max(0.0, end_s - time.monotonic()))[0], data
        data += os.read(reader, 65536)
    return data


def read_lines(reader: int, count: int) -> list[bytes]:
    return read_until(reader, lambda data: data.count(b"\n") >= count).splitlines(keepends=True)


def drained(reader: int) -> bytes:
    data = b""
    while select.select([reader], [], [], 0.2)[0]:
        data += os.read(reader, 65536)
    return data


def ended(reader: int) -> bool:
    """Whether the stream's end shows, in either form a system gives it."""
    assert select.select([reader], [], [], DEADLINE_S)[0]
    try:
        return os.read(reader, 100) == b""
    except OSError:
        return True


@contextmanager
def at_most(seconds: float) -> Iterator[None]:
    """Break off what waits for ever, a blocked write for one."""

    def too_long(*_: object) -> None:
        raise TimeoutError(f"still waiting after {seconds} s")

    before = signal.signal(signal.SIGALRM, too_long)
    signal.setitimer(signal.ITIMER_REAL, seconds)
    try:
        yield
    finally:
        signal.setitimer(signal.ITIMER_REAL, 0.0)
        signal.signal(signal.SIGALRM, before)


@pytest.fixture
def port(tmp_path) -> Iterator[PrintingPort]:
    with PrintingPort(tmp_path / "usb-jar-a") as made:
        yield made


VALUES = [41.2, None, -0.5, 100.0]
KEYS = ("wall-25", "wall-45", "base", "spot")


@pytest.mark.parametrize(
    ("line_format", "line"),
    [
        pytest.param(LineFormat(), b"41.20,,-0.50,100.00\r\n", id="csv"),
        pytest.param(
            LineFormat(separator=";", decimal=",", decimals=1, line_end="\n"),
            b"41,2;;-0,5;100,0\n",
            id="csv-decimal-comma",
        ),
        pytest.param(
            LineFormat(unit="C", decimals=1), b"41.2C,,-0.5C,100.0C\r\n", id="csv-with-unit"
        ),
        pytest.param(
            LineFormat(format="pairs", keys=KEYS, separator=" "),
            b"wall-25=41.20 base=-0.50 spot=100.00\r\n",
            id="pairs",
        ),
        pytest.param(
            LineFormat(format="pairs", keys=KEYS, assign=":", separator=", ", line_end="\r"),
            b"wall-25:41.20, base:-0.50, spot:100.00\r",
            id="pairs-colon",
        ),
        pytest.param(
            LineFormat(format="json", keys=KEYS, line_end="\n"),
            b'{"wall-25": 41.20, "wall-45": null, "base": -0.50, "spot": 100.00}\n',
            id="json",
        ),
    ],
)
def test_a_line_is_printed_byte_by_byte_as_written_here(tmp_path, line_format, line):
    with PrintingPort(tmp_path / "port", line_format) as port, opened(port.link) as reader:
        assert port.write_line(VALUES)
        assert read_until(reader, lambda data: len(data) >= len(line)) == line
        assert (port.lines_sent, port.lines_lost, port.bytes_lost) == (1, 0, 0)


def test_json_lines_are_json():
    line = LineFormat(format="json", keys=KEYS).line(VALUES)
    assert json.loads(line) == dict(zip(KEYS, VALUES, strict=True))


def test_as_many_keys_as_values_or_nothing():
    for format_ in ("json", "pairs"):
        with pytest.raises(ValueError, match="zip"):
            LineFormat(format=format_, keys=KEYS[:2]).line(VALUES)


def test_the_terminal_is_raw_and_echoes_nothing(port):
    everything = bytes(range(256))
    with opened(port.link) as reader:
        assert port.send_raw(everything) == 256
        assert read_until(reader, lambda data: len(data) >= 256) == everything
        os.write(reader, b"who are you?\n")
        assert drained(reader) == b""


def test_the_usual_serial_library_can_open_and_lock_it(port):
    with serial.Serial(str(port.link), 9600, exclusive=True, timeout=DEADLINE_S) as reader:
        with pytest.raises(serial.SerialException):
            serial.Serial(str(port.link), 9600, exclusive=True)
        port.write_line([1.0, 2.0])
        assert reader.readline() == b"1.00,2.00\r\n"


def test_what_is_printed_before_anybody_listens_is_lost_and_counted(port):
    assert not port.opened
    assert not port.write_line([1.0])
    assert (port.lines_lost, port.bytes_lost) == (1, len(b"1.00\r\n"))
    with opened(port.link) as reader:
        assert port.opened
        assert port.write_line([2.0])
        assert read_lines(reader, 1) == [b"2.00\r\n"]
    assert not port.opened
    assert not port.write_line([3.0])


def test_a_reader_who_sleeps_never_stops_the_instrument(port):
    count = 5000
    line = len(b"41.25,41.25,41.25\r\n")
    with opened(port.link) as reader:
        with at_most(DEADLINE_S):
            for _ in range(count):
                port.write_line([41.25] * 3)
        assert port.lines_lost > 0
        assert port.lines_sent + port.lines_lost == count
        got = drained(reader)
        assert len(got) == count * line - port.bytes_lost
        assert got.count(b"\n") >= port.lines_sent > 0
        # Awake again, the reader finds the instrument talking, perhaps after a cut line.
        assert port.write_line([7.0])
        assert read_lines(reader, 1)[-1].endswith(b"7.00\r\n")


def test_pulling_the_plug_ends_the_stream_and_takes_the_path_away(port):
    with opened(port.link) as reader:
        port.write_line([1.0])
        read_lines(reader, 1)
        port.unplug()
        assert ended(reader)
    assert not port.link.is_symlink()
    assert not port.plugged
    assert not port.opened
    assert not port.write_line([2.0])
    port.unplug()
    with pytest.raises(FileNotFoundError):
        os.open(port.link, os.O_RDONLY)


def test_plugged_in_again_the_path_is_the_same_and_the_old_handle_stays_dead(port):
    with opened(port.link) as old:
        port.unplug()
        port.replug()
        assert not port.opened
        with opened(port.link) as reader:
            port.replug()  # plugged in already: the reader keeps his line
            assert port.opened
            assert port.write_line([3.0])
            assert read_lines(reader, 1) == [b"3.00\r\n"]
            assert ended(old)


def test_replugging_leaks_no_descriptor_and_no_stray_link(port, tmp_path):
    before = len(os.listdir("/proc/self/fd"))
    for _ in range(50):
        port.unplug()
        port.replug()
    assert len(os.listdir("/proc/self/fd")) == before
    assert [entry.name for entry in tmp_path.iterdir()] == [port.link.name]
    port.unplug()
    assert list(tmp_path.iterdir()) == []


def test_half_a_line_and_garbage_are_one_call_each(port):
    with opened(port.link) as reader:
        assert port.write_half_line([41.25, 42.5]) == 6
        assert read_until(reader, lambda data: len(data) >= 6) == b"41.25,"
        port.send_raw(b"\xff\x00\x13junk\r\r\n")
        assert read_lines(reader, 1) == [b"\xff\x00\x13junk\r", b"\r\n"]


def test_a_scenario_prints_its_channels(port):
    scenario = SCENARIOS["first-light"](0)
    scenario.light()
    with opened(port.link) as reader:
        for _ in range(10):
            scenario.advance(1.0)
            port.write_line(scenario.sample())
        lines = read_lines(reader, 10)
    assert len(lines) == 10
    assert {line.count(b",") for line in lines} == {len(scenario.channels) - 1}


@contextmanager
def process(tmp_path: Path, *arguments: str) -> Iterator[tuple[subprocess.Popen[bytes], Path]]:
    output = tmp_path / "output.txt"  # a file: an orphan holding a pipe would hang the test run
    with output.open("wb") as sink:
        running = subprocess.Popen(
            [sys.executable, "-m", "simulators", *arguments],
            stdout=sink,
            stderr=subprocess.STDOUT,
            cwd=Path(__file__).parents[2],
            preexec_fn=die_with_parent,  # noqa: PLW1509 - one prctl call, no lock taken
        )
    try:
        yield running, output
    finally:
        running.kill()
        running.wait(DEADLINE_S)


def wait_for(condition, running, output) -> None:
    end_s = time.monotonic() + DEADLINE_S
    while not condition():
        assert running.poll() is None, output.read_text()
        assert time.monotonic() < end_s, output.read_text()
        time.sleep(0.01)  # polled, with the deadline above


@pytest.mark.parametrize("stop", [signal.SIGTERM, signal.SIGINT])
def test_it_runs_alone_until_it_is_stopped(tmp_path, stop):
    link = tmp_path / "jar"
    arguments = ("--link", str(link), "--wick", "wick-5", "--speed", "100", "--format", "json")
    with process(tmp_path, *arguments) as (running, output):
        wait_for(lambda: "lit" in output.read_text(), running, output)
        assert f"port {link}" in output.read_text()
        with opened(link) as reader:
            names, *_ = (json.loads(line) for line in read_lines(reader, 5)[1:4])
        assert f"channels {' '.join(names)}" in output.read_text()
        running.send_signal(stop)
        assert running.wait(DEADLINE_S) == 0
    assert not link.is_symlink()


def test_a_burn_at_high_speed_goes_out_and_cools(tmp_path):
    link = tmp_path / "jar"
    arguments = ("--link", str(link), "--speed", "2e4", "--every", "300", "--format", "json")
    with process(tmp_path, *arguments) as (running, output):
        wait_for(lambda: "out, cooling" in output.read_text(), running, output)
        with opened(link) as reader, at_most(DEADLINE_S):
            while True:
                _, whole, *_ = read_lines(reader, 2)  # the first may be a tail
                wall_c = json.loads(whole)["jar-a-wall-65-3"]
                if wall_c is not None and wall_c < 32.0:  # the room is at 25
                    break
        assert output.read_text().count("out, cooling") == 1


@pytest.mark.parametrize(
    ("link", "said"), [("taken", "choose another"), ("absent/jar", "make it first")]
)
def test_a_path_that_cannot_be_is_refused_in_words(tmp_path, link, said):
    (tmp_path / "taken").write_text("somebody's file")
    with process(tmp_path, "--link", str(tmp_path / link)) as (running, output):
        assert running.wait(DEADLINE_S) == 2
        assert said in output.read_text()
    assert (tmp_path / "taken").read_text() == "somebody's file"


def test_it_stops_by_sigint_also_where_a_script_started_it_behind_itself(tmp_path):
    """A shell without job control has what it starts with "&" ignore SIGINT (POSIX, 2.11)."""
    link = tmp_path / "probes"
    words = [sys.executable, "-m", "simulators", "--link", str(link)]
    running = subprocess.Popen(
        words,
        stdout=subprocess.DEVNULL,
        preexec_fn=lambda: signal.signal(signal.SIGINT, signal.SIG_IGN),  # noqa: PLW1509
    )
    try:
        with at_most(10.0):
            while not link.exists():
                time.sleep(0.02)
        running.send_signal(signal.SIGINT)
        assert running.wait(patient(5.0)) == 0
        assert not link.is_symlink()
    finally:
        running.kill()
        running.wait()
