"""Telling systemd that the service is up and its pipeline alive (sd_notify(3))."""

import os
import socket


class ServiceManager:
    """The manager that started us; without one nothing is sent."""

    def __init__(self, address: str | None = None) -> None:
        """`address`: of its socket; by default the environment's NOTIFY_SOCKET."""
        self._address = os.environ.get("NOTIFY_SOCKET") if address is None else address

    def ready(self, url: str) -> None:
        """The bench is watched from now on."""
        self._send(f"READY=1\nSTATUS=page at {url}")

    def alive(self) -> None:
        """The pipeline has ticked; when this stays away the manager starts us again."""
        self._send("WATCHDOG=1")

    def stopping(self) -> None:
        """A stop was asked for."""
        self._send("STOPPING=1")

    def _send(self, state: str) -> None:
        if not self._address:
            return
        abstract = self._address.startswith("@")  # Linux: a name without a file
        address = "\0" + self._address[1:] if abstract else self._address
        with socket.socket(socket.AF_UNIX, socket.SOCK_DGRAM | socket.SOCK_CLOEXEC) as sender:
            sender.setblocking(False)
            try:
                sender.sendto(state.encode(), address)
            except OSError:
                return  # the manager is gone or busy; its watchdog will tell
