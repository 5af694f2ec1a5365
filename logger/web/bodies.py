"""What may be posted: each body is checked and becomes one entry of the core."""

import re
from abc import ABC, abstractmethod
from collections.abc import Sequence
from typing import Annotated, Any, TypeVar

from pydantic import (
    BaseModel,
    BeforeValidator,
    ConfigDict,
    Field,
    JsonValue,
    StringConstraints,
    ValidationError,
)
from starlette.requests import Request

from logger.burn import entries
from logger.burn.entries import Danger, Entry
from logger.burn.safety import confirmed
from logger.conditioning import calibration
from logger.conditioning.calibration import Correction, Point
from logger.errors import DataError
from logger.quantities import Place, Position, Quantity
from logger.timestamps import parse_at, parse_day_or_at
from logger.units import Dimension, parse_difference, parse_quantity, unit_of

LONGEST_BODY = 64 * 1024  # bytes; what a person types is far shorter
MOST_POINTS = 4000  # buckets of one series answer; a wide screen has fewer columns
COLDEST_C, HOTTEST_C = -50.0, 1000.0  # what hand thermometers for this job show (from memory)
HIGHEST_MM = 1000.0  # above the base; no vessel that is tested by hand is taller (our choice)
LIGHTEST_G, HEAVIEST_G = 1.0, 20_000.0  # of candles, from a tealight up (our choice)
FARTHEST_OFF_K = 10.0  # a probe that is off by more is broken, or a unit was mistaken (our choice)
# Standard uncertainties of the air pressure, hPa: of a phone's or weather station's barometer; of
# one reduced to sea level, brought back to an altitude; of the weather itself where only the
# altitude is known (common practice; the last for temperate latitudes, from memory).
BAROMETER_HPA, REDUCED_HPA, WEATHER_HPA = 1.0, 3.0, 10.0
LONGEST_SHELF_S = 86_400.0  # what is set aside comes back within a day, as people's shifts do

Name = Annotated[str, StringConstraints(pattern=r"^[a-z0-9-]+$", max_length=64)]
Line = Annotated[str, StringConstraints(strip_whitespace=True, max_length=200)]
Id = Annotated[str, StringConstraints(pattern=r"^[A-Za-z0-9._:-]{8,64}$")]
Finite = Annotated[float, Field(allow_inf_nan=False)]
Figure = Annotated[float, Field(ge=-1e6, le=1e6)]  # whose square is a number still


def _as_whole(value: object) -> object:
    return int(value) if isinstance(value, float) and value.is_integer() else value


Whole = Annotated[int, BeforeValidator(_as_whole)]  # 3.0 is whole (JSON Schema 2020-12, 6.1.1)


def _example(**members: JsonValue) -> ConfigDict:
    """For the description of a body; merged into what `Body` configures."""
    example: dict[str, JsonValue] = {"id": "6f1f2c0e9f4b4d0f8f6c7f5b", **members}
    return ConfigDict(json_schema_extra={"examples": [example]})


class Body(BaseModel):
    """Base: `id` makes a repeated post harmless, `at` may lie in the past."""

    model_config = ConfigDict(extra="forbid", frozen=True)

    id: Id
    at: str = "now"
    by: Line = ""

    def stamps(self, now_s: float) -> dict[str, Any]:
        """The fields that every entry has."""
        at_s = parse_at(self.at, now_s)
        return {"id": self.id, "at_s": at_s, "entered_s": now_s, "by": self.by}


class SubjectBody(Body, ABC):
    """What is posted to one thing: a burn's station, an alarm, a reading by hand, a channel."""

    @abstractmethod
    def entry(self, now_s: float, subject: str) -> Entry:
        """As the core takes it."""


class BurnBody(SubjectBody):
    """What is posted to a burn; the subject is its station."""


class AlarmBody(SubjectBody):
    """What is posted to an alarm."""


class HandBody(SubjectBody):
    """What is posted to a reading by hand."""


