"""What changes an earlier entry: a correction, a withdrawal."""

from typing import TYPE_CHECKING, Annotated, Literal

from pydantic import Field, StringConstraints

from logger.burn import entries
from logger.burn.entries import Danger, Entry
from logger.burn.look import Look
from logger.burn.stated import Circumstances, Ending
from logger.errors import DataError
from logger.field_table import fields_of
from logger.intake.bodies import (
    EntryBody,
    example,
    height_mm_of,
    mass_g_of,
    reflected_c_of,
)
from logger.intake.field_forms import given, with_fields
from logger.intake.fields import Emissivity, Finite, Line, Name, SomeLine, Whole
from logger.intake.look_bodies import look_of
from logger.quantities import Position, Quantity
from logger.timestamps import parse_at
from logger.units import unit_of

STATED = (Circumstances, Ending)
CHANGEABLE_FIELDS = (*STATED, Look)
CLEARABLE = {
    "tester": "tester",
    "watched_by": "watched_by",
    "mass": "mass_g",
    "wax": "wax_g",
    "text": "text",
    "height": "height_mm",
    "clock": "clock",
    "emissivity": "emissivity",
    "reflected": "reflected_c",
    **{one.key: one.attribute for table in CHANGEABLE_FIELDS for one in fields_of(table)},
}
"""Fields that a correction may leave empty, and their names in the core."""


if TYPE_CHECKING:
    Clearable = str
else:
    Clearable = Literal[tuple(CLEARABLE)]


class WithdrawBody(EntryBody):
    """An earlier entry was a mistake: it counts no more, and stays to be seen."""

    model_config = example(why="tapped by mistake", by="Ines")

    why: SomeLine

    def entry(self, now_s: float, earlier: str) -> Entry:
        """As the core takes it."""
        return entries.Withdrawn(**self.stamps(now_s), entry=earlier, why=self.why)


@with_fields(*CHANGEABLE_FIELDS)
class CorrectBody(EntryBody):
    """An earlier entry was wrong: what is given counts instead, the rest stays as it was."""

    model_config = example(why="the thermometer was set to degF", unit="degF", by="Ines")

    why: SomeLine
    at: str = Field(default="", description="when it was so, in place of the time it had")
    station: Name | None = Field(default=None, description="that a reading is of")
    trial: Annotated[SomeLine, StringConstraints(max_length=100)] | None = None
    new_trial: bool = False
    tester: Line | None = None
    watched_by: Line | None = None
    mass: Line | None = None
    wax: Line | None = None
    text: Annotated[str, StringConstraints(strip_whitespace=True, max_length=4000)] | None = None
    emergency: Danger | None = None
    values: Annotated[tuple[Finite, ...], Field(min_length=1, max_length=50)] | None = None
    unit: str | None = Field(default=None, description="of the values; alone: they were of it")
    place: Position | None = None
    height: str | None = None
    clock: Annotated[Whole, Field(ge=1, le=12)] | None = None
    emissivity: Emissivity | None = None
    emissivity_set: Emissivity | None = None
    reflected: str | None = None
    clear: tuple[Clearable, ...] = Field(
        default=(), description="fields that are to be empty", max_length=40
    )

    def entry(self, now_s: float, earlier: str) -> Entry:
        """As the core takes it. Raises DataError for what cannot be, or where nothing is given."""
        about = {"id", "by", "why", "new_trial"}
        if not any(getattr(self, name) for name in type(self).model_fields if name not in about):
            raise DataError("say what is to change; to take an entry back, withdraw it")
        unit = None if self.unit is None else unit_of(self.unit, Quantity.TEMPERATURE)
        return entries.Corrected(
            id=self.id,
            by=self.by,
            at_s=now_s,
            entered_s=now_s,
            entry=earlier,
            why=self.why,
            happened_s=parse_at(self.at, now_s) if self.at else None,
            station=self.station,
            trial=self.trial,
            new_trial=self.new_trial,
            tester=self.tester,
            watched_by=self.watched_by,
            mass_g=mass_g_of("mass", self.mass),
            wax_g=mass_g_of("wax", self.wax),
            text=self.text,
            look=look_of(self) or None,
            what=self.emergency,
            figures=self.values,
            typed_in=unit,
            position=self.place,
            height_mm=height_mm_of(self.height),
            clock=self.clock,
            emissivity=self.emissivity,
            emissivity_set=self.emissivity_set,
            reflected_c=reflected_c_of(self.reflected),
            stated={name: value for table in STATED for name, value in given(table, self).items()},
            emptied=tuple(CLEARABLE[name] for name in dict.fromkeys(self.clear)),
        )
