"""Eight instruments of every wired kind whose readings are numbered, and what can befall them."""

import random
import threading
import time
from collections.abc import Container
from contextlib import suppress
from dataclasses import dataclass, field

from simulators.line_formats import LineFormat
from simulators.modbus_line import ModbusLine
from simulators.one_wire_folder import OneWireFolder
from simulators.polled_lines import PolledLines
from simulators.printing_port import PrintingPort
from simulators.scpi_scanner import ScpiScanner
from tests.support.waiting import patient, until

SILENT_AFTER_S = 2.0
PRINTED_EVERY_S = 0.2
SHOWN_FOR_S = 1.5  # by the 1-Wire sensor, which is asked twice a second
SENSOR = "28-0000000000a1"

HEAD = """
[bench]
name = "fault-bench"
data = "{{folder}}/data"
[web]
listen = "127.0.0.1:0"
"""
INSTRUMENT = """
[[instrument]]
name = "{name}"
driver = "{driver}"
silent_after = "2 s"
{keys}
[[instrument.channel]]
name = "{name}"
quantity = "{quantity}"
place = "support"
unit = "{unit}"
{where}
"""
ASKED = 'every = "500 ms"\nanswer_within = "300 ms"'


@dataclass
class Source:
    """One instrument: what it sent when, and when it was in trouble."""

    name: str
    driver: str
    device: object
    where: str
    keys: str = ""
    quantity: str = "temperature"
    unit: str = "degC"
    sent: dict[int, float] = field(default_factory=dict)  # Unix seconds, by number
    troubles: list[tuple[float, float]] = field(default_factory=list)
    silences: list[tuple[str, float]] = field(default_factory=list)
    count: int = 0
    quiet: bool = False
    due_s: float = 0.0

    @property
    def configuration(self) -> str:
        port = "" if self.driver == "one-wire" else f'port = "{{folder}}/{self.name}"\n'
        return INSTRUMENT.format(
            name=self.name,
            driver=self.driver,
            keys=port + self.keys,
            quantity=self.quantity,
            unit=self.unit,
            where=self.where,
        )

    def spared(self, at_s: float) -> bool:
        """Whether what was sent then may be lost."""
        return any(from_s - 0.2 < at_s < to_s for from_s, to_s in self.troubles)

    def missing(self, stored: Container[int], before_s: float) -> list[int]:
        """Numbers that were sent outside all troubles and before then, and are not stored."""
        shown_s = SHOWN_FOR_S if self.driver == "one-wire" else 0.0
        kept_s = shown_s or 0.2
        return [
            number
            for number, at_s in list(self.sent.items())
            if number not in stored
            and at_s < before_s - kept_s
            and not self.spared(at_s)
            and not self.spared(at_s + shown_s)
        ]

    def unalarmed(self, raised: list[tuple[str, float]]) -> list[str]:
        """Silences without an alarm `silent` in time; `raised` by channel and time."""
        return [
            why
            for why, since_s in self.silences
            if not any(
                name == self.name and 0.0 < at_s - since_s < SILENT_AFTER_S + 2.0
                for name, at_s in raised
            )
        ]


def value_of(number: int) -> float:
    return 20.0 + number / 100.0


def number_of(value: float) -> int:
    return round((value - 20.0) * 100.0)


