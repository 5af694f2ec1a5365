"""The demonstration's probe without a wire: a D-Bus and a Bluetooth service of its own."""

import os
import shutil
import tempfile
from pathlib import Path
from types import TracebackType
from typing import Self

from simulators import private_bus
from simulators.private_bus import PrivateBus

MISSING = "No D-Bus daemon here (Debian: dbus), so the bench is shown without its Bluetooth probe."


def available() -> bool:
    """Whether it can be shown on this machine."""
    return private_bus.available()


class BluetoothProbe:
    """A context manager that brings up the bus; the probe is in reach once it was `opened`.

    While it is open, this process takes the bus for the system's.
    """

    ADDRESS = "02:00:00:00:00:0A"
    NAME = "Ember 3"

    def __enter__(self) -> Self:
        from simulators.bluetooth_sensors import environmental_sensor
        from simulators.bluez import Bluez

        self._folder = Path(tempfile.mkdtemp(prefix="wickbench-bus-"))  # its path must be short
        self._bus = PrivateBus(self._folder)
        self._bus.start()
        self._sensor = environmental_sensor(self.ADDRESS, self.NAME)
        self._bluez = Bluez(self._bus.address, [self._sensor])
        self._before = os.environ.get(private_bus.ADDRESS_VARIABLE)
        os.environ[private_bus.ADDRESS_VARIABLE] = self._bus.address
        return self

    def __exit__(
        self,
        kind: type[BaseException] | None,
        error: BaseException | None,
        trace: TracebackType | None,
    ) -> None:
        self._bus.stop()
        shutil.rmtree(self._folder, ignore_errors=True)
        if self._before is None:
            os.environ.pop(private_bus.ADDRESS_VARIABLE, None)
        else:
            os.environ[private_bus.ADDRESS_VARIABLE] = self._before

    async def switch_on(self) -> None:
        """It advertises."""
        await self._bluez.start()

    @property
    def listened(self) -> bool:
        """Whether somebody is connected and waits for its values."""
        from simulators.bluetooth_sensors import TEMPERATURE

        return self._bluez.listened(self._sensor.find(TEMPERATURE))

    def send(self, celsius: float) -> bool:
        """A value; whether somebody got it."""
        from simulators.bluetooth_sensors import TEMPERATURE, hundredths

        return self._bluez.notify(self._sensor, self._sensor.find(TEMPERATURE), hundredths(celsius))
