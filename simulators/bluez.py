"""The system's Bluetooth service as D-Bus shows it, with one adapter: no radio, no kernel.

Imitates what bluetoothd is seen to do (its documentation doc/org.bluez.*.rst): devices appear
while somebody scans and they advertise; a link that drops says Connected = False; adapter off
ends connections and scans for good; a crash says nothing at all. Each fault is one call.
"""

import asyncio
from collections.abc import Iterable
from typing import Any, Self

from dbus_fast import Message, MessageType, Variant

from simulators import bluez_properties
from simulators.bluetooth_sensors import Characteristic, Peripheral
from simulators.bluez_properties import (
    ADAPTER,
    ADAPTER_PATH,
    CHARACTERISTIC,
    DEVICE,
    path_of,
)
from simulators.bus_objects import BusObjects

_NAME = "org.bluez"
_ERROR = "org.bluez.Error."
_TURN_S = 0.02
_OUT_OF_REACH_S = 20.0  # after which a connection is given up (kernel: conn_timeout of hci_conn)


class Bluez:
    """`start` it on the bus at `address`; the sensors stay what they are through all faults."""

    def __init__(self, address: str, sensors: Iterable[Peripheral] = ()) -> None:
        self._bus = BusObjects(address)
        self.sensors = {sensor.address: sensor for sensor in sensors}
        self.powered = True
        self.plugged = True
        self.connects = 0  # connections made
        self.most_connecting = 0  # at one time
        self.connecting = 0  # at this moment
        self.adverts = 0  # heard by somebody
        self.most_scans = 0  # at one time
        self._served: dict[str, Characteristic | bytes] = {}  # by path
        self._notified: dict[str, set[str]] = {}  # who listens, by path of a characteristic
        self._scanning: dict[str, bool] = {}  # who scans, and whether repetitions are wanted
        self._filters: dict[str, bool] = {}
        self.unanswered: list[Message] = []
        self._answering: set[asyncio.Task[None]] = set()
        self._air: asyncio.Task[None] | None = None

    async def __aenter__(self) -> Self:
        await self.start()
        return self

    async def __aexit__(self, *_: object) -> None:
        await self.crash()

    # faults

    async def start(self) -> None:
        """The service comes up."""
        await self._bus.own(_NAME, self._hear)
        if self.plugged:
            self.plug()
        self._air = asyncio.create_task(self._advertise(), name="air")

    async def stop(self) -> None:
        """A clean end: every device is disconnected and removed, then the name goes."""
        self._forget_all(tell_links=True)
        self._bus.remove(ADAPTER_PATH)
        await self._bus.release(_NAME)
        await self.crash()

    async def crash(self) -> None:
        """The process is gone: nobody is told anything but that the name has no owner."""
        ending = [*self._answering, *([self._air] if self._air else ())]
        for task in ending:
            task.cancel()
        await asyncio.gather(*ending, return_exceptions=True)
        self._air = None
        await self._bus.leave()
        for sensor in self.sensors.values():
            sensor.connected = False
        self._served.clear()
        self._notified.clear()
        self._scanning.clear()
        self.unanswered.clear()

    def hang(self) -> None:
        """The service stops answering and telling, and keeps its name."""
        self._bus.silent = True

    async def go_on(self) -> None:
        """It answers again, first what it was asked meanwhile."""
        self._bus.silent = False
        waiting, self.unanswered = self.unanswered, []
        for message in waiting:
            answer = self._hear(message)
            if isinstance(answer, Message):
                await self._bus.send(answer)

    def power(self, on: bool) -> None:
        """The adapter off, as by rfkill or bluetoothctl, or on again."""
        self.powered = on
        if not on:
            self._forget_all(tell_links=True)
        self._bus.change(ADAPTER_PATH, ADAPTER, {"Powered": Variant("b", on)})

    def unplug(self) -> None:
        """The adapter is pulled out: its devices go without a word about their links."""
        self.plugged = False
        self._forget_all(tell_links=False)
        self._bus.remove(ADAPTER_PATH)

    def plug(self) -> None:
        """The adapter is back."""
        self.plugged = True
        self._bus.add(ADAPTER_PATH, ADAPTER, bluez_properties.adapter(powered=self.powered))

    def drop_link(self, sensor: Peripheral) -> None:
        """The link breaks; the sensor advertises again."""
        self._disconnect(sensor)

    def vanish(self, sensor: Peripheral, *, silently: bool = False) -> None:
        """Out of reach or battery out; `silently`: removed without Connected = False."""
        sensor.in_reach = False
        self._disconnect(sensor, tell=not silently)
        self._bus.remove(path_of(sensor))

    def leave_connected(self, sensor: Peripheral) -> None:
        """A program was killed: the service keeps its connection."""
        self._bus.add(path_of(sensor), DEVICE, bluez_properties.device(sensor))
        self._link(sensor)

    def come_back(self, sensor: Peripheral) -> None:
        """In reach again."""
        sensor.in_reach = True

    # what sensors do

    def add(self, sensor: Peripheral) -> Peripheral:
        """One more sensor in reach."""
        self.sensors[sensor.address] = sensor
        return sensor

    def notify(self, sensor: Peripheral, characteristic: Characteristic, value: bytes) -> bool:
        """A new value; whether somebody was told."""
        characteristic.value = value
        path = self._path_of(characteristic)
        if not self._bus.present or path is None or not self._notified.get(path):
            return False
        self._bus.change(path, CHARACTERISTIC, {"Value": Variant("ay", value)})
        return True

    def listened(self, characteristic: Characteristic) -> bool:
        """Whether somebody has asked for its notifications."""
        return bool(self._notified.get(self._path_of(characteristic) or ""))

    @property
    def scanned(self) -> bool:
        """Whether somebody scans."""
        return bool(self._scanning)

    def advertise(self, sensor: Peripheral) -> bool:
        """One advertisement; whether somebody scans for it."""
        if not (self._bus.present and self._scanning and self.powered):
            return False
        path = path_of(sensor)
        self.adverts += 1
        if path not in self._bus.objects:
            self._bus.add(path, DEVICE, bluez_properties.device(sensor))
            return True
        changed = bluez_properties.said(sensor)
        if not any(self._scanning.values()):  # no repetitions
            known = self._bus.objects[path][DEVICE]
            changed = {name: value for name, value in changed.items() if known.get(name) != value}
        if changed:
            self._bus.change(path, DEVICE, changed)
        return True

    def forget_signal(self, sensor: Peripheral) -> None:
        """As when scanning stops: its signal strength is taken back, what it said stays."""
        self._bus.change(path_of(sensor), DEVICE, {}, ["RSSI"])

    def touch(self, sensor: Peripheral) -> None:
        """A property changes that has nothing to do with what it advertises."""
        self._bus.change(path_of(sensor), DEVICE, {"Trusted": Variant("b", True)})

    async def _advertise(self) -> None:
        loop = asyncio.get_running_loop()
        while True:
            for sensor in self.sensors.values():
                if sensor.due(loop.time()):
                    self.advertise(sensor)
            await asyncio.sleep(_TURN_S)

    # objects

    def _serve(self, sensor: Peripheral) -> None:
        for path, interface, properties, served in bluez_properties.served(sensor):
            if served is not None:
                self._served[path] = served
            self._bus.add(path, interface, properties)

    def _disconnect(self, sensor: Peripheral, *, tell: bool = True) -> None:
        if not sensor.connected:
            return
        sensor.connected = False
        device = path_of(sensor)
        if tell:
            gone = {"ServicesResolved": Variant("b", False), "Connected": Variant("b", False)}
            self._bus.change(device, DEVICE, gone)
        for path in [path for path in self._bus.objects if path.startswith(f"{device}/")]:
            self._served.pop(path, None)
            self._notified.pop(path, None)
            if tell:
                self._bus.remove(path)
            else:
                del self._bus.objects[path]

    def _forget_all(self, *, tell_links: bool) -> None:
        self._scanning.clear()
        for sensor in self.sensors.values():
            self._disconnect(sensor, tell=tell_links)
            self._bus.remove(path_of(sensor))

    def _path_of(self, characteristic: Characteristic) -> str | None:
        return next((path for path, one in self._served.items() if one is characteristic), None)

    # D-Bus

    def _hear(self, message: Message) -> Message | bool | None:
        if self._bus.silent:  # what comes waits in its socket
            self.unanswered.append(message)
            return True
        if message.message_type is MessageType.SIGNAL:
            if message.member == "NameOwnerChanged" and not message.body[2]:
                self._leave(message.body[0])
            return None
        if message.message_type is not MessageType.METHOD_CALL:
            return None
        path, member = message.path or "", message.member
        if member == "GetManagedObjects":
            return _answer(message, "a{oa{sa{sv}}}", [self._bus.objects])
        if path not in self._bus.objects:
            name = "org.freedesktop.DBus.Error.UnknownObject"
            return Message.new_error(message, name, f"no object {path}")
        answer = {
            "SetDiscoveryFilter": self._set_filter,
            "StartDiscovery": self._start_scan,
            "StopDiscovery": self._stop_scan,
            "Disconnect": self._hang_up,
            "ReadValue": self._read,
            "StartNotify": self._start_notify,
            "StopNotify": self._stop_notify,
        }.get(member or "")
        if answer is not None:
            return answer(message)
        if member == "Connect":
            task = asyncio.create_task(self._connect(message), name="connect")
            self._answering.add(task)
            task.add_done_callback(self._answering.discard)
            return True
        return None

    def _set_filter(self, message: Message) -> Message:
        wanted = message.body[0].get("DuplicateData")
        self._filters[_sender(message)] = bool(wanted is not None and wanted.value)
        return _answer(message)

    def _start_scan(self, message: Message) -> Message:
        if not self.powered:
            return _refusal(message, "NotReady", "Resource Not Ready")
        sender = _sender(message)
        if sender in self._scanning:
            return _refusal(message, "InProgress", "Operation already in progress")
        self._scanning[sender] = self._filters.get(sender, False)
        self.most_scans = max(self.most_scans, len(self._scanning))
        return _answer(message)

    def _stop_scan(self, message: Message) -> Message:
        if self._scanning.pop(_sender(message), None) is None:
            return _refusal(message, "Failed", "No discovery started")
        return _answer(message)

    async def _connect(self, message: Message) -> None:
        sensor = self._sensor(message.path or "")
        self.connecting += 1
        self.most_connecting = max(self.most_connecting, self.connecting)
        try:
            await asyncio.sleep(sensor.connects_in_s if sensor.in_reach else _OUT_OF_REACH_S)
        finally:
            self.connecting -= 1
        if message.path not in self._bus.objects or not sensor.in_reach:
            await self._bus.send(_refusal(message, "Failed", "le-connection-abort-by-remote"))
            return
        self._link(sensor)
        await self._bus.send(_answer(message))

    def _link(self, sensor: Peripheral) -> None:
        sensor.connected = True
        self.connects += 1
        device = path_of(sensor)
        self._bus.change(device, DEVICE, {"Connected": Variant("b", True)})
        self._serve(sensor)
        self._bus.change(device, DEVICE, {"ServicesResolved": Variant("b", True)})

    def _hang_up(self, message: Message) -> Message:
        self._disconnect(self._sensor(message.path or ""))
        return _answer(message)

    def _read(self, message: Message) -> Message:
        path = message.path or ""
        served = self._served[path]
        if isinstance(served, bytes):
            return _answer(message, "ay", [served])
        if "read" not in served.flags:
            return _refusal(message, "NotPermitted", "Read not permitted")
        if served.paired_only:
            return _refusal(message, "NotPermitted", "Not paired")
        if self._notified.get(path):
            self._bus.change(path, CHARACTERISTIC, {"Value": Variant("ay", served.value)})
        return _answer(message, "ay", [served.value])

    def _start_notify(self, message: Message) -> Message:
        served = self._served[message.path or ""]
        if isinstance(served, bytes) or not {"notify", "indicate"} & set(served.flags):
            return _refusal(message, "NotSupported", "Operation is not supported")
        if served.paired_only:
            return _refusal(message, "NotPermitted", "Not paired")
        self._notified.setdefault(message.path or "", set()).add(_sender(message))
        return _answer(message)

    def _stop_notify(self, message: Message) -> Message:
        self._notified.get(message.path or "", set()).discard(_sender(message))
        return _answer(message)

    def _leave(self, name: str) -> None:
        self._scanning.pop(name, None)
        self._filters.pop(name, None)
        for listeners in self._notified.values():
            listeners.discard(name)

    def _sensor(self, path: str) -> Peripheral:
        return next(one for one in self.sensors.values() if path_of(one) == path)


def _path(sensor: Peripheral) -> str:
    return f"{ADAPTER_PATH}/dev_{sensor.address.replace(':', '_')}"


def _sender(message: Message) -> str:
    return message.sender or ""


def _answer(message: Message, signature: str = "", body: list[Any] | None = None) -> Message:
    return Message.new_method_return(message, signature, body or [])


def _refusal(message: Message, name: str, text: str) -> Message:
    return Message.new_error(message, _ERROR + name, text)
