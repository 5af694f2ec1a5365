"""What may be entered: each body is checked and becomes one entry of the core."""

from abc import ABC, abstractmethod
from typing import Annotated, Any

from pydantic import BaseModel, ConfigDict, Field, JsonValue, StringConstraints

from logger.burn import entries
from logger.burn.entries import Entry
from logger.burn.safety import confirmed
from logger.burn.stated import Circumstances, Ending
from logger.errors import DataError
from logger.intake.field_forms import given, with_fields
from logger.intake.fields import Emissivity, Finite, Id, Line, Name, SomeLine, Whole
from logger.quantities import MILLIMETRE, Place, Position, Quantity
from logger.timestamps import parse_at
from logger.units import Dimension, parse_quantity, unit_of, written_in

COLDEST_C, HOTTEST_C = -50.0, 1000.0  # what hand thermometers for this job show (from memory)
HIGHEST_MM = 1000.0  # above the base; no vessel that is tested by hand is taller (our choice)
LIGHTEST_G, HEAVIEST_G = 1.0, 20_000.0  # of candles, from a tealight up (our choice)
LONGEST_SHELF_S = 86_400.0  # what is set aside comes back within a day, as people's shifts do


def example(**members: JsonValue) -> ConfigDict:
    """For the description of a body; merged into what `Body` configures."""
    example: dict[str, JsonValue] = {"id": "6f1f2c0e9f4b4d0f8f6c7f5b", **members}
    return ConfigDict(json_schema_extra={"examples": [example]})


class Body(BaseModel):
    """Base: `id` makes a repeated post harmless, `at` may lie in the past.

    `sure` answers the bench's question about what it holds to be improbable.
    """

    # Some forty of them: each is built at its first use, not all at every start.
    model_config = ConfigDict(extra="forbid", frozen=True, defer_build=True)

    id: Id
    at: str = "now"
    by: Line = ""
    sure: bool = False

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


class EntryBody(SubjectBody):
    """What is posted to an earlier entry; the subject is its id, or as much as is unique."""


@with_fields(Circumstances)
class LitBody(Body):
    """A candle was lit."""

    model_config = example(station="jar-a", trial="cedar-6", tester="M6", watched_by="Ines")

    station: Name
    trial: Annotated[SomeLine, StringConstraints(min_length=1, max_length=100)] | None = Field(
        default=None, description="may be left out where the tester's record names it"
    )
    tester: Line = ""
    watched_by: Line = ""
    checks: tuple[Line, ...] = Field(default=(), max_length=20)
    mass: Line | None = None  # "532.4 g", the whole candle, weighed before
    wax: Line | None = None  # "220 g", that it was poured with
    new_trial: bool = False  # that the trial is a new one, though its name is nearly another's
    reason: Line = Field(default="", description="why it is lit though its vessel is not cleared")

    def entry(self, now_s: float) -> Entry:
        """As the core takes it. Raises DataError for no trial or tester, or no candle's mass."""
        if not (self.trial or self.tester):
            raise DataError("trial: is missing; or give the tester whose record names it")
        return entries.Lit(
            **self.stamps(now_s),
            station=self.station,
            trial=self.trial or "",
            tester=self.tester,
            reason=self.reason,
            watched_by=self.watched_by or self.by,
            checks=confirmed(self.checks),
            mass_g=mass_g_of("mass", self.mass),
            wax_g=mass_g_of("wax", self.wax),
            new_trial=self.new_trial,
            stated=Circumstances(**given(Circumstances, self)),
        )


@with_fields(Ending)
class OutBody(BurnBody):
    """A candle was seen out."""

    model_config = example(by="Ines", at="1 min ago")

    def entry(self, now_s: float, station: str) -> Entry:
        """As the core takes it."""
        stated = Ending(**given(Ending, self))
        return entries.Out(**self.stamps(now_s), station=station, stated=stated)


class InSightBody(BurnBody):
    """Somebody has the candle in sight."""

    model_config = example(by="Ines")

    def entry(self, now_s: float, station: str) -> Entry:
        """As the core takes it."""
        return entries.InSight(**self.stamps(now_s), station=station)


class WeighInBody(BurnBody):
    """The candle was weighed, cold: `at` tells whether before its lighting or after it was out."""

    model_config = example(mass="511.0 g", by="Ines")

    mass: Line
    wax: Line | None = None

    def entry(self, now_s: float, station: str) -> Entry:
        """As the core takes it. Raises DataError for what is no candle's mass."""
        mass_g = mass_g_of("mass", self.mass)
        assert mass_g is not None
        wax_g = mass_g_of("wax", self.wax)
        return entries.WeighIn(**self.stamps(now_s), station=station, mass_g=mass_g, wax_g=wax_g)


