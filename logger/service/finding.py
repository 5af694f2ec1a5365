"""`wickbench find`: what instruments are in reach, each with the lines that configure it.

No serial port is opened for it: many boards restart at that, and somebody may be reading.
"""

import asyncio
import os
import re
from collections.abc import Callable, Iterable, Iterator
from contextlib import suppress
from dataclasses import dataclass
from pathlib import Path
from typing import Any

from logger.clock import RealClock
from logger.errors import InstrumentError, ServiceUnreachable
from logger.instruments.from_settings import build
from logger.messages import Message, rounded
from logger.quantities import Averaging, Quantity
from logger.service import client, proposals
from logger.service.finding_bluetooth import SEARCH_S, BluetoothSensor, find_bluetooth
from logger.settings import InstrumentSettings, Settings
from logger.settings.drivers.one_wire_keys import KERNEL_FOLDER, OneWireKeys
from logger.settings.drivers.wired_keys import SerialKeys

_THERMOMETER = re.compile(r"(10|22|28|3b|42)-[0-9a-f]{12}", re.ASCII)  # kernel, w1_therm's families
_ONE_SENSOR_S = 1.5  # twice a conversion of 0.75 s (data sheet)


@dataclass(frozen=True, slots=True, kw_only=True)
class SearchPlaces:
    """Where to look; given otherwise in tests."""

    serial: Path = Path("/dev/serial")  # udev's stable names: by-id/ and by-path/
    one_wire: Path = KERNEL_FOLDER
    processes: Path = Path("/proc")
    plugged: Callable[[], Iterable[Any]] | None = None  # None: pyserial's list of ports
    bluetooth_s: float = SEARCH_S  # how long to listen; 0: not at all


@dataclass(frozen=True, slots=True, kw_only=True)
class Port:
    """A serial port; `path` is the name that stays with the adapter, or with the socket."""

    path: str
    device: str
    about: str  # what the adapter says that it is
    usb: str | None  # maker's and product's number, "abcd:0123"
    state: str  # free, or why it is not
    read_by: str | None  # instrument of the configuration
    toml: str | None  # None where the configuration has it already


@dataclass(frozen=True, slots=True, kw_only=True)
class OneWireSensor:
    """A 1-Wire thermometer; `trouble` says why it has no value."""

    id: str
    celsius: float | None
    trouble: str
    read_by: str | None
    toml: str | None


@dataclass(frozen=True, slots=True, kw_only=True)
class InReach:
    """Everything in reach, and what to look at where there is less than hoped for."""

    ports: tuple[Port, ...]
    sensors: tuple[OneWireSensor, ...]
    bluetooth: tuple[BluetoothSensor, ...]
    hints: tuple[str, ...]

    def message(self) -> Message:
        """As JSON."""
        return {
            "serial_ports": [
                {
                    "port": port.path,
                    "device": port.device,
                    "about": port.about,
                    "usb": port.usb,
                    "state": port.state,
                    "instrument": port.read_by,
                    "toml": port.toml,
                }
                for port in self.ports
            ],
            "one_wire": [
                {
                    "id": sensor.id,
                    "value": rounded(sensor.celsius),
                    "unit": Quantity.TEMPERATURE.unit,
                    "trouble": sensor.trouble or None,
                    "instrument": sensor.read_by,
                    "toml": sensor.toml,
                }
                for sensor in self.sensors
            ],
            "bluetooth": [sensor.message() for sensor in self.bluetooth],
            "hints": list(self.hints),
        }


def find_instruments(settings: Settings | None, places: SearchPlaces | None = None) -> InReach:
    """Look round; `settings` of the bench, if there are any, tell what is configured already.

    Where its service runs, that is asked for what it reads.
    """
    places = places or SearchPlaces()
    names = proposals.Names(settings)
    hints: list[str] = []
    now: Message | None = None
    if settings is not None:
        try:
            now = client.now(settings)
        except ServiceUnreachable as exc:
            hints.append(str(exc))
    instruments = () if settings is None else settings.instruments
    ports = tuple(_ports(places, instruments, now, names))
    sensors = tuple(_sensors(places, instruments, now, names))
    hints += proposals.hints(
        ports=len(ports),
        barred=[port.device for port in ports if port.state == NOT_PERMITTED],
        one_wire=places.one_wire.is_dir(),
        sensors=len(sensors),
    )
    bluetooth: list[BluetoothSensor] = []
    if places.bluetooth_s > 0.0:
        bluetooth, more = find_bluetooth(instruments, names, places.bluetooth_s)
        hints += more
    return InReach(ports=ports, sensors=sensors, bluetooth=tuple(bluetooth), hints=tuple(hints))


# serial ports

FREE = "free"
NOT_PERMITTED = "may not be opened by this user"


