"""Objects that a service shows on a D-Bus: what is there, what changes, who asks."""

import asyncio
from collections.abc import Callable, Sequence
from typing import Any

from dbus_fast import Message, Variant
from dbus_fast.aio import MessageBus

Properties = dict[str, Variant]


class BusObjects:
    """One interface for each path; every change is told to whoever listens, at once."""

    def __init__(self, address: str) -> None:
        self._address = address
        self._bus: MessageBus | None = None
        self.objects: dict[str, dict[str, Properties]] = {}
        self.silent = False  # tells and answers nothing

    async def own(self, name: str, hear: Callable[[Message], Message | bool | None]) -> None:
        """Connect and take `name`; `hear` gets every message, and whoever leaves the bus."""
        self._bus = await MessageBus(bus_address=self._address).connect()
        self._bus.add_message_handler(hear)
        rule = "type='signal',member='NameOwnerChanged',sender='org.freedesktop.DBus'"
        await self._daemon("AddMatch", "s", [rule])
        await self._daemon("RequestName", "su", [name, 0])

    async def release(self, name: str) -> None:
        """Give the name back."""
        await self._daemon("ReleaseName", "s", [name])

    async def leave(self) -> None:
        """Gone from the bus without a word."""
        bus, self._bus = self._bus, None
        self.objects.clear()
        self.silent = False
        if bus is not None:
            bus.disconnect()
            gone = bus.wait_for_disconnect()  # type: ignore[no-untyped-call]
            await asyncio.gather(gone, return_exceptions=True)

    @property
    def present(self) -> bool:
        """Whether it is on the bus and tells what happens."""
        return self._bus is not None and self._bus.connected and not self.silent

    def add(self, path: str, interface: str, properties: Properties) -> None:
        """A new object."""
        self.objects[path] = {interface: properties}
        body = [path, self.objects[path]]
        self._signal("/", "ObjectManager", "InterfacesAdded", "oa{sa{sv}}", body)

    def remove(self, path: str) -> None:
        """The object is gone, if it was there."""
        gone = self.objects.pop(path, None)
        if gone is not None:
            self._signal("/", "ObjectManager", "InterfacesRemoved", "oas", [path, list(gone)])

    def change(
        self, path: str, interface: str, changed: Properties, invalidated: Sequence[str] = ()
    ) -> None:
        """New values of properties, and some that are gone, if the object is there."""
        if path in self.objects:
            self.objects[path][interface].update(changed)
            for name in invalidated:
                self.objects[path][interface].pop(name, None)
            body = [interface, changed, list(invalidated)]
            self._signal(path, "Properties", "PropertiesChanged", "sa{sv}as", body)

    async def send(self, message: Message) -> None:
        """A late answer."""
        if self.present:
            assert self._bus is not None
            await self._bus.send(message)

    def _signal(
        self, path: str, interface: str, member: str, signature: str, body: list[Any]
    ) -> None:
        if self.present:
            assert self._bus is not None
            name = f"org.freedesktop.DBus.{interface}"
            told = self._bus.send(Message.new_signal(path, name, member, signature, body))
            told.add_done_callback(lambda done: done.cancelled() or done.exception())

    async def _daemon(self, member: str, signature: str, body: list[Any]) -> None:
        assert self._bus is not None
        await self._bus.call(
            Message(
                destination="org.freedesktop.DBus",
                path="/org/freedesktop/DBus",
                interface="org.freedesktop.DBus",
                member=member,
                signature=signature,
                body=body,
            )
        )