class ReadingBody(BurnBody):
    """Values of one place, read off in one go."""

    model_config = example(values=[110.2, 110.6], unit="degF", height="80 mm", clock=9)

    values: tuple[Finite, ...] = Field(min_length=1, max_length=50)
    unit: str = "degC"
    place: Position = Position.WALL
    height: str | None = None  # "60 mm"
    clock: Annotated[Whole, Field(ge=1, le=12)] | None = None
    emissivity: Emissivity | None = None
    emissivity_set: Emissivity = 1.0
    reflected: str | None = None  # "22 degC"
    where: Line = Field(
        default="", description="page or terminal; without it and `by` nobody is held to be there"
    )

    def entry(self, now_s: float, station: str) -> Entry:
        """As the core takes it: in degC. Raises DataError for what is no temperature or place."""
        unit = unit_of(self.unit, Quantity.TEMPERATURE)
        reflected_c = reflected_c_of(self.reflected)
        height_mm = height_mm_of(self.height)
        if self.place is Position.WALL and height_mm is None:
            raise DataError(
                'height: a wall place needs its height above the base, as "60 mm" or "2.4 in"'
            )
        if self.emissivity is None and "emissivity_set" in self.model_fields_set:
            raise DataError(
                "emissivity_set: corrects nothing alone: give the surface's emissivity too, "
                "0.92 for bare glass"
            )
        values_c = tuple(unit.inside(value) for value in self.values)
        odd = next((v for v in values_c if not COLDEST_C <= v <= HOTTEST_C), None)
        if odd is not None:
            raise DataError(
                f"values: {unit.outside(odd):g} {unit.symbol} is not a reading of a candle: "
                "check the unit"
            )
        return entries.ManualReading(
            **self.stamps(now_s),
            station=station,
            place=Place(
                position=self.place,
                height_mm=height_mm,
                clock=self.clock,
                shown_in=MILLIMETRE if self.height is None else written_in(self.height),
            ),
            values=values_c,
            emissivity=self.emissivity,
            emissivity_set=self.emissivity_set,
            reflected_c=reflected_c,
            typed_in=unit,
            where=self.where,
        )


class MoveBody(HandBody):
    """A reading was typed at the wrong jar."""

    model_config = example(station="jar-b")

    station: Name  # that it is of

    def entry(self, now_s: float, reading: str) -> Entry:
        """As the core takes it."""
        return entries.Moved(**self.stamps(now_s), reading=reading, station=self.station)


class AcknowledgeBody(AlarmBody):
    """An alarm was seen."""

    model_config = example(by="Ines")

    where: Line = "page"
    together: bool = False  # also what was told in the same line, as of one plug

    def entry(self, now_s: float, alarm: str) -> Entry:
        """As the core takes it."""
        return entries.Acknowledge(
            **self.stamps(now_s), alarm=alarm, where=self.where, together=self.together
        )


class ShelveBody(AlarmBody):
    """An alarm is set aside for a while."""

    model_config = example(by="Ines", lasts="30 min")

    lasts: str  # "30 min"

    def entry(self, now_s: float, alarm: str) -> Entry:
        """As the core takes it. Raises DataError for no duration, or one longer than a day."""
        lasts_s = duration_s_of("lasts", self.lasts)
        if not 0.0 < lasts_s <= LONGEST_SHELF_S:
            raise DataError(f'lasts: "{self.lasts}" must be more than nothing and at most "24 h"')
        return entries.Shelve(**self.stamps(now_s), alarm=alarm, until_s=now_s + lasts_s)


def _in(name: str, text: str, kind: Quantity | Dimension) -> float:
    """The quantity that the field `name` holds, in the unit used inside."""
    try:
        return parse_quantity(text, kind)
    except DataError as exc:
        raise DataError(f"{name}: {exc}") from None


def duration_s_of(name: str, text: str) -> float:
    """The duration that the field `name` holds. Raises DataError."""
    return _in(name, text, Dimension.DURATION)


def mass_g_of(name: str, text: str | None) -> float | None:
    """The mass that the field `name` holds, if any. Raises DataError for what is no candle's."""
    if text is None:
        return None
    mass_g = _in(name, text, Quantity.MASS)
    if not LIGHTEST_G <= mass_g <= HEAVIEST_G:
        raise DataError(f'{name}: "{text}" is not the mass of a candle: check the unit')
    return mass_g


def height_mm_of(text: str | None) -> float | None:
    """A height above the base, if given. Raises DataError for what is not a height on a vessel."""
    if text is None:
        return None
    height_mm = _in("height", text, Dimension.LENGTH)
    if not 0.0 <= height_mm <= HIGHEST_MM:
        raise DataError(
            f'height: "{text}" is not a height on a vessel: write it as "60 mm" or "2.4 in"'
        )
    return height_mm


def reflected_c_of(text: str | None) -> float | None:
    """A reflected temperature, if given. Raises DataError for what no bench reflects."""
    if text is None:
        return None
    reflected_c = _in("reflected", text, Quantity.TEMPERATURE)
    if not COLDEST_C <= reflected_c <= HOTTEST_C:
        raise DataError(f'reflected: "{text}" is not a reflected temperature')
    return reflected_c
