"""[[instrument.channel]]: one quantity at one place."""

import re
from collections.abc import Mapping
from dataclasses import fields
from typing import Annotated, Any, Literal

from pydantic import StrictBool, ValidationInfo, field_validator

from logger.conditioning.infrared import FINISHES
from logger.errors import DataError
from logger.quantities import (
    VESSEL_POSITIONS,
    Averaging,
    Channel,
    Kind,
    Place,
    Position,
    Quantity,
    Transducer,
)
from logger.settings import forms
from logger.settings.keys import Form, Keys, WrongValue, key, nearest
from logger.units import Dimension, quantity_of, unit_of

# What meets a vessel, or its wax, errs by how it does so: that must be known before it is judged.
_ON_CANDLE = VESSEL_POSITIONS | {Position.MELT_POOL}
_DIFFERENCES = {
    Quantity.TEMPERATURE: '"1.5 delta_degC"',
    Quantity.MASS: '"0.1 g"',
    Quantity.HUMIDITY: '"3 percent"',
}
_ELECTRICAL: Mapping[Transducer, Dimension] = {
    Transducer.THERMOCOUPLE_K: Dimension.VOLTAGE,
    Transducer.THERMOCOUPLE_T: Dimension.VOLTAGE,
    Transducer.PT100: Dimension.RESISTANCE,
    Transducer.NTC: Dimension.RESISTANCE,
}
_THERMOCOUPLES = {Transducer.THERMOCOUPLE_K, Transducer.THERMOCOUPLE_T}


def _reflected(value: object) -> str | float:
    """A channel's name or a temperature; no name looks like a quantity: "22 degC" has a blank."""
    words: str = forms.text('"room" or "22 degC"').read(value)
    if forms.is_name(words) and re.search("[a-z]", words):
        return words
    celsius: float = forms.quantity(Quantity.TEMPERATURE, '"22 degC"').read(words)
    return celsius


class CalibrationKeys(Keys):
    """calibration: shorthand; dated records in the database win."""

    offset: Any = key(
        "is added to each value", None, '"-0.3 delta_degC"'
    )  # read by the channel, as its other ones


