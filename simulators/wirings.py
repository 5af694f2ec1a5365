"""How the demonstration's candle is wired to the bench: the instruments, and their configuration.

Each second a wiring puts on its wires what is measured then and waits until the service has folded
every reading of it, one instrument after the other in the order of the configuration: so the
readings come in the same order as a replay takes them.
"""

import asyncio
import time
from collections.abc import Callable, Iterable
from contextlib import ExitStack
from pathlib import Path
from types import TracebackType
from typing import Protocol, Self

from simulators import bluetooth_wiring
from simulators.answering import Answering
from simulators.bluetooth_wiring import BluetoothProbe
from simulators.candle import HEAT_OF_COMBUSTION_J_PER_G
from simulators.modbus_line import ModbusLine
from simulators.one_wire_folder import OneWireFolder
from simulators.polled_lines import PolledLines
from simulators.printing_port import PrintingPort
from simulators.scenarios import Scenario, SimulatedChannel
from simulators.scpi_scanner import ScpiScanner

PATIENCE_S = 30.0  # real seconds for a line to come through, also where a port is tried seldom
ASKED_EVERY_S = 5  # of bench time

Folded = Callable[[], int]  # how many readings the service has folded since it began


class NotTaken(Exception):
    """What was put on a wire was not taken; says what."""


class Wiring(Protocol):
    """A bench of simulated instruments; a context manager that plugs them in."""

    toml: str  # [[instrument]] tables of its configuration
    note: str  # what of it cannot be shown on this machine

    def __enter__(self) -> Self:
        """Plug them in."""
        ...

    def __exit__(
        self,
        kind: type[BaseException] | None,
        error: BaseException | None,
        trace: TracebackType | None,
    ) -> None:
        """Pull all plugs."""
        ...

    async def opened(self, folded: Folded) -> None:
        """Return when the service holds every port."""
        ...

    async def second(self, folded: Folded) -> None:
        """Let everything be read that is measured now."""
        ...

    def pull(self) -> None:
        """Pull the plug of the probes that send by themselves."""
        ...

    async def put_back(self) -> None:
        """Put it back; returns when the service holds the port again."""
        ...


class SerialWiring:
    """All probes on one board that prints a line a second."""

    note = ""

    def __init__(self, scenario: Scenario, folder: Path) -> None:
        self._scenario = scenario
        self._link = folder / scenario.instrument
        self._expected = 0
        self._plug = ExitStack()
        self.toml = _instrument(
            scenario.instrument, "serial-lines", port=str(self._link), format="csv"
        ) + "".join(
            _channel(channel, field=field) for field, channel in enumerate(scenario.channels)
        )

    def __enter__(self) -> Self:
        self._port = self._plug.enter_context(PrintingPort(self._link))
        return self

    def __exit__(
        self,
        kind: type[BaseException] | None,
        error: BaseException | None,
        trace: TracebackType | None,
    ) -> None:
        self._plug.close()

    async def opened(self, folded: Folded) -> None:
        """As `Wiring.opened`."""
        await _held(self._port)

    async def second(self, folded: Folded) -> None:
        """As `Wiring.second`."""
        if self._port.plugged:
            self._expected += _printed(self._port, self._scenario.sample())
            await _within(lambda: folded() >= self._expected, "a line was not read")

    def pull(self) -> None:
        """As `Wiring.pull`."""
        self._port.unplug()

    async def put_back(self) -> None:
        """As `Wiring.put_back`."""
        self._port.replug()
        await _held(self._port)


