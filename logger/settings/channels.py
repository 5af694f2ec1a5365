"""[[instrument.channel]]: one quantity at one place."""

import re
from collections.abc import Mapping, Sequence
from typing import Any

from logger.burn.limits import Station
from logger.conditioning.infrared import FINISHES
from logger.quantities import (
    NTC_BETA_K,
    NTC_R25_OHM,
    VESSEL_POSITIONS,
    Averaging,
    Channel,
    Kind,
    Place,
    Position,
    Quantity,
    Transducer,
    Unit,
)
from logger.settings import forms
from logger.settings.model import InstrumentSettings
from logger.settings.sections import unique_name
from logger.settings.table import Form, Table, nearest
from logger.units import Dimension, unit_of


class Channels:
    """The channels of a bench, of all its instruments, and what they must agree on."""

    def __init__(self, stations: Sequence[Station], *, stored: bool = False) -> None:
        """`stored`: of a burn of before, whose configuration may not yet have stated a kind."""
        self._stored = stored
        self._stations = [station.name for station in stations]
        self._lines: dict[str, int] = {}
        self._read: list[tuple[Table, Channel]] = []

    def read(self, table: Table, instrument: InstrumentSettings, averaging: Averaging) -> Channel:
        """One [[instrument.channel]], but for the key that its driver reads."""
        quantity = table.need(
            "quantity", forms.choice(Quantity, Quantity.TEMPERATURE), instead=Quantity.TEMPERATURE
        )
        station = self._station(table)
        transducer, unit = _input(table, quantity)
        step = forms.difference(quantity, _DIFFERENCES[quantity])
        calibration = table.table("calibration")
        place = _place(table, station)
        known = self._stored or quantity is not Quantity.TEMPERATURE
        known = known or place.position not in _ON_CANDLE
        channel = Channel(
            name=unique_name(table, '"jar-a-wall-3"', self._lines),
            instrument=instrument.name,
            quantity=quantity,
            place=place,
            station=station,
            unit=unit,
            transducer=transducer,
            **_sensor(table, transducer, known=known),
            kind=_kind(table, known=known),
            coupling=table.take("coupling", forms.more_than_zero(step), None),
            lag_s=table.take(
                "lag", forms.more_than_zero(forms.quantity(Dimension.DURATION, '"8 s"')), 0.0
            ),
            emissivity=_emissivity(table),
            emissivity_measured=table.take("emissivity_measured", forms.FLAG, False),
            emissivity_set=table.take("emissivity_set", forms.EMISSIVITY, 1.0),
            reflected=table.take("reflected", Form(read=_reflected, example='"room"'), None),
            accuracy=table.take("accuracy", forms.more_than_zero(step), None),
            calibration_offset=calibration.take("offset", step, 0.0),
            resolution=table.take("resolution", forms.more_than_zero(step), None),
            silent_after_s=instrument.silent_after_s,
            averaging=averaging,
        )
        calibration.done()
        self._read.append((table, channel))
        return channel

    def check_reflected(self) -> None:
        """`reflected` may name a channel that comes later, so all must have been read."""
        temperatures = [
            channel.name
            for _, channel in self._read
            if channel.name and channel.quantity is Quantity.TEMPERATURE
        ]
        for table, channel in self._read:
            others = [name for name in temperatures if name != channel.name]
            if isinstance(channel.reflected, str) and channel.reflected not in others:
                known = nearest(channel.reflected, others) if others else 'write "22 degC"'
                table.fault(
                    "reflected",
                    f'no other temperature channel is called "{channel.reflected}"; {known}',
                )

    def _station(self, table: Table) -> str | None:
        station = table.take("station", forms.text('"jar-a"'), None)
        if station is not None and station not in self._stations:
            known = (
                nearest(station, self._stations)
                if self._stations
                else f'write [[station]] with name = "{station}" above'
            )
            table.fault("station", f'no station is called "{station}"; {known}')
        return station


# What meets a vessel, or its wax, errs by how it does so: that must be known before it is judged.
_ON_CANDLE = VESSEL_POSITIONS | {Position.MELT_POOL}
_DIFFERENCES = {
    Quantity.TEMPERATURE: '"1.5 delta_degC"',
    Quantity.MASS: '"0.1 g"',
    Quantity.HUMIDITY: '"3 percent"',
}
_UNITS: Mapping[Quantity | Dimension, str] = {
    Quantity.TEMPERATURE: '"degC"',
    Quantity.MASS: '"g"',
    Quantity.HUMIDITY: '"percent"',
    Dimension.VOLTAGE: '"mV"',
    Dimension.RESISTANCE: '"ohm"',
}
_ELECTRICAL = {
    Transducer.THERMOCOUPLE_K: Dimension.VOLTAGE,
    Transducer.THERMOCOUPLE_T: Dimension.VOLTAGE,
    Transducer.PT100: Dimension.RESISTANCE,
    Transducer.NTC: Dimension.RESISTANCE,
}


