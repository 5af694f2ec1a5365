"""Bluetooth sensors as the air knows them: what they advertise and what they serve."""

from collections.abc import Mapping
from dataclasses import dataclass, field

_BASE = "-0000-1000-8000-00805f9b34fb"


def uuid(short: int) -> str:
    """A 16-bit UUID of the Bluetooth SIG at its full length."""
    return f"{short:08x}{_BASE}"


@dataclass(eq=False)
class Characteristic:
    """One value that a sensor serves."""

    uuid: str
    flags: tuple[str, ...] = ("read", "notify")
    value: bytes = b""
    descriptors: Mapping[str, bytes] = field(default_factory=dict)
    paired_only: bool = False  # given to paired devices only


@dataclass(eq=False)
class Peripheral:
    """In reach from the start; `services` by UUID. It advertises while nobody is connected."""

    address: str
    name: str
    services: Mapping[str, tuple[Characteristic, ...]] = field(default_factory=dict)
    service_data: dict[str, bytes] = field(default_factory=dict)
    manufacturer_data: dict[int, bytes] = field(default_factory=dict)
    rssi_dbm: int = -58
    advertises_every_s: float = 0.1
    connects_in_s: float = 0.01
    in_reach: bool = True
    connected: bool = False
    _next_advert_s: float = 0.0

    @property
    def characteristics(self) -> list[Characteristic]:
        """Of all services, in order."""
        return [one for served in self.services.values() for one in served]

    def find(self, uuid: str) -> Characteristic:
        """The first characteristic of that UUID."""
        return next(one for one in self.characteristics if one.uuid == uuid)

    def due(self, now_s: float) -> bool:
        """Whether it advertises now."""
        if not self.in_reach or self.connected or now_s < self._next_advert_s:
            return False
        self._next_advert_s = now_s + self.advertises_every_s
        return True


def hundredths(celsius: float) -> bytes:
    """Temperature, 0x2A6E."""
    return round(100.0 * celsius).to_bytes(2, "little", signed=True)


def health_measurement(celsius: float) -> bytes:
    """Temperature Measurement, 0x2A1C: flags 0, mantissa of tenths, exponent -1."""
    return b"\x00" + round(10.0 * celsius).to_bytes(3, "little", signed=True) + b"\xff"


TEMPERATURE, HUMIDITY = uuid(0x2A6E), uuid(0x2A6F)
MEASUREMENT, BATTERY_LEVEL = uuid(0x2A1C), uuid(0x2A19)
DESCRIPTION, PRESENTATION = uuid(0x2901), uuid(0x2904)


def environmental_sensor(
    address: str, name: str, *, celsius: float = 21.0, battery: int | None = 90
) -> Peripheral:
    """Environmental Sensing with temperature and humidity, and a battery service."""
    services: dict[str, tuple[Characteristic, ...]] = {
        uuid(0x181A): (
            Characteristic(TEMPERATURE, value=hundredths(celsius)),
            Characteristic(HUMIDITY, value=(4516).to_bytes(2, "little")),
        )
    }
    if battery is not None:
        services[uuid(0x180F)] = (Characteristic(BATTERY_LEVEL, value=bytes([battery])),)
    return Peripheral(address=address, name=name, services=services)


def health_thermometer(address: str, name: str, *, celsius: float = 21.0) -> Peripheral:
    """Health Thermometer: indicates, and cannot be read."""
    served = Characteristic(MEASUREMENT, flags=("indicate",), value=health_measurement(celsius))
    return Peripheral(address=address, name=name, services={uuid(0x1809): (served,)})


def several_probes(address: str, name: str, celsius: Mapping[str, float]) -> Peripheral:
    """One device with several probes, told apart by their descriptions."""
    served = tuple(
        Characteristic(
            TEMPERATURE,
            value=hundredths(each_c),
            descriptors={
                DESCRIPTION: description.encode(),
                # sint16, exponent -2, degree Celsius 0x272F, the SIG's namespace, place in a row
                PRESENTATION: bytes([0x0E, 0xFE, 0x2F, 0x27, 0x01, number, 0x00]),
            },
        )
        for number, (description, each_c) in enumerate(celsius.items(), start=1)
    )
    return Peripheral(address=address, name=name, services={uuid(0x181A): served})


def advertising_sensor(address: str, name: str, service: int, data: bytes) -> Peripheral:
    """Only advertises, with `data` as its service data."""
    return Peripheral(address=address, name=name, service_data={uuid(service): data})
