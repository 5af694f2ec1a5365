"""Bluetooth without radio: a private D-Bus and a Bluetooth service of our own, for conftest.py.

bleak's own code for this system's service is what speaks to it.
"""

import shutil
import tempfile
from pathlib import Path

import pytest

from simulators import private_bus
from simulators.bluez import Bluez
from simulators.private_bus import PrivateBus


@pytest.fixture
def dbus(monkeypatch):
    """A D-Bus that this process takes for the system's."""
    if not private_bus.available():
        pytest.skip("dbus-daemon is not installed (Debian: dbus)")
    folder = Path(tempfile.mkdtemp(prefix="bus-"))  # a socket's path must be short
    with PrivateBus(folder) as bus:
        monkeypatch.setenv(private_bus.ADDRESS_VARIABLE, bus.address)
        yield bus
    shutil.rmtree(folder)


@pytest.fixture
async def bluez(dbus):
    """The Bluetooth service, without a sensor in reach."""
    async with Bluez(dbus.address) as service:
        yield service
