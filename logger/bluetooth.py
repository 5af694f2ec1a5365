"""Numbers of the Bluetooth SIG: UUIDs, and the names that the configuration knows."""

import re
from collections.abc import Mapping

from logger.errors import DataError

_BASE = "0000{}-0000-1000-8000-00805f9b34fb"  # Bluetooth core specification, vol 3, part B, 2.5.1
_UUID = re.compile(r"(?:0x)?([0-9a-f]{4})|([0-9a-f]{8}(?:-[0-9a-f]{4}){3}-[0-9a-f]{12})", re.ASCII)


def full_uuid(text: str) -> str:
    """The UUID "2A6E", or one of 128 bits, at full length. Raises `DataError` for other text."""
    match = _UUID.fullmatch(text.lower())
    if match is None:
        raise DataError(
            f'"{text[:40]}" is not a UUID; write one as "2A6E" or with all its 32 digits'
        )
    short, full = match.groups()
    return _BASE.format(short) if short else str(full)


ENVIRONMENTAL_SENSING = full_uuid("181A")
HEALTH_THERMOMETER = full_uuid("1809")
BATTERY_SERVICE = full_uuid("180F")
BATTERY_LEVEL = full_uuid("2A19")
USER_DESCRIPTION = full_uuid("2901")
PRESENTATION_FORMAT = full_uuid("2904")

NAMES: Mapping[str, str] = {
    "temperature": full_uuid("2A6E"),
    "humidity": full_uuid("2A6F"),
    "temperature-measurement": full_uuid("2A1C"),
    "intermediate-temperature": full_uuid("2A1E"),
}
"""Characteristics that the configuration calls by name, by their SIG names in small letters."""
