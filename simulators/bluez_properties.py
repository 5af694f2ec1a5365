"""What the Bluetooth service shows of adapter, devices and what they serve."""

from collections.abc import Iterator

from dbus_fast import Variant

from simulators.bluetooth_sensors import Characteristic, Peripheral
from simulators.bus_objects import Properties

ADAPTER_PATH = "/org/bluez/hci0"
ADAPTER, DEVICE = "org.bluez.Adapter1", "org.bluez.Device1"
SERVICE, CHARACTERISTIC = "org.bluez.GattService1", "org.bluez.GattCharacteristic1"
DESCRIPTOR = "org.bluez.GattDescriptor1"

Served = tuple[str, str, Properties, Characteristic | bytes | None]


def path_of(sensor: Peripheral) -> str:
    """Of its device."""
    return f"{ADAPTER_PATH}/dev_{sensor.address.replace(':', '_')}"


def adapter(*, powered: bool) -> Properties:
    """One that can do Low Energy."""
    return {
        "Address": Variant("s", "02:00:00:00:00:01"),
        "Powered": Variant("b", powered),
        "Discovering": Variant("b", False),
        "Roles": Variant("as", ["central"]),
    }


def device(sensor: Peripheral) -> Properties:
    """With what it advertises at this moment."""
    return {
        "Address": Variant("s", sensor.address),
        "Name": Variant("s", sensor.name),
        "Alias": Variant("s", sensor.name),
        "Adapter": Variant("o", ADAPTER_PATH),
        "Connected": Variant("b", sensor.connected),
        "ServicesResolved": Variant("b", False),
        "Paired": Variant("b", False),
        "UUIDs": Variant("as", list(sensor.services)),
        **said(sensor),
    }


def said(sensor: Peripheral) -> Properties:
    """One advertisement."""
    found = {"RSSI": Variant("n", sensor.rssi_dbm)}
    if sensor.service_data:
        data = {key: Variant("ay", value) for key, value in sensor.service_data.items()}
        found["ServiceData"] = Variant("a{sv}", data)
    if sensor.manufacturer_data:
        maker = {key: Variant("ay", value) for key, value in sensor.manufacturer_data.items()}
        found["ManufacturerData"] = Variant("a{qv}", maker)
    return found


def served(sensor: Peripheral) -> Iterator[Served]:
    """Path, interface, properties, and what is read there, of everything that it serves."""
    handle = 0
    for service, characteristics in sensor.services.items():
        handle += 1
        above = f"{path_of(sensor)}/service{handle:04x}"
        properties = {
            "UUID": Variant("s", service),
            "Device": Variant("o", path_of(sensor)),
            "Primary": Variant("b", True),
        }
        yield above, SERVICE, properties, None
        for characteristic in characteristics:
            handle += 1
            path = f"{above}/char{handle:04x}"
            properties = {
                "UUID": Variant("s", characteristic.uuid),
                "Service": Variant("o", above),
                "Flags": Variant("as", list(characteristic.flags)),
                "Notifying": Variant("b", False),
            }
            yield path, CHARACTERISTIC, properties, characteristic
            for uuid, value in characteristic.descriptors.items():
                handle += 1
                properties = {"UUID": Variant("s", uuid), "Characteristic": Variant("o", path)}
                yield f"{path}/desc{handle:04x}", DESCRIPTOR, properties, value
