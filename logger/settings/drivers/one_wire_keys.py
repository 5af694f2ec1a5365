"""Driver `one-wire`: digital thermometers on the computer's own 1-Wire bus."""

import re
from pathlib import Path
from typing import Annotated, Literal

from logger.errors import DataError
from logger.settings import forms
from logger.settings.channels import ChannelKeys
from logger.settings.drivers.instrument_keys import Channels
from logger.settings.drivers.wired_keys import AskedKeys
from logger.settings.keys import Form, key

KERNEL_FOLDER = Path("/sys/bus/w1/devices")  # kernel documentation, w1/w1-generic
_SENSOR = re.compile(r"[0-9a-f]{2}-[0-9a-f]{12}", re.ASCII)  # family and serial number


def _sensor(value: object) -> str:
    words: str = forms.text('"28-0000000000a1"').read(value)
    if _SENSOR.fullmatch(words) is None:
        raise DataError(
            f'"{words}" is not a 1-Wire sensor; write its folder\'s name, as "28-0000000000a1"'
        )
    return words


class OneWireChannelKeys(ChannelKeys):
    """A sensor on the bus."""

    field: Annotated[str, Form(_sensor, '"28-0000000000a1"')] = key(
        "name of the sensor's folder, in the bus's"
    )


class OneWireKeys(AskedKeys):
    """Read from the kernel's files."""

    place = ("field",)

    driver: Literal["one-wire"] = key("how it is read", "one-wire")
    folder: forms.FilePath = key(
        "of the kernel's files", str(KERNEL_FOLDER), '"/sys/bus/w1/devices"'
    )
    answer_within_s: forms.Seconds = key(
        "an answer takes no longer than this, in real time", "5 s", '"5 s"'
    )
    channel: Channels[OneWireChannelKeys]