class MixedWiring:
    """The same probes on 1-Wire, SCPI, Modbus RTU, a balance, lines of text, and Bluetooth."""

    SENSOR = "28-0000000000a1"
    FULL_G = 412.0  # candle and vessel when lit
    HUMIDITY = 43.0  # per cent, in the room

    def __init__(self, scenario: Scenario, folder: Path) -> None:
        self._scenario = scenario
        self._folder = folder
        self._names = [channel.name for channel in scenario.channels]
        self._bus = OneWireFolder(folder / "w1")
        self._held: dict[str, float] = {}  # what the instruments that are asked show
        self._burnt_g = 0.0
        self._seconds = 0
        self._expected = 0
        self._plugs = ExitStack()
        by_name = {channel.name: channel for channel in scenario.channels}
        station = scenario.station
        self._scanned = [f"{station}-wall-{at}" for at in ("65-3", "65-9", "85-3")]
        self._base = f"{station}-base"
        asked = {*self._scanned, self._base, "room"}
        self._unwired = f"{station}-wall-45-3"
        self._radio = BluetoothProbe() if bluetooth_wiring.available() else None
        self.note = "" if self._radio else bluetooth_wiring.MISSING
        if self._radio:
            asked.add(self._unwired)
        self._printed = [name for name in self._names if name not in asked]
        every = f"{ASKED_EVERY_S} s"
        question = "MEAS:TEMP? (@101,102,103)"
        self.toml = "".join(
            (
                _instrument("bus-a", "one-wire", folder=str(self._bus.folder), every=every),
                _channel(by_name["room"], field=self.SENSOR),
                _instrument("scanner-a", "scpi", port=str(folder / "scanner-a"), every=every),
                *(
                    _channel(by_name[name], query=question, field=place)
                    for place, name in enumerate(self._scanned)
                ),
                _instrument(
                    "line-a",
                    "modbus-rtu",
                    port=str(folder / "line-a"),
                    parity="none",  # a pseudo-terminal has no parity bit
                    every=every,
                ),
                _channel(by_name[self._base], device=1, table="holding", address=0, scale=0.1),
                _channel(
                    SimulatedChannel(
                        name="room-humidity", position="room", quantity="humidity", unit="percent"
                    ),
                    device=2,
                    table="input",
                    address=0,
                    scale=0.1,
                ),
                _instrument(
                    "balance-a",
                    "serial-lines",
                    port=str(folder / "balance-a"),
                    format="pairs",
                    poll=["READ?"],
                    every=every,
                ),
                _channel(
                    SimulatedChannel(
                        name=f"{station}-mass",
                        position="support",
                        station=station,
                        quantity="mass",
                        unit="g",
                        resolution=0.01,
                    ),
                    field="m",
                ),
                _instrument(
                    scenario.instrument,
                    "serial-lines",
                    port=str(folder / scenario.instrument),
                    format="csv",
                ),
                *(_channel(by_name[name], field=n) for n, name in enumerate(self._printed)),
                self._unwired_toml(by_name[self._unwired]) if self._radio else "",
            )
        )

    def __enter__(self) -> Self:
        plug, folder = self._plugs.enter_context, self._folder
        if self._radio:
            plug(self._radio)
        self._scanner = plug(ScpiScanner(folder / "scanner-a", {}))
        self._line = plug(ModbusLine(folder / "line-a", {1: {3: {}}, 2: {4: {}}}))
        self._balance = plug(PolledLines(folder / "balance-a", {}))
        self._probes = plug(PrintingPort(folder / self._scenario.instrument))
        self._measure()
        self._show()
        return self

    def __exit__(
        self,
        kind: type[BaseException] | None,
        error: BaseException | None,
        trace: TracebackType | None,
    ) -> None:
        self._plugs.close()

    async def opened(self, folded: Folded) -> None:
        """As `Wiring.opened`; what is asked is asked at once for the first time."""
        await self._asked(folded, greetings=2)  # *IDN? and SYST:ERR?
        await _held(self._probes)
        if self._radio:
            radio = self._radio
            await radio.switch_on()
            await _within(lambda: radio.listened, "the Bluetooth probe was not connected to")

    async def second(self, folded: Folded) -> None:
        """As `Wiring.second`; the instruments that are asked come first."""
        if self._seconds and self._seconds % ASKED_EVERY_S == 0:
            await self._asked(folded, greetings=0)
        self._seconds += 1
        values = self._measure()
        if self._probes.plugged:
            self._expected += _printed(self._probes, [values[name] for name in self._printed])
            await _within(lambda: folded() >= self._expected, "a line was not read")
        if self._seconds % ASKED_EVERY_S == 0:
            await self._send(values.get(self._unwired), folded)
            self._show()  # before it is asked

    def pull(self) -> None:
        """As `Wiring.pull`."""
        self._probes.unplug()

    async def put_back(self) -> None:
        """As `Wiring.put_back`."""
        self._probes.replug()
        await _held(self._probes)

    async def _asked(self, folded: Folded, *, greetings: int) -> None:
        """One round of answers, one instrument after the other."""
        answers: tuple[tuple[Answering | None, int, int], ...] = (
            (None, 1, 0),  # the bus answers by itself
            (self._scanner, len(self._scanned), 2 + greetings),  # each round ends with SYST:ERR?
            (self._line, 2, 2),
            (self._balance, 1, 1),
        )
        for instrument, readings, questions in answers:
            self._expected += readings
            asked = questions + (0 if instrument is None else instrument.questions)

            def done(instrument: Answering | None = instrument, asked: int = asked) -> bool:
                if instrument is not None:
                    instrument.serve_once()
                    if instrument.questions < asked:
                        return False
                return folded() >= self._expected

            await _within(done, "an instrument that was asked was not read")

    async def _send(self, celsius: float | None, folded: Folded) -> None:
        if self._radio and celsius is not None and self._radio.send(celsius):
            self._expected += 1
            await _within(lambda: folded() >= self._expected, "the Bluetooth probe was not read")

    def _unwired_toml(self, channel: SimulatedChannel) -> str:
        return _instrument(
            "probe-b", "ble-gatt", address=BluetoothProbe.ADDRESS, silent_after="1 min"
        ) + _channel(channel, characteristic="temperature")

    def _measure(self) -> dict[str, float | None]:
        values = dict(zip(self._names, self._scenario.sample(), strict=True))
        self._held |= {name: value for name, value in values.items() if value is not None}
        self._burnt_g += self._scenario.candle.flame_w() / HEAT_OF_COMBUSTION_J_PER_G
        return values

    def _show(self) -> None:
        """What is measured now, for all that are asked; a lost reading leaves the last one."""
        held = self._held
        self._bus.show(self.SENSOR, held["room"])
        self._scanner.values = {101 + place: held[name] for place, name in enumerate(self._scanned)}
        for device, function, value in ((1, 3, held[self._base]), (2, 4, self.HUMIDITY)):
            tenths = round(10.0 * value)
            self._line.put(device, function, 0, tenths.to_bytes(2, "big", signed=True))
        self._balance.lines = {"READ?": f"m={self.FULL_G - self._burnt_g:.2f} g"}


