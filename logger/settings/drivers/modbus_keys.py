"""Driver `modbus-rtu`: registers of one or several devices on an RS-485 line."""

from typing import Annotated, Literal

from pydantic import ValidationInfo, field_validator

from logger.settings import forms
from logger.settings.channels import ChannelKeys
from logger.settings.drivers.instrument_keys import Channels
from logger.settings.drivers.wired_keys import SerialKeys
from logger.settings.keys import WrongValue, key


class ModbusChannelKeys(ChannelKeys):
    """A number in the registers of a device."""

    device: Annotated[int, forms.whole(1, 247, "1")] = key("address on the line, 1 to 247")
    table: Literal["input", "holding"] = key("holding: function 3; input: function 4", "input")
    address: Annotated[int, forms.whole(0, 65_535, "0")] = key(
        "from 0, as it goes over the line: register 40001 is 0"
    )
    type: Literal["int16", "uint16", "int32", "uint32", "float32"] = key(
        "how the number lies in its registers", "int16"
    )
    word_order: Literal["high-first", "low-first"] | None = key(
        "which register of two holds the upper half; left out: the first", None
    )
    scale: forms.Scale = key("what one count is worth", 1.0)

    @field_validator("word_order")
    @classmethod
    def _of_two_words(cls, order: str | None, info: ValidationInfo) -> str | None:
        type = info.data.get("type", "")
        if order is not None and type.endswith("16"):
            raise WrongValue(f"{type} has only one word; leave it out")
        return order


class ModbusRtuKeys(SerialKeys):
    """Asked in Modbus RTU."""

    place = ("address", "device", "table", "type", "word_order", "scale")

    driver: Literal["modbus-rtu"] = key("how it is read", "modbus-rtu")
    # 19200 Bd and even parity are the defaults of Modbus over serial line V1.02, 2.5.1.
    baud: Annotated[int, forms.whole(50, 4_000_000, "19200")] = key("as the line is set", 19_200)
    parity: Literal["none", "even", "odd"] = key("the parity bit of each character", "even")
    answer_within_s: forms.Seconds = key(
        "an answer takes no longer than this, in real time", "500 ms"
    )
    channel: Channels[ModbusChannelKeys]
