"""Lines to paste into a configuration for what `wickbench find` has found."""

import json
import re
from collections import Counter
from collections.abc import Mapping, Sequence
from pathlib import Path

from logger.settings import Settings
from logger.settings.drivers.one_wire_keys import KERNEL_FOLDER

_LONGEST_NAME = 24  # of what is made up: the owner will call it something better anyway


class Names:
    """Names that are still free; each proposal takes some."""

    def __init__(self, settings: Settings | None) -> None:
        self._taken: set[str] = set()
        if settings is not None:
            self._taken |= {one.name for one in settings.instruments}
            self._taken |= {channel.name for channel in settings.channels}

    def take(self, wish: str) -> str:
        """`wish` as the configuration takes names, numbered where it is taken."""
        plain = re.sub("[^a-z0-9]+", "-", wish.lower()).strip("-")[:_LONGEST_NAME].strip("-")
        plain = plain or "instrument"
        name, number = plain, 1
        while name in self._taken:
            number += 1
            name = f"{plain}-{number}"
        self._taken.add(name)
        return name


def serial_port(path: str, about: str, names: Names) -> str:
    """An instrument on the port `path` that prints lines, with one channel to begin with."""
    name = names.take(about)
    channel = names.take(f"{name}-0")
    return f"""\
[[instrument]]
name = "{name}"
driver = "serial-lines"    # it prints lines; or "scpi", "modbus-rtu": their keys are in the example
port = {as_text(path)}
baud = 9600                # as the instrument is set
format = "csv"             # or "json", "pairs"

[[instrument.channel]]
name = "{channel}"
place = "room"             # or "wall" with station, height, clock and kind
field = 0                  # the column, counted from 0
unit = "degC"              # or "g" of a balance, "percent" of a hygrometer
"""


def sensor(id: str, folder: Path, names: Names) -> str:
    """An instrument that reads the one sensor; the channels of several may stand under one."""
    name = names.take(f"one-wire-{id[-6:]}")
    channel = names.take(f"probe-{id[-6:]}")
    elsewhere = "" if folder == KERNEL_FOLDER else f"folder = {as_text(str(folder))}\n"
    return f"""\
[[instrument]]
name = "{name}"
driver = "one-wire"
{elsewhere}
[[instrument.channel]]
name = "{channel}"
place = "room"             # or "wall" with station, height, clock and kind
field = "{id}"
unit = "degC"
"""


def bluetooth_probe(
    address: str, name: str | None, served: Mapping[str, Sequence[str]], names: Names
) -> str:
    """An instrument that connects to the probe, a channel for each value that it serves.

    `served`: by characteristic, the descriptions of those of that kind, which may be empty.
    """
    instrument = names.take(name or "bluetooth probe")
    channels = []
    for characteristic, descriptions in served.items():
        for number, description in enumerate(descriptions, start=1):
            which = ""
            if len(descriptions) > 1:
                plain = description if descriptions.count(description) == 1 else ""
                which = f"sensor = {as_text(plain) if plain.isprintable() and plain else number}\n"
            kind = "humidity" if characteristic == "humidity" else "temperature"
            keys = f'characteristic = "{characteristic}"\n{which}'
            channels.append(_channel(names.take(f"{instrument}-{kind}"), kind, keys))
    return _bluetooth("ble-gatt", instrument, address, name) + "\n".join(channels)


def bluetooth_advertiser(
    address: str, name: str | None, kinds: Sequence[tuple[str, str]], names: Names
) -> str:
    """An instrument that listens to the sensor; `kinds` and units as it advertises them."""
    instrument = names.take(name or "bluetooth sensor")
    channels, seen = [], Counter[str]()
    for kind, unit in kinds:
        seen[kind] += 1
        which = f"sensor = {seen[kind]}\n" if seen[kind] > 1 else ""
        keys = f'characteristic = "{kind}"\n{which}'
        channels.append(_channel(names.take(f"{instrument}-{kind}"), kind, keys, unit))
    return _bluetooth("ble-advert", instrument, address, name) + "\n".join(channels)


def _bluetooth(driver: str, instrument: str, address: str, name: str | None) -> str:
    shown = f"    # {name}" if name is not None and name.isprintable() else ""
    return f"""\
[[instrument]]
name = "{instrument}"
driver = "{driver}"
address = "{address}"{shown}

"""


def _channel(name: str, kind: str, keys: str, unit: str | None = None) -> str:
    place = "support" if kind == "mass" else "room"
    unit = unit or {"temperature": "degC", "humidity": "percent"}[kind]
    return f"""\
[[instrument.channel]]
name = "{name}"
quantity = "{kind}"
place = "{place}"             # or "wall" with station, height and clock
{keys}unit = "{unit}"
"""


def hints(*, ports: int, barred: Sequence[str], one_wire: bool, sensors: int) -> list[str]:
    """What to look at where nothing was found, or what was found may not be opened."""
    found = []
    if ports == 0:
        found.append(
            "no serial port: plug the instrument in, with a cable that carries data and not only "
            "power; `dmesg | tail` then names the port; in a container or virtual machine the "
            "port must be passed through"
        )
    if barred:
        found.append(
            f"{', '.join(barred)} may not be opened: the port's group is often dialout; "
            "`sudo usermod -aG dialout $USER`, then log in again"
        )
    if not one_wire:
        found.append(
            "no 1-Wire bus: if you have one, switch it on (overlay w1-gpio, or "
            "`sudo modprobe w1-gpio w1-therm`); USB ports need none"
        )
    elif sensors == 0:
        found.append(
            "the 1-Wire bus has no thermometer: check wiring, the pull-up of 4.7 kohm between "
            "data and supply, and that the module w1-therm is loaded"
        )
    return found


def as_text(value: str) -> str:
    """As a TOML string, which may be written as JSON's."""
    return json.dumps(value, ensure_ascii=False)
