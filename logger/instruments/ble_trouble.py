"""What goes wrong with Bluetooth, in words that say what to do."""

from bleak.exc import (
    BleakBluetoothNotAvailableError,
    BleakBluetoothNotAvailableReason,
    BleakDBusError,
    BleakDeviceNotFoundError,
    BleakError,
    BleakGATTProtocolError,
    BleakGATTProtocolErrorCode,
)
from dbus_fast.errors import DBusFastError

# Everything that bleak and D-Bus raise while radio, service or bus come and go; a half-built
# connection fails an assertion of theirs. TimeoutError is an OSError.
TROUBLE = (BleakError, DBusFastError, OSError, EOFError, AssertionError)

_NOT_AVAILABLE = {
    BleakBluetoothNotAvailableReason.NO_BLUETOOTH: "no Bluetooth adapter: plug one in",
    BleakBluetoothNotAvailableReason.NO_BLE_CENTRAL_ROLE: (
        "the Bluetooth adapter cannot do Low Energy: use another"
    ),
    BleakBluetoothNotAvailableReason.POWERED_OFF: (
        "Bluetooth is off: switch it on (`bluetoothctl power on`, `rfkill unblock bluetooth`)"
    ),
}
_PAIR = frozenset(
    {
        BleakGATTProtocolErrorCode.INSUFFICIENT_AUTHENTICATION,
        BleakGATTProtocolErrorCode.INSUFFICIENT_AUTHORIZATION,
        BleakGATTProtocolErrorCode.INSUFFICIENT_ENCRYPTION,
        BleakGATTProtocolErrorCode.INSUFFICIENT_ENCRYPTION_KEY_SIZE,
    }
)
_WANTS_PAIRING = "it wants to be paired: pair it once with the system's tools (`bluetoothctl pair`)"
NO_SERVICE = (
    "the system's Bluetooth service does not run: `sudo systemctl start bluetooth` (package bluez)"
)
_DBUS = {
    "org.freedesktop.DBus.Error.ServiceUnknown": NO_SERVICE,
    "org.freedesktop.DBus.Error.NameHasNoOwner": NO_SERVICE,
    "org.freedesktop.DBus.Error.NoReply": "the Bluetooth service does not answer",
    "org.freedesktop.DBus.Error.AccessDenied": (
        "this user may not use Bluetooth: `sudo usermod -aG bluetooth $USER`, then log in again"
    ),
    "org.bluez.Error.NotReady": _NOT_AVAILABLE[BleakBluetoothNotAvailableReason.POWERED_OFF],
    "org.bluez.Error.InProgress": "the Bluetooth service is busy",
    "org.bluez.Error.NotAuthorized": _WANTS_PAIRING,
}


def said(error: BaseException) -> str:
    """One of `TROUBLE` as a sentence."""
    match error:
        case BleakBluetoothNotAvailableError() if error.reason in _NOT_AVAILABLE:
            return _NOT_AVAILABLE[error.reason]
        case BleakGATTProtocolError() if error.code in _PAIR:
            return _WANTS_PAIRING
        case BleakDeviceNotFoundError():
            return "it is not in reach any more"
        case BleakDBusError():
            name, details = error.dbus_error, error.dbus_error_details or ""
            if details in ("Not paired", "Insufficient Authentication"):
                return _WANTS_PAIRING
            return _DBUS.get(name, f"the Bluetooth service refuses: {details or name}")
        case TimeoutError():
            return "no answer: check its battery, and bring it nearer"
        case FileNotFoundError() | ConnectionError() | EOFError():
            return "no D-Bus system bus: check that dbus runs"
    return f"Bluetooth: {error or type(error).__name__}"
