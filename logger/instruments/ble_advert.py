"""Driver `ble-advert`: Bluetooth sensors that only advertise; nothing is connected to."""

import asyncio
from collections.abc import AsyncGenerator, AsyncIterator, Callable, Sequence
from contextlib import AbstractAsyncContextManager, aclosing, asynccontextmanager
from dataclasses import dataclass, replace

from logger.errors import DataError, InstrumentUnavailable
from logger.instruments.ble_inbox import Inbox
from logger.instruments.ble_radio import Heard, Radio, shared
from logger.instruments.ble_target import Target
from logger.instruments.decoders.ble_numbers import ByteOrder, Number, NumberType
from logger.instruments.decoders.ble_values import BleValue
from logger.instruments.decoders.bthome import ADVERTISED, Advertised
from logger.instruments.instrument import Instrument, Now, SleepUntil
from logger.instruments.instrument_link import InstrumentLink
from logger.instruments.written_units import WrittenUnits
from logger.quantities import Channel, Reading
from logger.settings.drivers.ble_advert_keys import BleAdvertChannelKeys, BleAdvertKeys

_SILENT_AFTER_S = 15.0  # as for every channel
_STOPPED = "it has stopped advertising: check its battery, bring it nearer"


@dataclass(frozen=True, slots=True, kw_only=True)
class Announced:
    """A value by its kind, in an open format; `sensor` counts several of a kind from 1."""

    kind: str  # temperature, humidity, mass
    sensor: int = 1


@dataclass(frozen=True, slots=True, kw_only=True)
class Described:
    """A number in the service data of a UUID, or in the data of a maker's number."""

    source: str | int
    number: Number


class BleAdvert:
    """Reads `wanted`, parallel to `channels`. Silence for `silent_after_s` counts as lost."""

    def __init__(
        self,
        name: str,
        *,
        target: Target,
        wanted: Sequence[Announced | Described],
        channels: Sequence[Channel],
        now: Callable[[], float],
        adapter: str | None = None,
        silent_after_s: float = _SILENT_AFTER_S,
    ) -> None:
        self.name = name
        self.link = InstrumentLink(name, now)
        self._target = target
        self._wanted = tuple(wanted)
        self._channels = tuple(channels)
        self._units = tuple(WrittenUnits(channel) for channel in channels)
        self._now = now
        self._adapter = adapter
        self._silent_after_s = silent_after_s
        self._packet: int | None = None  # id of the last one

    def open(self) -> AbstractAsyncContextManager[AsyncIterator[Reading]]:
        """The readings from now on; see `Instrument.open`."""
        return self._open()

    @asynccontextmanager
    async def _open(self) -> AsyncIterator[AsyncIterator[Reading]]:
        inbox = Inbox[Heard](self.link)
        async with shared(self._adapter) as radio:
            found = await radio.find(self._target, self._silent_after_s)
            address = found.device.address
            self._target = replace(self._target, known=address)

            def hear(heard: Heard) -> None:
                if heard.device.address == address:
                    inbox.put(heard)

            with radio.listening(hear):
                inbox.put(found)
                async with aclosing(self._readings(inbox, radio)) as readings:
                    yield readings

    async def _readings(self, inbox: Inbox[Heard], radio: Radio) -> AsyncGenerator[Reading]:
        while True:
            try:
                async with asyncio.timeout(self._silent_after_s):
                    heard = await inbox.get()
            except TimeoutError:
                reason = radio.trouble or _STOPPED
                if self._target.address is None:  # it may be back under another
                    raise InstrumentUnavailable(self.name, reason) from None
                self.link.note_lost(reason)  # to be opened again would only mean to miss something
                continue
            at_s = self._now()
            self.link.note_signal(heard.data.rssi)
            for reading in self._taken(heard, at_s):
                yield reading

    def _taken(self, heard: Heard, at_s: float) -> list[Reading]:
        advertised = self._advertised(heard)
        readings = []
        for channel, units, wanted in zip(self._channels, self._units, self._wanted, strict=True):
            try:
                value = _value(wanted, advertised, heard)
                if value is not None:
                    reading = Reading(channel=channel.name, value=units.convert(*value), at_s=at_s)
                    readings.append(reading)
            except DataError as error:
                self.link.refuse(str(error), _shown(heard), channel.name)
        return readings

    def _advertised(self, heard: Heard) -> Advertised | None:
        """What it says in an open format; None for what it has said before, and for nothing."""
        for uuid, decode in ADVERTISED.items():
            data = heard.data.service_data.get(uuid)
            if data is None or not any(isinstance(one, Announced) for one in self._wanted):
                continue
            try:
                advertised = decode(data)
            except DataError as error:
                self.link.refuse(str(error), data.hex(" "))
                return None
            if advertised.battery_percent is not None:
                self.link.note_battery(advertised.battery_percent)
            again = advertised.packet_id is not None and advertised.packet_id == self._packet
            self._packet = advertised.packet_id
            return None if again else advertised
        return None


def _value(
    wanted: Announced | Described, advertised: Advertised | None, heard: Heard
) -> BleValue | None:
    """None where this advertisement says nothing of it: sensors take turns. Raises `DataError`."""
    if isinstance(wanted, Announced):
        those = [one for one in advertised.sent if one.kind == wanted.kind] if advertised else []
        return those[wanted.sensor - 1].value() if len(those) >= wanted.sensor else None
    if isinstance(wanted.source, int):
        data = heard.data.manufacturer_data.get(wanted.source)
    else:
        data = heard.data.service_data.get(wanted.source)
    return None if data is None else BleValue(wanted.number.value(data))


def _shown(heard: Heard) -> str:
    data = [*heard.data.service_data.values(), *heard.data.manufacturer_data.values()]
    return "; ".join(one.hex(" ") for one in data)


def build(
    keys: BleAdvertKeys, channels: Sequence[Channel], now: Now, _: SleepUntil | None
) -> Instrument:
    """The instrument of `keys`, whose channels are `channels`."""
    return BleAdvert(
        keys.name,
        target=Target(instrument=keys.name, address=keys.address, name=keys.advertised_name),
        wanted=[_wanted(one) for one in keys.channel],
        channels=channels,
        now=now,
        adapter=keys.adapter,
        silent_after_s=keys.silent_after_s or _SILENT_AFTER_S,
    )


def _wanted(keys: BleAdvertChannelKeys) -> Announced | Described:
    if keys.characteristic is not None:
        sensor = keys.sensor if isinstance(keys.sensor, int) else 1
        return Announced(kind=keys.characteristic, sensor=sensor)
    source = keys.service_data if keys.manufacturer is None else keys.manufacturer
    assert source is not None
    assert keys.type is not None
    return Described(
        source=source,
        number=Number(
            type=NumberType(keys.type),
            offset=keys.offset or 0,
            order=ByteOrder(keys.byte_order or ByteOrder.LITTLE),
            scale=keys.scale or 1.0,
        ),
    )
