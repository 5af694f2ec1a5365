"""One Bluetooth adapter: its scanner, shared by all instruments; its connections, one at a time."""

import asyncio
import logging
from collections.abc import AsyncIterator, Callable, Iterator
from contextlib import AsyncExitStack, asynccontextmanager, contextmanager, suppress
from typing import NamedTuple
from weakref import WeakKeyDictionary

from bleak import BleakClient, BleakScanner
from bleak.args.bluez import BlueZClientArgs, BlueZScannerArgs
from bleak.backends.device import BLEDevice
from bleak.backends.scanner import AdvertisementData

from logger.errors import InstrumentUnavailable
from logger.instruments.ble_bus import BusWatch
from logger.instruments.ble_scanner import started, stopped
from logger.instruments.ble_target import Target
from logger.instruments.ble_trouble import TROUBLE, said

log = logging.getLogger(__name__)

# Our choices, in seconds of real time.
_SEEN_WITHIN_S = 10.0  # a sensor that advertises at all does so within two (common practice)
_TROUBLE_S = 2.0  # what keeps the scanner from starting is reported this soon
_NAMESAKE_S = 1.0  # waited for another device of the same name, before one is taken
_CONNECT_S = 6.0
_HANG_UP_S = 3.0
_RETRY_S = 1.0
_QUIET_S = 20.0  # a scanner that hears nothing at all is started afresh
_NO_RSSI = -127  # bleak's; a device that was not heard just now has no signal strength

Lost = Callable[[str], None]


class Heard(NamedTuple):
    """An advertisement."""

    device: BLEDevice
    data: AdvertisementData