class LitBody(Body):
    """A candle was lit."""

    model_config = _example(station="jar-a", trial="cedar-6", tester="M6", watched_by="Ines")

    station: Name
    trial: Annotated[str, StringConstraints(strip_whitespace=True, min_length=1, max_length=100)]
    tester: Line = ""
    watched_by: Line = ""
    checks: tuple[Line, ...] = Field(default=(), max_length=20)
    mass: Line | None = None  # "532.4 g", the whole candle, weighed before
    wax: Line | None = None  # "220 g", that it was poured with

    def entry(self, now_s: float) -> Entry:
        """As the core takes it. Raises DataError for what is no candle's mass."""
        return entries.Lit(
            **self.stamps(now_s),
            station=self.station,
            trial=self.trial,
            tester=self.tester,
            watched_by=self.watched_by or self.by,
            checks=confirmed(self.checks),
            mass_g=None if self.mass is None else _mass_g("mass", self.mass),
            wax_g=None if self.wax is None else _mass_g("wax", self.wax),
        )


class OutBody(BurnBody):
    """A candle was seen out."""

    model_config = _example(by="Ines", at="1 min ago")

    def entry(self, now_s: float, station: str) -> Entry:
        """As the core takes it."""
        return entries.Out(**self.stamps(now_s), station=station)


class InSightBody(BurnBody):
    """Somebody has the candle in sight."""

    model_config = _example(by="Ines")

    def entry(self, now_s: float, station: str) -> Entry:
        """As the core takes it."""
        return entries.InSight(**self.stamps(now_s), station=station)


class ObservationBody(BurnBody):
    """What was seen: a note, or an emergency."""

    model_config = _example(text="flame 20 mm, no soot")

    text: Annotated[str, StringConstraints(strip_whitespace=True, max_length=4000)] = ""
    emergency: Danger | None = None

    def entry(self, now_s: float, station: str) -> Entry:
        """As the core takes it. Raises DataError when there is nothing in it."""
        stamps = self.stamps(now_s)
        if self.emergency is not None:
            return entries.Emergency(**stamps, station=station, what=self.emergency, text=self.text)
        if not self.text:
            raise DataError("text: write what was seen, or name an emergency")
        return entries.Note(**stamps, station=station, text=self.text)


class WeighInBody(BurnBody):
    """The candle was weighed, cold: `at` tells whether before its lighting or after it was out."""

    model_config = _example(mass="511.0 g", by="Ines")

    mass: Line
    wax: Line | None = None

    def entry(self, now_s: float, station: str) -> Entry:
        """As the core takes it. Raises DataError for what is no candle's mass."""
        mass_g = _mass_g("mass", self.mass)
        wax_g = None if self.wax is None else _mass_g("wax", self.wax)
        return entries.WeighIn(**self.stamps(now_s), station=station, mass_g=mass_g, wax_g=wax_g)


class ReadingBody(BurnBody):
    """Values of one place, read off in one go."""

    model_config = _example(values=[110.2, 110.6], unit="degF", height="80 mm", clock=9)

    values: tuple[Finite, ...] = Field(min_length=1, max_length=50)
    unit: str = "degC"
    place: Position = Position.WALL
    height: str | None = None  # "60 mm"
    clock: Annotated[Whole, Field(ge=1, le=12)] | None = None
    emissivity: Annotated[float, Field(gt=0, le=1)] | None = None
    emissivity_set: Annotated[float, Field(gt=0, le=1)] = 1.0
    reflected: str | None = None  # "22 degC"

    def entry(self, now_s: float, station: str) -> Entry:
        """As the core takes it: in degC. Raises DataError for what is no temperature or place."""
        unit = unit_of(self.unit, Quantity.TEMPERATURE)
        reflected_c = (
            None if self.reflected is None else parse_quantity(self.reflected, Quantity.TEMPERATURE)
        )
        height_mm = None if self.height is None else parse_quantity(self.height, Dimension.LENGTH)
        if self.place is Position.WALL and height_mm is None:
            raise DataError('height: a wall place needs its height above the base, as "60 mm"')
        if height_mm is not None and not 0.0 <= height_mm <= HIGHEST_MM:
            raise DataError(f'height: "{self.height}" is on no vessel: write it as "60 mm"')
        if self.emissivity is None and "emissivity_set" in self.model_fields_set:
            raise DataError(
                "emissivity_set: corrects nothing alone: give the surface's emissivity too, "
                "0.92 for bare glass"
            )
        values_c = tuple(unit.inside(value) for value in self.values)
        odd = next((v for v in values_c if not COLDEST_C <= v <= HOTTEST_C), None)
        if odd is not None:
            raise DataError(f"values: {odd:g} degC is no reading of a candle: look at the unit")
        return entries.ManualReading(
            **self.stamps(now_s),
            station=station,
            place=Place(position=self.place, height_mm=height_mm, clock=self.clock),
            values=values_c,
            emissivity=self.emissivity,
            emissivity_set=self.emissivity_set,
            reflected_c=reflected_c,
            typed_in=unit,
        )


