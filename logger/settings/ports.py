"""Keys that the drivers of wired instruments share."""

from dataclasses import replace
from enum import StrEnum
from typing import TypedDict

from logger.settings import forms
from logger.settings.model import InstrumentSettings
from logger.settings.table import Table
from logger.units import Dimension


class Parity(StrEnum):
    """The parity bit of each character."""

    NONE = "none"
    EVEN = "even"
    ODD = "odd"


class Asked(TypedDict):
    """How often an instrument is asked, and how long it has for an answer."""

    every_s: float
    answer_within_s: float


def serial(
    table: Table,
    common: InstrumentSettings,
    *,
    baud: int = 9600,
    parity: Parity = Parity.NONE,
) -> InstrumentSettings:
    """`common` with the port of `table`; `baud` and `parity` where it leaves them out."""
    return replace(
        common,
        port=table.need("port", forms.text('"/dev/serial/by-id/usb-probes"'), instead=""),
        baud=table.take("baud", forms.whole(50, 4_000_000, "9600"), baud),
        parity=table.take("parity", forms.choice(Parity, parity), parity).value,
        stop_bits=table.take("stop_bits", forms.whole(1, 2, "1"), 1),
        dtr=table.take("dtr", forms.FLAG, None),
        rts=table.take("rts", forms.FLAG, None),
    )


def asked(table: Table, *, every_s: float, within_s: float) -> Asked:
    """The keys of an instrument that is asked, with what they are when left out."""
    time = forms.more_than_zero(forms.quantity(Dimension.DURATION, '"1 s"'))
    return Asked(
        every_s=table.take("every", time, every_s),
        answer_within_s=table.take("answer_within", time, within_s),
    )