class Radio:
    """Made by `shared`. `adapter` is its name as "hci0"; None: the first that is on."""

    def __init__(self, adapter: str | None) -> None:
        self.trouble = ""  # why nothing can be heard at present
        self._adapter = adapter
        self._listeners: set[Callable[[Heard], None]] = set()
        self._sessions: dict[str, Lost] = {}  # by the device's path
        self._wanted = asyncio.Event()
        self._renew = asyncio.Event()
        self._connecting = asyncio.Lock()
        self._scanning = False
        self._heard_s = 0.0
        self._bus = BusWatch(self._gone, self._back)
        self._absent = ""  # why there is not a Bluetooth service, where there is none
        self._tasks: list[asyncio.Task[None]] = []

    def start(self) -> None:
        """Begin to watch; nothing is scanned until somebody listens."""
        self._tasks = [
            asyncio.create_task(self._bus.run(), name="bluetooth bus"),
            asyncio.create_task(self._scan(), name="bluetooth scan"),
        ]

    async def close(self) -> None:
        """Stop watching and scanning."""
        for task in self._tasks:
            task.cancel()
        await asyncio.gather(*self._tasks, return_exceptions=True)

    @contextmanager
    def listening(self, hear: Callable[[Heard], None]) -> Iterator[None]:
        """Hand every advertisement in reach to `hear`, which must not wait."""
        self._listeners.add(hear)
        self._wanted.set()
        try:
            yield
        finally:
            self._listeners.discard(hear)
            if not self._listeners:
                self._wanted.clear()
                self._renew.set()

    @asynccontextmanager
    async def connected(
        self, target: Target, lost: Lost
    ) -> AsyncIterator[tuple[BleakClient, int | None]]:
        """A connection to `target`, and the signal strength in dBm with which it was heard.

        `lost` hears why it is no more; that comes once or more. Raises `InstrumentUnavailable`.
        """
        async with AsyncExitStack() as stack:
            async with AsyncExitStack() as scanning:  # until connected: found devices are forgotten
                device, signal_dbm = await self._find(target, scanning)
                async with self._connecting:
                    client = await stack.enter_async_context(self._client(target, device, lost))
            yield client, signal_dbm

    async def find(self, target: Target, within_s: float = _SEEN_WITHIN_S) -> Heard:
        """Wait for an advertisement of `target`. Raises `InstrumentUnavailable`."""
        found: asyncio.Future[Heard] = asyncio.get_running_loop().create_future()
        named: dict[str, Heard] = {}

        def listen(heard: Heard) -> None:
            if target.is_meant(heard.device.address, heard.device.name):
                named[heard.device.address] = heard
                if not found.done():
                    found.set_result(heard)

        with self.listening(listen):
            await asyncio.wait([found], timeout=min(_TROUBLE_S, within_s))
            if not found.done() and not self.trouble:
                await asyncio.wait([found], timeout=within_s - _TROUBLE_S)
            if not found.done():
                found.cancel()
                raise InstrumentUnavailable(
                    target.instrument, self.trouble or _out_of_reach(target)
                )
            if target.address is None and target.known not in named:
                await asyncio.sleep(_NAMESAKE_S)
        if target.known in named:
            return named[target.known]
        if len(named) > 1:
            several = " and ".join(sorted(named))
            reason = f'{several} are both called "{target.name}": write the address of this one'
            raise InstrumentUnavailable(target.instrument, reason)
        return found.result()

    # connections

    async def _find(self, target: Target, scanning: AsyncExitStack) -> tuple[BLEDevice, int | None]:
        with suppress(*TROUBLE):
            async with asyncio.timeout(_HANG_UP_S):
                connected = await self._bus.connected()
            for path, device in connected.items():
                if target.is_meant(device["Address"], device.get("Name")):
                    details = {"path": path, "props": device}
                    known = BLEDevice(device["Address"], device.get("Name"), details)
                    return known, device.get("RSSI")
        scanning.enter_context(self.listening(lambda _: None))
        heard = await self.find(target)
        return heard.device, heard.data.rssi

    @asynccontextmanager
    async def _client(
        self, target: Target, device: BLEDevice, lost: Lost
    ) -> AsyncIterator[BleakClient]:
        path = str(device.details["path"])
        arguments = BlueZClientArgs(adapter=self._adapter) if self._adapter else BlueZClientArgs()
        client = BleakClient(
            device,
            disconnected_callback=lambda _: lost("the link broke"),
            timeout=_CONNECT_S,
            bluez=arguments,
        )
        self._sessions[path] = lost
        try:
            # bleak's own timeout ends the attempt, and then waits for an answer to its hanging up.
            async with asyncio.timeout(_CONNECT_S + _HANG_UP_S):
                await client.connect()
            yield client
        except TROUBLE as error:
            reason = f"{target.said}: {said(error)}"
            raise InstrumentUnavailable(target.instrument, reason) from error
        finally:
            self._sessions.pop(path, None)
            # Left out, each lost link would leak a descriptor; it may fail where nobody answers.
            with suppress(*TROUBLE):
                async with asyncio.timeout(_HANG_UP_S):
                    await client.disconnect()

    def _gone(self, path: str, reason: str) -> None:
        for device, lost in list(self._sessions.items()):
            if path in ("/", device) or device.startswith(f"{path}/"):
                lost(reason)
        if "/dev_" not in path:
            self.trouble = reason
            self._renew.set()
        if path == "/":
            self._absent = reason

    def _back(self) -> None:
        self._absent = ""
        if not self._scanning:  # one that runs was started after the last that was gone
            self._renew.set()

    # scanner

    async def _scan(self) -> None:
        """Scan whenever somebody listens; start afresh whenever the scanner may have died."""
        arguments = BlueZScannerArgs(filters={"DuplicateData": True})
        if self._adapter:
            arguments["adapter"] = self._adapter
        loop = asyncio.get_running_loop()
        while True:
            await self._wanted.wait()
            self._renew.clear()
            scanner = BleakScanner(self._hear, bluez=arguments)
            try:
                await started(scanner)
            except TROUBLE as error:
                self.trouble = self._absent or said(error)
                await self._renewed(_RETRY_S)
                continue
            self.trouble = ""
            self._heard_s = loop.time()
            self._scanning = True
            try:
                while not self._renew.is_set() and loop.time() - self._heard_s < _QUIET_S:
                    await self._renewed(_QUIET_S - (loop.time() - self._heard_s))
            finally:
                self._scanning = False
                await stopped(scanner)

    async def _renewed(self, within_s: float) -> None:
        with suppress(TimeoutError):
            async with asyncio.timeout(within_s):
                await self._renew.wait()

    def _hear(self, device: BLEDevice, data: AdvertisementData) -> None:
        if data.rssi == _NO_RSSI:
            return  # some other property changed: what it advertised is old
        self._heard_s = asyncio.get_running_loop().time()
        for hear in tuple(self._listeners):
            hear(Heard(device, data))


def _out_of_reach(target: Target) -> str:
    return f"{target.said} is not in reach: check its battery, switch it on, bring it nearer"


_Shared = dict[str | None, tuple[Radio, list[object]]]
_radios: WeakKeyDictionary[asyncio.AbstractEventLoop, _Shared] = WeakKeyDictionary()


@asynccontextmanager
async def shared(adapter: str | None) -> AsyncIterator[Radio]:
    """The radio of `adapter`, the same for all who ask while somebody holds it.

    bleak, too, keeps one connection to the service for each event loop.
    """
    radios = _radios.setdefault(asyncio.get_running_loop(), {})
    if adapter not in radios:
        radio = Radio(adapter)
        radio.start()
        radios[adapter] = radio, []
    radio, users = radios[adapter]
    users.append(user := object())
    try:
        yield radio
    finally:
        users.remove(user)
        if not users:
            del radios[adapter]
            await radio.close()