class MoveBody(HandBody):
    """A reading was typed at the wrong jar."""

    model_config = _example(station="jar-b")

    station: Name  # that it is of

    def entry(self, now_s: float, reading: str) -> Entry:
        """As the core takes it."""
        return entries.Moved(**self.stamps(now_s), reading=reading, station=self.station)


class AcknowledgeBody(AlarmBody):
    """An alarm was seen."""

    model_config = _example(by="Ines")

    where: Line = "page"

    def entry(self, now_s: float, alarm: str) -> Entry:
        """As the core takes it."""
        return entries.Acknowledge(**self.stamps(now_s), alarm=alarm, where=self.where)


class ShelveBody(AlarmBody):
    """An alarm is set aside for a while."""

    model_config = _example(by="Ines", lasts="30 min")

    lasts: str  # "30 min"

    def entry(self, now_s: float, alarm: str) -> Entry:
        """As the core takes it. Raises DataError for no duration, or one longer than a day."""
        lasts_s = parse_quantity(self.lasts, Dimension.DURATION)
        if not 0.0 < lasts_s <= LONGEST_SHELF_S:
            raise DataError(f'lasts: "{self.lasts}" must be more than nothing and at most "24 h"')
        return entries.Shelve(**self.stamps(now_s), alarm=alarm, until_s=now_s + lasts_s)


class ChannelBody(SubjectBody):
    """What is posted to a channel."""


class Compared(BaseModel):
    """One comparison: what the reference said, and what the channel showed."""

    model_config = ConfigDict(extra="forbid", frozen=True)

    reference: Figure
    shown: Figure


class CalibrationBody(ChannelBody):
    """A channel was compared with something better: by an offset, in ice and boiling, at points.

    What it showed is meant without any calibration: as the instrument gives it.
    """

    model_config = _example(
        by="Ines",
        reference="ice bath; boiling water",
        ice="0.2 degC",
        boiling="99.1 degC",
        pressure="1002 hPa",
    )

    reference: Annotated[str, StringConstraints(strip_whitespace=True, max_length=200)] = Field(
        min_length=1, description="against what: an ice bath, glass thermometer no. 4"
    )
    quantity: Quantity = Quantity.TEMPERATURE
    offset: str | None = Field(default=None, description='to add: "-0.3 delta_degC"')
    ice: str | None = Field(default=None, description='shown in melting ice: "0.2 degC"')
    boiling: str | None = Field(default=None, description='shown in boiling water: "99.1 degC"')
    pressure: str | None = Field(default=None, description='of the air: "1002 hPa"')
    altitude: str | None = Field(
        default=None, description='"430 m", where `pressure` is reduced to sea level, or unknown'
    )
    points: tuple[Compared, ...] = Field(default=(), max_length=200)
    unit: str | None = Field(default=None, description="of the points; the quantity's own")
    uncertainty: str | None = Field(
        default=None, description='standard uncertainty of the comparison: "0.1 delta_degC"'
    )

    def stamps(self, now_s: float) -> dict[str, Any]:
        """The fields that every entry has; a day alone may be given."""
        at_s = parse_day_or_at(self.at, now_s)
        return {"id": self.id, "at_s": at_s, "entered_s": now_s, "by": self.by}

    def entry(self, now_s: float, channel: str) -> Entry:
        """As the core takes it. Raises DataError for what makes no calibration."""
        if not self.by:
            raise DataError("by: say who compared it")
        correction, method = self._correction()
        points = (0.0, 100.0) if self.quantity is Quantity.TEMPERATURE else ()
        farthest = max((abs(correction.at(x)) for x in points), default=0.0)
        if farthest > FARTHEST_OFF_K:
            raise DataError(
                f"this corrects by up to {farthest:.1f} K: look at the unit and the signs; a probe "
                "that is off by so much is to be replaced"
            )
        return entries.Calibrated(
            **self.stamps(now_s),
            channel=channel,
            quantity=self.quantity,
            reference=self.reference,
            method=method,
            correction=correction,
        )

    def _correction(self) -> tuple[Correction, str]:
        ways = [self.offset is not None, bool(self.ice or self.boiling), bool(self.points)]
        if sum(ways) != 1:
            raise DataError("give one of: offset; ice and boiling; points")
        uncertainty = 0.0
        if self.uncertainty is not None:
            uncertainty = parse_difference(_as_difference(self.uncertainty), self.quantity)
            if not 0.0 <= uncertainty <= FARTHEST_OFF_K:
                raise DataError(f'uncertainty: "{self.uncertainty}" calibrates nothing')
        if self.offset is not None:
            offset = parse_difference(_as_difference(self.offset), self.quantity)
            return Correction(offset=offset, offset_uncertainty=uncertainty), "offset"
        if self.points:
            unit = unit_of(self.unit or self.quantity.unit, self.quantity)
            points = [
                Point(
                    shown=unit.inside(point.shown),
                    reference=unit.inside(point.reference),
                    standard_uncertainty=uncertainty,
                )
                for point in self.points
            ]
            count = len(points)
            many = f"{count} point{'s' if count > 1 else ''}"
            return calibration.from_points(points), many
        if self.ice is None or self.boiling is None or self.quantity is not Quantity.TEMPERATURE:
            raise DataError("ice and boiling are two temperatures that go together")
        pressure_hpa, pressure_u = self._pressure()
        correction = calibration.from_ice_and_boiling(
            parse_quantity(self.ice, Quantity.TEMPERATURE),
            parse_quantity(self.boiling, Quantity.TEMPERATURE),
            pressure_hpa=pressure_hpa,
            pressure_uncertainty_hpa=pressure_u,
            standard_uncertainty_k=uncertainty,
        )
        return correction, f"ice, and boiling at {pressure_hpa:.0f} hPa"

    def _pressure(self) -> tuple[float, float]:
        """At the bench, and its standard uncertainty; hPa."""
        known = self.pressure is not None
        hpa = parse_quantity(self.pressure or "1013.25 hPa", Dimension.PRESSURE)
        if self.altitude is not None:
            metres = parse_quantity(self.altitude, Dimension.LENGTH) / 1000.0
            return calibration.bench_pressure_hpa(
                hpa, metres
            ), REDUCED_HPA if known else WEATHER_HPA
        if not known:
            raise DataError(
                'pressure: water boils 1 K lower for every 37 hPa less; give "1002 hPa" as it is '
                "at the bench, or the altitude"
            )
        return hpa, BAROMETER_HPA


