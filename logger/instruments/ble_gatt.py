"""Driver `ble-gatt`: a Bluetooth sensor that is connected to and notifies, or is asked."""

import asyncio
import itertools
from collections.abc import AsyncGenerator, AsyncIterator, Awaitable, Callable, Sequence
from contextlib import AbstractAsyncContextManager, aclosing, asynccontextmanager
from dataclasses import dataclass, replace

from bleak import BleakClient
from bleak.backends.characteristic import BleakGATTCharacteristic

from logger.bluetooth import BATTERY_LEVEL
from logger.errors import DataError
from logger.instruments import ble_characteristics
from logger.instruments.ble_characteristics import Wanted
from logger.instruments.ble_inbox import Inbox
from logger.instruments.ble_radio import shared
from logger.instruments.ble_target import Target
from logger.instruments.ble_trouble import TROUBLE, said
from logger.instruments.decoders.ble_numbers import ByteOrder, Number, NumberType
from logger.instruments.decoders.ble_values import DECODERS, BleValue, Decoder, battery_level
from logger.instruments.instrument import Instrument, Now, SleepUntil
from logger.instruments.instrument_link import InstrumentLink
from logger.instruments.pace import Pace
from logger.instruments.written_units import WrittenUnits
from logger.quantities import Channel, Reading
from logger.settings.drivers.ble_gatt_keys import BleGattChannelKeys, BleGattKeys

# Our choices, in seconds of real time.
_BATTERY_EVERY_S = 600.0
_PROBED_AFTER_S = 5.0  # of silence: a third of the 15 s after which a channel counts as silent
_GIVEN_UP_AFTER_S = 30.0  # of silence, where there is nothing to ask for
_ECHO_S = 0.1  # the service tells a value that was read as a change, too


@dataclass(frozen=True, slots=True)
class _Feed:
    """One characteristic of the connected device and who reads it: places in `channels`."""

    characteristic: BleakGATTCharacteristic
    readers: tuple[int, ...]

    @property
    def notifies(self) -> bool:
        return bool({"notify", "indicate"} & set(self.characteristic.properties))

    @property
    def readable(self) -> bool:
        return "read" in self.characteristic.properties


_Inbox = Inbox[tuple[_Feed, bytes]]