class MixedBench:
    """The instruments, all served by one thread."""

    def __init__(self, folder) -> None:
        self.folder = folder
        bus = OneWireFolder(folder / "w1")
        pairs = LineFormat(format="pairs", keys=("t", "n"), separator=" ")
        json_lines = LineFormat(format="json", keys=("t", "n"))
        polled = f'format = "pairs"\npoll = ["READ?"]\n{ASKED}'
        self.sources = [
            Source("csv", "serial-lines", PrintingPort(folder / "csv"), "field = 0", "columns = 2"),
            Source("json", "serial-lines", PrintingPort(folder / "json", json_lines),
                   'field = "t"', 'format = "json"'),
            Source("pairs", "serial-lines", PrintingPort(folder / "pairs", pairs),
                   'field = "t"', 'format = "pairs"'),
            Source("balance", "serial-lines", PolledLines(folder / "balance", {}),
                   'field = "m"', polled, "mass", "g"),
            Source("meter", "scpi", ScpiScanner(folder / "meter", {}),
                   'query = "MEAS:TEMP? (@101)"', ASKED),
            Source("scanner", "scpi", ScpiScanner(folder / "scanner", {}),
                   'query = "MEAS:TEMP? (@101)"', ASKED),
            Source("line", "modbus-rtu", ModbusLine(folder / "line", {1: {3: {0: 0}}}),
                   'device = 1\ntable = "holding"\naddress = 0\nscale = 0.01',
                   f'baud = 115200\nparity = "none"\n{ASKED}'),
            Source("bus", "one-wire", bus, f'field = "{SENSOR}"',
                   'folder = "{folder}/w1"\nevery = "500 ms"'),
        ]  # fmt: skip
        self.by_name = {source.name: source for source in self.sources}
        self.lock = threading.Lock()  # a plug is not pulled in the middle of a write
        self._running = threading.Event()
        self._thread = threading.Thread(target=self._serve, daemon=True)
        bus.show(SENSOR, 20.0)

    @property
    def configuration(self) -> str:
        head = HEAD.replace("{{folder}}", "{folder}")
        return head + "".join(source.configuration for source in self.sources)

    def __enter__(self):
        self._running.set()
        self._thread.start()
        return self

    def __exit__(self, *exc):
        self.stop()
        for source in self.sources:
            if source.driver != "one-wire":
                source.device.unplug()

    def stop(self) -> None:
        self._running.clear()
        self._thread.join(patient(5))

    def _serve(self) -> None:
        while self._running.is_set():
            with self.lock:
                for source in self.sources:
                    self._turn(source)
            time.sleep(0.002)

    def _turn(self, source: Source) -> None:
        now_s = time.time()
        if source.driver == "one-wire":
            if now_s >= source.due_s and not source.quiet:
                source.due_s = now_s + SHOWN_FOR_S
                source.count += 25  # in steps of the sensor: a quarter of a kelvin
                source.device.show(SENSOR, value_of(source.count))
                source.sent[source.count] = now_s
        elif isinstance(source.device, PolledLines | ScpiScanner | ModbusLine):
            self._answer(source)
        elif now_s >= source.due_s and not source.quiet:
            source.due_s = now_s + PRINTED_EVERY_S
            source.count += 1
            if source.device.write_line([value_of(source.count), 1.0]):
                source.sent[source.count] = now_s

    def _answer(self, source: Source) -> None:
        device = source.device
        data = device.receive()
        if not data:
            return
        value = value_of(source.count + 1)
        spoilt = isinstance(device, ModbusLine) and bool(device.spoilt)
        match device:
            case PolledLines():
                device.lines = {"READ?": f"m={value:.2f}"}
            case ScpiScanner():
                device.values = {101: value}
            case ModbusLine():
                device.put(1, 3, 0, round(value * 100).to_bytes(2, "big"))
        answer = device.answers(data)
        if not answer or device.wedged:
            return
        measured = not isinstance(device, ScpiScanner) or b"E+" in answer
        source.count += measured
        whole = device.send_raw(answer) == len(answer)
        if measured and whole and not spoilt:
            source.sent[source.count] = time.time()


# faults: each is called with bench, source and a seeded generator; it ends when the fault does


def plug(bench, source, rng):
    with bench.lock:
        source.device.unplug()
    _silent(source, "plug")
    with bench.lock:
        source.device.replug()


def half_line_and_plug(bench, source, rng):
    with bench.lock:
        source.device.write_half_line([99.0, 1.0])
    plug(bench, source, rng)


def silence(bench, source, rng):
    source.quiet = True
    _silent(source, "silence")
    source.quiet = False


def wedged(bench, source, rng):
    source.device.wedged = True
    _silent(source, "wedged")
    source.device.wedged = False


def noise(bench, source, rng):
    with bench.lock:
        source.device.send_raw(rng.randbytes(200))
    time.sleep(0.5)


def bad_crc(bench, source, rng):
    if source.driver == "one-wire":
        with bench.lock:
            source.quiet = True
            source.device.show(SENSOR, 99.0, bad_crc=True)
        _silent(source, "bad CRC")
        source.quiet = False
        return
    with bench.lock:
        source.device.spoilt += ["crc", "half", "crc"]
    time.sleep(1.5)


def power_on(bench, source, rng):
    with bench.lock:
        source.quiet = True
        source.device.show_power_on(SENSOR)
    _silent(source, "power-on value")
    source.quiet = False


def off_the_bus(bench, source, rng):
    with bench.lock, suppress(FileNotFoundError):
        source.quiet = True
        source.device.unplug(SENSOR)
    _silent(source, "off the bus")
    source.quiet = False


def _silent(source: Source, why: str) -> None:
    source.silences.append((why, time.time()))
    time.sleep(SILENT_AFTER_S + 1.5)


FAULTS = {
    "csv": (plug, noise, silence, half_line_and_plug, noise),
    "json": (noise, plug, silence, noise, plug),
    "pairs": (silence, half_line_and_plug, noise, plug, silence),
    "balance": (wedged, plug, noise, wedged, plug),
    "meter": (plug, wedged, noise, plug, wedged),
    "scanner": (noise, plug, wedged, noise, wedged),
    "line": (bad_crc, wedged, plug, noise, bad_crc),
    "bus": (bad_crc, off_the_bus, power_on, bad_crc, off_the_bus),
}


def script(count: int) -> list[tuple[str, object]]:
    """`count` faults, one instrument after the other."""
    turns = [(name, faults[turn]) for turn in range(5) for name, faults in FAULTS.items()]
    return turns[:count]


def suffer(bench: MixedBench, service, name: str, fault, rng: random.Random) -> float:
    """One fault, until readings come again; how long that took from the fault's end."""
    source = bench.by_name[name]
    from_s = time.time()
    fault(bench, source, rng)
    ended_s = time.time()

    def link():
        return next(one for one in service.now()["instruments"] if one["name"] == name)

    before = link()["readings"]
    until(lambda: link()["state"] == "up" and link()["readings"] > before, f"{name} comes back")
    back_s = time.time()
    source.troubles.append((from_s, back_s + 0.3))
    return back_s - ended_s