def _as_difference(text: str) -> str:
    """People write "-0.3 degC" for a difference too; here it can be nothing else."""
    return re.sub(r"(?<![a-z_])(deg|°)([CF])\b", r"delta_deg\2", text)


def _mass_g(name: str, text: str) -> float:
    mass_g = parse_quantity(text, Quantity.MASS)
    if not LIGHTEST_G <= mass_g <= HEAVIEST_G:
        raise DataError(f'{name}: "{text}" is no candle that a bench weighs: look at the unit')
    return mass_g


KINDS: dict[str, type[LitBody | BurnBody | HandBody | AlarmBody | ChannelBody]] = {
    "lit": LitBody,
    "out": OutBody,
    "in-sight": InSightBody,
    "readings": ReadingBody,
    "weigh-ins": WeighInBody,
    "move": MoveBody,
    "observations": ObservationBody,
    "acknowledge": AcknowledgeBody,
    "shelve": ShelveBody,
    "calibrations": CalibrationBody,
}
"""What can be entered, by the last part of its address."""

B = TypeVar("B", bound=Body)


async def read(request: Request, kind: type[B]) -> B:
    """The request's JSON as a `kind`: "3" is no number, 1 is no text.

    Raises DataError that names every field to mend.
    """
    try:
        return kind.model_validate_json(await raw(request), strict=True)
    except ValidationError as exc:
        raise refusal(exc) from None


async def raw(request: Request) -> bytes:
    """The body as it came. Raises DataError where it is longer than anybody types."""
    body = b""
    async for chunk in request.stream():
        body += chunk
        if len(body) > LONGEST_BODY:
            raise DataError(f"the body is longer than {LONGEST_BODY} bytes: shorten the text")
    return body


def refusal(exc: ValidationError) -> DataError:
    """Every field to mend, in one line."""
    return DataError("; ".join(_words(error["loc"], error["msg"]) for error in exc.errors()))


def _words(location: Sequence[int | str], message: str) -> str:
    where = ".".join(str(step) for step in location)
    return f"{where}: {message}" if where else message