def _input(table: Table, quantity: Quantity) -> tuple[Transducer, Unit]:
    """What comes over the link, and what makes a temperature of it."""
    transducer = table.take(
        "transducer", forms.choice(Transducer, Transducer.NONE), Transducer.NONE
    )
    if transducer is not Transducer.NONE and quantity is not Quantity.TEMPERATURE:
        table.fault("transducer", f'gives a temperature, not {quantity}; write "none"')
    comes: Quantity | Dimension = _ELECTRICAL.get(transducer, quantity)
    unit = table.need("unit", forms.unit_name(comes, _UNITS[comes]), instead="")
    return transducer, unit_of(unit, comes) if unit else Unit(name="")


def _sensor(table: Table, transducer: Transducer, *, known: bool) -> dict[str, Any]:
    """What must be known of a transducer besides its kind; the rest is assumed if not stated.

    `known`: a thermistor's B value may be left out. On a vessel it may not: they are sold with 3380
    to 4300 K (from memory), and between these lie 10 K at 60 degC.
    """
    thermocouple = transducer in (Transducer.THERMOCOUPLE_K, Transducer.THERMOCOUPLE_T)
    for keys, fits, what in (
        (("cold_junction",), thermocouple, "a thermocouple"),
        (("ntc_r25", "ntc_beta"), transducer is Transducer.NTC, 'transducer = "ntc"'),
    ):
        for key in keys:
            if table.has(key) and not fits:
                table.fault(key, f"belongs to {what}; leave it out")
    degrees = forms.quantity(Quantity.TEMPERATURE, '"22 degC"')
    ohms = forms.more_than_zero(forms.quantity(Dimension.RESISTANCE, '"10 kohm"'))
    beta = forms.whole(1000, 10_000, "3950")
    if transducer is Transducer.NTC and not known and not table.has("ntc_beta"):
        table.fault("ntc_beta", "missing; write ntc_beta = 3950, the B value of its data sheet")
    return {
        "cold_junction_c": table.take("cold_junction", degrees, None),
        "ntc_r25_ohm": table.take("ntc_r25", ohms, NTC_R25_OHM),
        "ntc_beta_k": float(table.take("ntc_beta", beta, round(NTC_BETA_K))),
    }


def _kind(table: Table, *, known: bool) -> Kind:
    """How the instrument meets the surface; whoever states an emissivity says infrared.

    `known`: it may be left out.
    """
    infrared = table.has("emissivity") or table.has("finish")
    kind = table.take("kind", forms.choice(Kind, Kind.CONTACT), Kind.UNSTATED)
    if kind is Kind.UNSTATED and not (infrared or known or table.has("kind")):
        table.fault(
            "kind",
            'missing; write kind = "contact" for a probe on the surface, or for infrared the '
            "surface's emissivity or finish",
        )
    if infrared and kind is Kind.CONTACT:
        key = "finish" if table.has("finish") else "emissivity"
        table.fault(key, "a contact probe has none; leave it out")
    if kind is Kind.INFRARED and not infrared:
        table.fault(
            "emissivity",
            "missing: infrared needs it; write emissivity = 0.92 for glass, or a finish",
        )
    if table.has("coupling") and kind is not Kind.CONTACT:
        table.fault("coupling", 'belongs to contact probes; write kind = "contact" beside it')
    for key in ("emissivity_set", "emissivity_measured", "reflected"):
        if table.has(key) and not infrared:
            table.fault(key, "corrects nothing alone; write the surface's emissivity beside it")
    return Kind.INFRARED if infrared and kind is Kind.UNSTATED else kind


def _emissivity(table: Table) -> float | None:
    """Of the surface: measured or known as a number, else that of its finish."""
    number = table.take("emissivity", forms.EMISSIVITY, None)
    name = table.take("finish", forms.text('"bare-glass"'), None)
    if name is None:
        return number
    if number is not None:
        table.fault("finish", "says the same as emissivity; leave one of them out")
        return number
    finish = FINISHES.get(name)
    if finish is None:
        table.fault("finish", f'no finish is called "{name}"; {nearest(name, FINISHES)}')
    elif finish.emissivity is None:
        table.fault(
            "finish",
            f"{finish.note}: no figure stands for it; measure it beside a patch of masking tape "
            "and write emissivity = ... and emissivity_measured = true",
        )
    else:
        number = finish.emissivity
    return number


def _place(table: Table, station: str | None) -> Place:
    position = table.need("place", forms.choice(Position, Position.WALL), instead=Position.ROOM)
    height = forms.more_than_zero(forms.quantity(Dimension.LENGTH, '"60 mm"'))
    if position is Position.WALL:
        height_mm: float | None = table.need("height", height, instead=1.0)
    else:
        height_mm = table.take("height", height, None)
    clock = table.take("clock", forms.whole(1, 12, "3"), None)
    if station is None and position in _ON_CANDLE:
        table.fault("station", f'missing: a {position} belongs to one; write station = "jar-a"')
    return Place(position=position, height_mm=height_mm, clock=clock)


def _reflected(value: object) -> str | float:
    """A channel's name or a temperature; no name looks like a quantity: "22 degC" has a blank."""
    words = forms.text('"room" or "22 degC"').read(value)
    if forms.is_name(words) and re.search("[a-z]", words):
        return words
    return forms.quantity(Quantity.TEMPERATURE, '"22 degC"').read(words)
