"""What bleak does not tell: that the Bluetooth service, an adapter or a device is gone.

After a crash of the service no callback of bleak's comes, a client stays "connected" and a scanner
is silently dead; an adapter switched off and on again does not scan on. D-Bus tells all of it.
"""

import asyncio
import logging
from collections.abc import Callable, Mapping
from typing import Any

from dbus_fast import BusType, Message, MessageType, unpack_variants
from dbus_fast.aio import MessageBus

from logger.instruments.ble_trouble import NO_SERVICE, TROUBLE, said

log = logging.getLogger(__name__)

_SERVICE = "org.bluez"
_ADAPTER, _DEVICE = "org.bluez.Adapter1", "org.bluez.Device1"
_RULES = (
    f"type='signal',sender='org.freedesktop.DBus',member='NameOwnerChanged',arg0='{_SERVICE}'",
    f"type='signal',sender='{_SERVICE}',member='InterfacesAdded'",
    f"type='signal',sender='{_SERVICE}',member='InterfacesRemoved'",
    f"type='signal',sender='{_SERVICE}',member='PropertiesChanged',arg0='{_ADAPTER}'",
)
_RETRY_S = 1.0  # of the bus itself, our choice

Gone = Callable[[str, str], None]


class BusWatch:
    """`gone` hears the path below which everything is gone, and why; `back` that it may be back."""

    def __init__(self, gone: Gone, back: Callable[[], None]) -> None:
        self._gone = gone
        self._back = back
        self._bus: MessageBus | None = None
        self._tried = asyncio.Event()

    async def run(self) -> None:
        """Watch until cancelled, over any number of buses."""
        while True:
            try:
                await self._watch()
            except TROUBLE as error:
                log.debug("D-Bus: %s", said(error))
            self._gone("/", "the D-Bus system bus cannot be reached: check that dbus runs")
            self._tried.set()
            await asyncio.sleep(_RETRY_S)

    async def connected(self) -> Mapping[str, Mapping[str, Any]]:
        """Devices that the service holds a connection to, whoever made it, by path.

        A connection outlives the program that made it; its device does not advertise then.
        """
        await self._tried.wait()
        if self._bus is None or not self._bus.connected:
            return {}
        reply = await self._bus.call(
            Message(
                destination=_SERVICE,
                path="/",
                interface="org.freedesktop.DBus.ObjectManager",
                member="GetManagedObjects",
            )
        )
        if reply.message_type is not MessageType.METHOD_RETURN:
            return {}
        objects = unpack_variants(reply.body[0])
        devices = {path: found[_DEVICE] for path, found in objects.items() if _DEVICE in found}
        return {path: device for path, device in devices.items() if device.get("Connected")}

    async def _watch(self) -> None:
        bus = MessageBus(bus_type=BusType.SYSTEM)
        try:
            await bus.connect()
            bus.add_message_handler(self._hear)
            for rule in _RULES:
                await _ask(bus, "AddMatch", rule)
            has_owner = await _ask(bus, "NameHasOwner", _SERVICE)
            self._bus = bus
            self._tried.set()
            if has_owner.body == [True]:
                self._back()
            else:
                self._gone("/", NO_SERVICE)
            await bus.wait_for_disconnect()  # type: ignore[no-untyped-call]
        finally:
            self._bus = None
            bus.disconnect()

    def _hear(self, message: Message) -> None:
        if message.message_type is not MessageType.SIGNAL:
            return
        match message.member, message.body:
            case "NameOwnerChanged", [str(name), _, str(owner)] if name == _SERVICE:
                if owner:
                    self._back()
                else:
                    self._gone("/", "the system's Bluetooth service has stopped")
            case "InterfacesRemoved", [str(path), list(interfaces)]:
                if _ADAPTER in interfaces:
                    self._gone(path, "the Bluetooth adapter is unplugged")
                elif _DEVICE in interfaces:
                    self._gone(path, "it is out of reach, or off")
            case "InterfacesAdded", [_, dict(interfaces)] if _ADAPTER in interfaces:
                self._back()
            case "PropertiesChanged", [_, dict(changed), _] if "Powered" in changed:
                if changed["Powered"].value:
                    self._back()
                else:
                    self._gone(message.path or "/", "Bluetooth was switched off")


async def _ask(bus: MessageBus, member: str, argument: str) -> Message:
    return await bus.call(
        Message(
            destination="org.freedesktop.DBus",
            path="/org/freedesktop/DBus",
            interface="org.freedesktop.DBus",
            member=member,
            signature="s",
            body=[argument],
        )
    )