class ChannelKeys(Keys):
    """What every channel has; a driver adds where it is in what the instrument sends."""

    name: Annotated[str, forms.name('"jar-a-wall-3"')] = key("of the channel")
    quantity: Quantity | None = key("left out: what its unit measures", None)
    transducer: Transducer = key(
        "what makes a temperature of the voltage or resistance that comes", "none"
    )
    unit: Annotated[str, forms.text('"degC"')] = key("in which the instrument sends")
    place: Annotated[Position, forms.word('"wall"')] = key("where it looks")
    station: forms.Text | None = key(
        "the candle it looks at; left out: it serves the whole bench", None, '"jar-a"'
    )
    height_mm: forms.Millimetres | None = key("above the outside base; a wall needs it", None)
    clock: Annotated[int, forms.whole(1, 12, "3")] | None = key(
        "1 to 12 round the vessel, seen from above, 12 at the mark", None
    )
    cold_junction_c: forms.Celsius | None = key(
        "of a thermocouple: how warm its terminals are", None, '"22 degC"'
    )
    ntc_r25_ohm: forms.Ohms | None = key(
        "of an ntc: its resistance at 25 degC; left out: 10 kohm", None
    )
    ntc_beta_k: Annotated[float, forms.whole(1000, 10_000, "3950")] | None = key(
        "of an ntc: its B value in K; left out: 3950", None
    )
    finish: forms.Text | None = key(
        "infrared only: of the surface, in place of emissivity", None, '"painted"'
    )
    emissivity: forms.Emissivity | None = key("infrared only: of the surface", None)
    emissivity_measured: StrictBool | None = key(
        "infrared only: found on a patch of this very vessel", None
    )
    emissivity_set: forms.Emissivity | None = key(
        "infrared only: what the instrument assumes; left out: 1, it sends raw values",
        None,
        "0.95",
    )
    reflected: Annotated[str | float, Form(_reflected, '"room"')] | None = key(
        "infrared only: what the surface reflects (mostly the room), a channel or a temperature",
        None,
    )
    kind: Literal["contact", "infrared"] | None = key(
        "a contact probe on the surface, or infrared; on a vessel or in its wax it must be there, "
        "but where an emissivity or finish says it",
        None,
    )
    accuracy: float | None = key("limit of error that its maker states", None, '"1.5 delta_degC"')
    coupling: float | None = key(
        "of a contact probe: how far it may be off, once it has been compared",
        None,
        '"0.8 delta_degC"',
    )
    resolution: float | None = key(
        "smallest step of its readings, if it is coarse", None, '"0.1 delta_degC"'
    )
    calibration: CalibrationKeys = key("until it is calibrated", {})
    lag_s: forms.Seconds | None = key(
        "time constant with which the probe follows its place", None, '"8 s"'
    )

    @field_validator("transducer")
    @classmethod
    def _gives_a_temperature(cls, transducer: Transducer, info: ValidationInfo) -> Transducer:
        quantity = info.data.get("quantity")
        if transducer is not Transducer.NONE and quantity not in {None, Quantity.TEMPERATURE}:
            raise WrongValue(f'gives a temperature, not {quantity}; write "none"')
        return transducer

    @field_validator("unit")
    @classmethod
    def _unit_of_what_comes(cls, unit: str, info: ValidationInfo) -> str:
        try:
            if {"quantity", "transducer"} <= info.data.keys():
                unit_of(unit, _comes(unit, info.data["quantity"], info.data["transducer"]))
        except DataError as exc:
            raise WrongValue(str(exc)) from exc
        return unit

    @field_validator("station")
    @classmethod
    def _candle_has_a_station(cls, station: str | None, info: ValidationInfo) -> str | None:
        position = info.data.get("place")
        if station is None and position in _ON_CANDLE:
            raise WrongValue(f'missing: a {position} belongs to one; write station = "jar-a"')
        return station

    @field_validator("height_mm")
    @classmethod
    def _wall_has_a_height(cls, height_mm: float | None, info: ValidationInfo) -> float | None:
        if height_mm is None and info.data.get("place") is Position.WALL:
            raise WrongValue('missing; write height = "60 mm"')
        return height_mm

    @field_validator("cold_junction_c", "ntc_r25_ohm", "ntc_beta_k")
    @classmethod
    def _of_that_transducer(cls, value: float | None, info: ValidationInfo) -> float | None:
        transducer = info.data.get("transducer")
        if value is None or transducer is None:
            return value
        if info.field_name == "cold_junction_c" and transducer not in _THERMOCOUPLES:
            raise WrongValue("belongs to a thermocouple; leave it out")
        if info.field_name != "cold_junction_c" and transducer is not Transducer.NTC:
            raise WrongValue('belongs to transducer = "ntc"; leave it out')
        return value

    @field_validator("ntc_beta_k")
    @classmethod
    def _known_on_a_candle(cls, beta_k: int | None, info: ValidationInfo) -> int | None:
        # They are sold with 3380 to 4300 K (from memory), and between these lie 10 K at 60 degC.
        if (
            beta_k is None
            and info.data.get("transducer") is Transducer.NTC
            and _must_be_known(info)
        ):
            raise WrongValue("missing; write ntc_beta = 3950, the B value of its data sheet")
        return beta_k

    @field_validator("finish")
    @classmethod
    def _known_finish(cls, name: str | None) -> str | None:
        if name is None:
            return None
        finish = FINISHES.get(name)
        if finish is None:
            raise WrongValue(f'no finish is called "{name}"; {nearest(name, FINISHES)}')
        if finish.emissivity is None:
            raise WrongValue(
                f"{finish.note}: no figure stands for it; measure it beside a patch of masking "
                "tape and write emissivity = ... and emissivity_measured = true"
            )
        return name

    @field_validator("emissivity")
    @classmethod
    def _or_that_of_its_finish(cls, number: float | None, info: ValidationInfo) -> float | None:
        finish = info.data.get("finish")
        if number is not None and finish is not None:
            raise WrongValue("says the same as finish; leave one of them out")
        return number if finish is None else FINISHES[finish].emissivity

    @field_validator("emissivity_set", "emissivity_measured", "reflected")
    @classmethod
    def _beside_an_emissivity(cls, value: Any, info: ValidationInfo) -> Any:
        if value is not None and _infrared(info.data) is False:
            raise WrongValue("corrects nothing alone; write the surface's emissivity beside it")
        return value

    @field_validator("kind")
    @classmethod
    def _kind_and_emissivity(cls, kind: str | None, info: ValidationInfo) -> str | None:
        infrared = _infrared(info.data)
        if infrared and kind == "contact":
            raise WrongValue(
                'a contact probe has no emissivity or finish; leave it out, or write "infrared"'
            )
        if infrared is False and kind == "infrared":
            raise WrongValue("needs the emissivity; write emissivity = 0.92 for glass, or a finish")
        if infrared is False and kind is None and _must_be_known(info):
            raise WrongValue(
                'missing; write kind = "contact" for a probe on the surface, or for infrared the '
                "surface's emissivity or finish"
            )
        return "infrared" if infrared else kind

    @field_validator("accuracy", "coupling", "resolution", mode="before")
    @classmethod
    def _difference(cls, value: object, info: ValidationInfo) -> float | None:
        kind = info.data.get("kind", "contact")
        if info.field_name == "coupling" and value is not None and kind != "contact":
            raise WrongValue('belongs to contact probes; write kind = "contact" beside it')
        return _read_difference(value, info.data, more_than_zero=True)

    @field_validator("calibration")
    @classmethod
    def _offset(cls, written: CalibrationKeys, info: ValidationInfo) -> CalibrationKeys:
        try:
            offset = _read_difference(written.offset, info.data)
        except WrongValue as fault:
            raise WrongValue(str(fault), "offset") from None
        return written.model_copy(update={"offset": offset})

    def as_core(
        self, instrument: str, silent_after_s: float | None, averaging: Averaging
    ) -> Channel:
        """As the core uses it."""
        comes = _comes(self.unit, self.quantity, self.transducer)
        stated = {name: getattr(self, name) for name in _AS_IN_CORE}
        return Channel(
            instrument=instrument,
            quantity=comes if isinstance(comes, Quantity) else Quantity.TEMPERATURE,
            place=Place(position=self.place, height_mm=self.height_mm, clock=self.clock),
            unit=unit_of(self.unit, comes),
            kind=Kind(self.kind or Kind.UNSTATED),
            calibration_offset=self.calibration.offset or 0.0,
            silent_after_s=silent_after_s,
            averaging=averaging,
            **{name: value for name, value in stated.items() if value is not None},
        )