class BleGatt:
    """Reads `wanted`, parallel to `channels`. What notifies is listened to, the rest is asked for.

    After `probed_after_s` of silence something is read, to see whether the link is alive: where
    the Bluetooth service has crashed or hangs, nothing else tells.
    """

    def __init__(
        self,
        name: str,
        *,
        target: Target,
        wanted: Sequence[Wanted],
        channels: Sequence[Channel],
        now: Callable[[], float],
        adapter: str | None = None,
        every_s: float = 2.0,
        within_s: float = 5.0,
        probed_after_s: float = _PROBED_AFTER_S,
        given_up_after_s: float = _GIVEN_UP_AFTER_S,
        sleep_until: Callable[[float], Awaitable[None]] | None = None,
    ) -> None:
        self.name = name
        self.link = InstrumentLink(name, now)
        self._target = target
        self._wanted = tuple(wanted)
        self._channels = tuple(channels)
        self._units = tuple(WrittenUnits(channel) for channel in channels)
        self._now = now
        self._adapter = adapter
        self._every_s = every_s
        self._within_s = within_s
        self._probed_after_s = probed_after_s
        self._given_up_after_s = given_up_after_s
        self._sleep_until = sleep_until

    def open(self) -> AbstractAsyncContextManager[AsyncIterator[Reading]]:
        """The readings from now on; see `Instrument.open`."""
        return self._open()

    @asynccontextmanager
    async def _open(self) -> AsyncIterator[AsyncIterator[Reading]]:
        inbox = _Inbox(self.link)
        async with (
            shared(self._adapter) as radio,
            radio.connected(self._target, inbox.lose) as (client, signal_dbm),
        ):
            self._target = replace(self._target, known=client.address)
            if signal_dbm is not None:
                self.link.note_signal(signal_dbm)
            keeper = asyncio.create_task(
                self._keep(client, await self._feeds(client), inbox), name=f"{self.name} keeper"
            )
            keeper.add_done_callback(lambda _: inbox.lose("the driver stopped"))
            try:
                async with aclosing(self._readings(inbox)) as readings:
                    yield readings
            finally:
                keeper.cancel()
                await asyncio.wait([keeper])
                if not keeper.cancelled() and (bug := keeper.exception()) is not None:
                    raise bug

    async def _feeds(self, client: BleakClient) -> list[_Feed]:
        found: dict[int, tuple[BleakGATTCharacteristic, list[int]]] = {}
        for place, wanted in enumerate(self._wanted):
            async with asyncio.timeout(self._within_s):
                characteristic = await ble_characteristics.find(client, wanted, self.name)
            found.setdefault(characteristic.handle, (characteristic, []))[1].append(place)
        return [_Feed(characteristic, tuple(readers)) for characteristic, readers in found.values()]

    async def _readings(self, inbox: _Inbox) -> AsyncGenerator[Reading]:
        while True:
            feed, data = await inbox.get()
            for reading in self._taken(feed, data, self._now()):
                yield reading

    def _taken(self, feed: _Feed, data: bytes, at_s: float) -> list[Reading]:
        readings = []
        for place in feed.readers:
            channel = self._channels[place]
            try:
                value = self._units[place].convert(*self._wanted[place].decode(data))
            except DataError as error:
                self.link.refuse(str(error), data.hex(" "), channel.name)
            else:
                readings.append(Reading(channel=channel.name, value=value, at_s=at_s))
        return readings

    # what goes on beside the readings

    async def _keep(self, client: BleakClient, feeds: Sequence[_Feed], inbox: _Inbox) -> None:
        """Ask for what must be asked for; end the link where it turns out to be dead."""
        polled = [feed for feed in feeds if not feed.notifies]
        notified = [feed for feed in feeds if feed.notifies]
        batteries = (
            one
            for one in client.services.characteristics.values()
            if one.uuid == BATTERY_LEVEL and "read" in one.properties
        )
        try:
            for feed in notified:
                async with asyncio.timeout(self._within_s):
                    await client.start_notify(feed.characteristic, _into(inbox, feed))
            async with asyncio.TaskGroup() as tasks:
                if polled:
                    tasks.create_task(self._poll(client, polled, inbox))
                else:
                    tasks.create_task(self._probe(client, notified, inbox))
                for battery in itertools.islice(batteries, 1):
                    tasks.create_task(self._watch_battery(client, battery))
        except* TROUBLE as errors:
            inbox.lose(said(_first(errors)))

    async def _poll(self, client: BleakClient, feeds: Sequence[_Feed], inbox: _Inbox) -> None:
        pace = Pace(self._every_s, self._now, self._sleep_until)
        while True:
            await pace.next()
            for feed in feeds:
                inbox.put((feed, await self._read(client, feed.characteristic)))

    async def _probe(self, client: BleakClient, feeds: Sequence[_Feed], inbox: _Inbox) -> None:
        """After silence: what is read is a reading, unless its own notification came with it."""
        feed = next((feed for feed in feeds if feed.readable), None)
        others = client.services.characteristics.values()
        other = next((one for one in others if "read" in one.properties), None)
        nothing = feed is None and other is None
        while True:
            before = inbox.came
            await asyncio.sleep(self._given_up_after_s if nothing else self._probed_after_s)
            if inbox.came != before:
                continue
            if feed is not None:
                data = await self._read(client, feed.characteristic)
                await asyncio.sleep(_ECHO_S)
                if inbox.came == before:
                    inbox.put((feed, data))
            elif other is not None:
                await self._read(client, other)
            else:
                inbox.lose("it is connected, and sends nothing")
                return

    async def _watch_battery(self, client: BleakClient, level: BleakGATTCharacteristic) -> None:
        """What goes wrong here ends nothing: whether the link is alive the readings tell."""
        while True:
            data = b""
            try:
                data = await self._read(client, level)
                self.link.note_battery(battery_level(data))
            except DataError as error:
                self.link.refuse(str(error), data.hex(" "))
            except TROUBLE as error:
                self.link.refuse(f"battery level: {said(error)}", "")
            await asyncio.sleep(_BATTERY_EVERY_S)

    async def _read(self, client: BleakClient, characteristic: BleakGATTCharacteristic) -> bytes:
        async with asyncio.timeout(self._within_s):
            return bytes(await client.read_gatt_char(characteristic))


def build(
    keys: BleGattKeys, channels: Sequence[Channel], now: Now, sleep_until: SleepUntil | None
) -> Instrument:
    """The instrument of `keys`, whose channels are `channels`."""
    silent_after_s = keys.silent_after_s or 3.0 * _PROBED_AFTER_S
    return BleGatt(
        keys.name,
        target=Target(instrument=keys.name, address=keys.address, name=keys.advertised_name),
        wanted=[
            Wanted(uuid=one.characteristic, decode=_decoder(one), sensor=one.sensor)
            for one in keys.channel
        ],
        channels=channels,
        now=now,
        adapter=keys.adapter,
        every_s=keys.every_s,
        within_s=keys.answer_within_s,
        probed_after_s=silent_after_s / 3.0,
        given_up_after_s=2.0 * silent_after_s,
        sleep_until=sleep_until,
    )


def _decoder(keys: BleGattChannelKeys) -> Decoder:
    """Of the described number, or else of what the characteristic is known to hold."""
    if keys.type is None:
        return DECODERS[keys.characteristic]
    number = Number(
        type=NumberType(keys.type),
        offset=keys.offset or 0,
        order=ByteOrder(keys.byte_order or ByteOrder.LITTLE),
        scale=keys.scale or 1.0,
    )
    return lambda data: BleValue(number.value(data))


def _into(inbox: _Inbox, feed: _Feed) -> Callable[[BleakGATTCharacteristic, bytearray], None]:
    def heard(_: BleakGATTCharacteristic, data: bytearray) -> None:
        inbox.put((feed, bytes(data)))

    return heard


def _first(errors: BaseExceptionGroup[BaseException]) -> BaseException:
    error = errors.exceptions[0]
    return _first(error) if isinstance(error, BaseExceptionGroup) else error
