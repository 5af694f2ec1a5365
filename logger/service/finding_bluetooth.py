"""`wickbench find`: Bluetooth sensors in reach, with the lines that configure them."""

import asyncio
import sys
from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from typing import TYPE_CHECKING

from logger import bluetooth
from logger.errors import InstrumentUnavailable
from logger.messages import Message
from logger.service import proposals
from logger.settings import InstrumentSettings
from logger.settings.drivers.bluetooth_keys import BluetoothKeys

if TYPE_CHECKING:
    from logger.instruments.ble_search import Nearby

SEARCH_S = 6.0  # sensors advertise each second or two, the slow ones each ten (common practice)
_MOST_OTHERS = 12
_SERVICES = {
    bluetooth.ENVIRONMENTAL_SENSING: "Environmental Sensing",
    bluetooth.HEALTH_THERMOMETER: "Health Thermometer",
    bluetooth.BATTERY_SERVICE: "Battery",
    bluetooth.full_uuid("FCD2"): "BTHome",
}


@dataclass(frozen=True, slots=True, kw_only=True)
class BluetoothSensor:
    """A sensor in reach; `trouble` says why it cannot be read."""

    address: str
    name: str | None
    services: tuple[str, ...]
    signal_dbm: int
    battery_percent: int | None
    trouble: str
    read_by: str | None  # instrument of the configuration
    toml: str | None  # None where the configuration has it already, or nothing can be read

    def message(self) -> Message:
        """As JSON."""
        return {
            "address": self.address,
            "name": self.name,
            "services": list(self.services),
            "signal_dbm": self.signal_dbm,
            "battery_percent": self.battery_percent,
            "trouble": self.trouble or None,
            "instrument": self.read_by,
            "toml": self.toml,
        }


def find_bluetooth(
    instruments: Sequence[InstrumentSettings], names: proposals.Names, search_s: float
) -> tuple[list[BluetoothSensor], list[str]]:
    """The sensors in reach, and hints: why there is not a Bluetooth, what else is there."""
    if sys.platform != "linux":
        return [], ["no Bluetooth: its sensors are read on Linux only"]
    from logger.instruments.ble_search import search

    keys = [one.keys for one in instruments if isinstance(one.keys, BluetoothKeys)]
    leave = frozenset(one.address for one in keys if one.address is not None)
    try:
        nearby = asyncio.run(search(search_s, leave))
    except InstrumentUnavailable as error:
        return [], [f"no Bluetooth: {error.reason}"]
    sensors = [_sensor(one, keys, names) for one in nearby if one.is_sensor]
    return sensors, list(_others([one for one in nearby if not one.is_sensor and one.name]))


def _sensor(
    nearby: "Nearby", keys: Sequence[BluetoothKeys], names: proposals.Names
) -> BluetoothSensor:
    read_by = next((one.name for one in keys if _is_meant(one, nearby)), None)
    toml = None
    if read_by is None and nearby.served:
        toml = proposals.bluetooth_probe(nearby.address, nearby.name, nearby.served, names)
    elif read_by is None and nearby.advertised is not None:
        kinds = [(one.kind, one.unit) for one in nearby.advertised.sent]
        toml = proposals.bluetooth_advertiser(nearby.address, nearby.name, kinds, names)
    return BluetoothSensor(
        address=nearby.address,
        name=nearby.name,
        services=tuple(_SERVICES.get(uuid, uuid) for uuid in nearby.services),
        signal_dbm=nearby.signal_dbm,
        battery_percent=nearby.battery_percent,
        trouble=nearby.trouble,
        read_by=read_by,
        toml=toml,
    )


def _is_meant(keys: BluetoothKeys, nearby: "Nearby") -> bool:
    return nearby.address == keys.address or nearby.name == keys.device_name is not None


def _others(nearby: Sequence["Nearby"]) -> Iterator[str]:
    if nearby:
        shown = ", ".join(f"{one.name} ({one.address})" for one in nearby[:_MOST_OTHERS])
        more = f" and {len(nearby) - _MOST_OTHERS} more" if len(nearby) > _MOST_OTHERS else ""
        yield (
            f"other Bluetooth devices in reach: {shown}{more}; a probe among them speaks its "
            "maker's own language: describe it as the example's jar-a-pool"
        )