_AS_IN_CORE = {field.name for field in fields(Channel)} & ChannelKeys.model_fields.keys() - {
    "quantity", "place", "unit", "kind",
}  # fmt: skip


def _comes(unit: str, quantity: Quantity | None, transducer: Transducer) -> Quantity | Dimension:
    """What comes over the link. Raises DataError where the unit measures nothing of a channel."""
    return _ELECTRICAL.get(transducer) or quantity or quantity_of(unit)


def _infrared(above: Mapping[str, Any]) -> bool | None:
    """Whether an emissivity or finish is stated; None where it is wrong."""
    known = "emissivity" in above and "finish" in above
    return above["emissivity"] is not None if known else None


def _must_be_known(info: ValidationInfo) -> bool:
    """Whether it measures the temperature of a vessel or its wax."""
    on_candle = info.data.get("place") in _ON_CANDLE
    return on_candle and _quantity(info.data) is Quantity.TEMPERATURE


def _quantity(above: Mapping[str, Any]) -> Quantity | None:
    """What the keys above say that the channel measures; None where they are wrong."""
    if not {"unit", "quantity", "transducer"} <= above.keys():
        return None
    comes = _comes(above["unit"], above["quantity"], above["transducer"])
    return comes if isinstance(comes, Quantity) else Quantity.TEMPERATURE


def _read_difference(
    written: object, above: Mapping[str, Any], *, more_than_zero: bool = False
) -> float | None:
    """A difference of the quantity that the keys above tell; None where they are wrong."""
    quantity = _quantity(above)
    if written is None or quantity is None:
        return None
    form = forms.difference(quantity, _DIFFERENCES[quantity])
    number: float = (forms.more_than_zero(form) if more_than_zero else form).checked(written)
    return number
