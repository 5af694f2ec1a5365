"""What Bluetooth sensors are in reach: heard, and thermometers asked once what they serve."""

import asyncio
from collections.abc import Mapping
from contextlib import suppress
from dataclasses import dataclass, field

from bleak import BleakClient

from logger.bluetooth import (
    BATTERY_LEVEL,
    ENVIRONMENTAL_SENSING,
    HEALTH_THERMOMETER,
    NAMES,
)
from logger.errors import DataError, InstrumentUnavailable
from logger.instruments.ble_characteristics import description
from logger.instruments.ble_radio import Heard, Radio, shared
from logger.instruments.ble_target import Target
from logger.instruments.ble_trouble import TROUBLE
from logger.instruments.decoders.ble_values import battery_level
from logger.instruments.decoders.bthome import ADVERTISED, Advertised

_NAME = "find"
_TURN_S = 0.05
_ANSWERS_WITHIN_S = 5.0
_THERMOMETERS = {ENVIRONMENTAL_SENSING, HEALTH_THERMOMETER}


@dataclass(slots=True, kw_only=True)
class Nearby:
    """A device in reach. `advertised` in an open format; `trouble` why it could not be read."""

    address: str
    name: str | None
    services: tuple[str, ...] = ()  # UUIDs, those of service data too
    signal_dbm: int
    battery_percent: int | None = None
    advertised: Advertised | None = None
    trouble: str = ""
    served: Mapping[str, tuple[str, ...]] = field(default_factory=dict)  # name: descriptions

    @property
    def is_thermometer(self) -> bool:
        """Whether it says that it can be asked for a temperature."""
        return bool(_THERMOMETERS & set(self.services)) and self.advertised is None

    @property
    def is_sensor(self) -> bool:
        """Whether there is something for a bench."""
        return self.is_thermometer or self.advertised is not None or bool(self.trouble)


async def search(seconds: float, leave: frozenset[str] = frozenset()) -> list[Nearby]:
    """Everything heard within `seconds`, the strongest first.

    Those that say they are thermometers are connected to for a moment, but not what is in `leave`
    (addresses): somebody reads it. Raises `InstrumentUnavailable` where there is not a Bluetooth.
    """
    found: dict[str, Nearby] = {}

    def hear(heard: Heard) -> None:
        address = heard.device.address
        nearby = found.setdefault(
            address, Nearby(address=address, name=None, signal_dbm=heard.data.rssi)
        )
        _learn(nearby, heard)

    async with shared(None) as radio:
        with radio.listening(hear):
            loop = asyncio.get_running_loop()
            end_s = loop.time() + seconds
            while loop.time() < end_s:
                await asyncio.sleep(_TURN_S)
                if radio.trouble:
                    raise InstrumentUnavailable(_NAME, radio.trouble)
        for nearby in found.values():
            if nearby.is_thermometer and nearby.address not in leave:
                await _ask(radio, nearby)
    return sorted(found.values(), key=lambda one: -one.signal_dbm)


def _learn(nearby: Nearby, heard: Heard) -> None:
    data = heard.data
    nearby.name = nearby.name or heard.device.name
    nearby.signal_dbm = data.rssi
    nearby.services = tuple(
        dict.fromkeys((*nearby.services, *data.service_uuids, *data.service_data))
    )
    for uuid, decode in ADVERTISED.items():
        if uuid in data.service_data:
            try:
                nearby.advertised = decode(data.service_data[uuid])
            except DataError as error:
                nearby.trouble = str(error)
            else:
                nearby.battery_percent = nearby.advertised.battery_percent


async def _ask(radio: Radio, nearby: Nearby) -> None:
    target = Target(instrument=_NAME, address=nearby.address)
    try:
        async with (
            radio.connected(target, lambda _: None) as (client, _),
            asyncio.timeout(_ANSWERS_WITHIN_S),
        ):
            nearby.served = await _served(client)
            with suppress(DataError, *TROUBLE):
                data = await client.read_gatt_char(BATTERY_LEVEL)
                nearby.battery_percent = battery_level(bytes(data))
    except InstrumentUnavailable as error:
        nearby.trouble = error.reason


async def _served(client: BleakClient) -> Mapping[str, tuple[str, ...]]:
    served = {}
    known = sorted(client.services.characteristics.values(), key=lambda one: one.handle)
    for name, uuid in NAMES.items():
        those = [one for one in known if one.uuid == uuid]
        if those:
            served[name] = tuple([await description(client, one) for one in those])
    return served