def _ports(
    places: SearchPlaces,
    instruments: Iterable[InstrumentSettings],
    now: Message | None,
    names: proposals.Names,
) -> Iterator[Port]:
    adapters = {os.path.realpath(one.device): one for one in _plugged(places)}
    stable = _stable_names(places.serial)
    configured = {
        os.path.realpath(one.keys.port): one.name
        for one in instruments
        if isinstance(one.keys, SerialKeys)
    }
    states = {link["name"]: link for link in now["instruments"]} if now else {}
    holders = _holders(places.processes, {*adapters, *stable})
    for device in sorted({*adapters, *stable}, key=lambda one: (stable.get(one, one), one)):
        adapter, path = adapters.get(device), stable.get(device, device)
        instrument = configured.get(device)
        link = states.get(instrument)
        state = holders.get(device, FREE)
        if link is not None:
            state = f"read by the running service: {link['state']}, {link['reason']}"
        elif not os.access(device, os.R_OK | os.W_OK):
            state = NOT_PERMITTED
        about = _about(adapter, path)
        yield Port(
            path=path,
            device=device,
            about=about,
            usb=_usb(adapter),
            state=state,
            read_by=instrument,
            toml=proposals.serial_port(path, about, names) if instrument is None else None,
        )


def _plugged(places: SearchPlaces) -> Iterable[Any]:
    if places.plugged is not None:
        return places.plugged()
    from serial.tools import list_ports

    ports: Iterable[Any] = list_ports.comports()
    return ports


def _stable_names(serial: Path) -> dict[str, str]:
    """By device, the name that names the adapter, or where there is none the socket."""
    found: dict[str, str] = {}
    for folder in ("by-path", "by-id"):  # the later one is the better one
        with suppress(OSError):
            for link in sorted((serial / folder).iterdir()):
                found[os.path.realpath(link)] = str(link)
    return found


def _about(adapter: Any, path: str) -> str:
    words = (
        [] if adapter is None else [adapter.product or adapter.description, adapter.manufacturer]
    )
    said = ", ".join(str(word) for word in words if word and word != "n/a")
    return said or Path(path).name


def _usb(adapter: Any) -> str | None:
    if adapter is None or adapter.vid is None or adapter.pid is None:
        return None
    return f"{adapter.vid:04x}:{adapter.pid:04x}"


def _holders(processes: Path, devices: set[str]) -> dict[str, str]:
    """Who has a device open, as far as this user may see: the rest passes for free."""
    found: dict[str, str] = {}
    for process in processes.glob("[0-9]*"):
        with suppress(OSError):  # another user's, or it has just ended
            for handle in (process / "fd").iterdir():
                device = os.path.realpath(handle)
                if device in devices:
                    name = (process / "comm").read_text(encoding="utf-8", errors="replace")
                    found[device] = f"held by {name.strip()} (process {process.name})"
    return found


# 1-Wire


def _sensors(
    places: SearchPlaces,
    instruments: Iterable[InstrumentSettings],
    now: Message | None,
    names: proposals.Names,
) -> Iterator[OneWireSensor]:
    folder = places.one_wire
    ids: list[str] = []
    with suppress(OSError):
        ids = sorted(one.name for one in folder.iterdir() if _THERMOMETER.fullmatch(one.name))
    on_bus = [
        one.keys
        for one in instruments
        if isinstance(one.keys, OneWireKeys) and one.keys.folder == folder
    ]
    configured = {
        channel.field: (keys.name, channel.name) for keys in on_bus for channel in keys.channel
    }
    if now is not None and on_bus:  # another question would hold up the service's own
        values = _heard(now)
        celsius = {one: values.get(configured[one][1]) for one in ids if one in configured}
        trouble = dict.fromkeys(ids, "not asked: the running service reads this bus")
    else:
        celsius, trouble = asyncio.run(_asked(folder, ids)) if ids else ({}, {})
    for sensor in ids:
        instrument, _ = configured.get(sensor, (None, ""))
        value = celsius.get(sensor)
        yield OneWireSensor(
            id=sensor,
            celsius=value,
            trouble="" if value is not None else trouble[sensor],
            read_by=instrument,
            toml=proposals.sensor(sensor, folder, names) if instrument is None else None,
        )


def _heard(now: Message) -> dict[str, float | None]:
    return {
        channel["name"]: channel["estimate"]["value"]
        for channel in now["channels"]
        if channel["estimate"] is not None
    }


async def _asked(folder: Path, ids: list[str]) -> tuple[dict[str, float | None], dict[str, str]]:
    """What each sensor says, and why those that say nothing do not."""
    channels = [{"name": one, "place": "room", "unit": "degC", "field": one} for one in ids]
    keys = OneWireKeys.model_validate({"name": "find", "folder": str(folder), "channel": channels})
    bus = build(keys.settings(Averaging()), RealClock().now_s)
    values: dict[str, float | None] = {}
    reason = "no answer"
    try:
        async with asyncio.timeout(1.0 + _ONE_SENSOR_S * len(ids)), bus.open() as readings:
            async for reading in readings:
                values[reading.channel] = reading.value
                if len(values) == len(ids):
                    break
    except TimeoutError:
        pass  # asked for as long as was meant
    except InstrumentError as exc:
        reason = exc.reason
    trouble = dict.fromkeys(ids, reason)
    trouble |= {channel: why for channel, why in bus.link.refused if channel is not None}
    return values, trouble
