"""Keys that the drivers of wired instruments share."""

from typing import Annotated, Literal

from pydantic import StrictBool

from logger.settings import forms
from logger.settings.drivers.instrument_keys import InstrumentKeys
from logger.settings.keys import key


class AskedKeys(InstrumentKeys):
    """An instrument that is asked."""

    every_s: forms.Seconds = key("from one question to the next", "1 s", '"2 s"')
    answer_within_s: forms.Seconds = key(
        "an answer takes no longer than this, in real time", "1 s", '"1 s"'
    )


class SerialKeys(AskedKeys):
    """An instrument on a serial port."""

    port: Annotated[str, forms.text('"/dev/serial/by-id/usb-probes"')] = key(
        "the stable name of the port"
    )
    baud: Annotated[int, forms.whole(50, 4_000_000, "9600")] = key("as the instrument is set", 9600)
    parity: Literal["none", "even", "odd"] = key("the parity bit of each character", "none")
    stop_bits: Annotated[int, forms.whole(1, 2, "1")] = key("after each character", 1)
    dtr: StrictBool | None = key("control line; left out: as the system leaves it", None)
    rts: StrictBool | None = key("control line; left out: as the system leaves it", None)