WIRINGS: dict[str, Callable[[Scenario, Path], Wiring]] = {
    "serial": SerialWiring,
    "mixed": MixedWiring,
}
"""By the name that `wickbench demo --bench` takes."""


def _printed(port: PrintingPort, values: list[float | None]) -> int:
    """Print a line; how many readings it makes."""
    if not port.write_line(values):
        raise NotTaken("the simulated instrument could not write its line")
    return sum(value is not None for value in values)


async def _held(port: PrintingPort) -> None:
    await _within(lambda: port.opened, "the service did not open the port")
    # Opening a port throws away what waits in it: the line end that marks the first whole line
    # comes after that.
    await asyncio.sleep(0.05)
    port.send_raw(b"\r\n")


async def _within(condition: Callable[[], bool], otherwise: str) -> None:
    deadline_s = time.monotonic() + PATIENCE_S
    while not condition():
        if time.monotonic() > deadline_s:
            raise NotTaken(f"{otherwise} within {PATIENCE_S:.0f} s")
        await asyncio.sleep(0)


def _instrument(name: str, driver: str, **keys: object) -> str:
    return "\n[[instrument]]\n" + _keys({"name": name, "driver": driver, **keys}.items())


def _channel(channel: SimulatedChannel, **where: object) -> str:
    difference = {"temperature": f"delta_{channel.unit}"}.get(channel.quantity, channel.unit)
    accuracy = {"temperature": 0.3, "mass": 0.02, "humidity": 3.0}[channel.quantity]
    contact = channel.position in ("wall", "rim", "base") and channel.emissivity is None
    keys = {
        "name": channel.name,
        "station": channel.station,
        "quantity": channel.quantity,
        "place": channel.position,
        "height": None if channel.height_mm is None else f"{channel.height_mm:g} mm",
        "clock": channel.clock,
        **where,
        "unit": channel.unit,
        "resolution": f"{channel.resolution:g} {difference}",
        "accuracy": f"{accuracy:g} {difference}",
        "kind": "contact" if contact else None,  # an emissivity says infrared
        "coupling": f"0.1 {difference}" if contact else None,  # simulated probes sit on the glass
        "emissivity": channel.emissivity,
        "emissivity_set": channel.emissivity_set,
        "reflected": channel.reflected,
    }
    return "\n[[instrument.channel]]\n" + _keys(keys.items())


def _keys(keys: Iterable[tuple[str, object]]) -> str:
    def text(value: object) -> str:
        if isinstance(value, list):
            return f"[{', '.join(map(text, value))}]"
        return f'"{value}"' if isinstance(value, str) else f"{value}"

    return "".join(f"{key} = {text(value)}\n" for key, value in keys if value is not None)
