"""Commands that come by MQTT: JSON below `do/` becomes one entry of the core, or is refused."""

import json
import math
from collections.abc import Callable, Mapping
from typing import Annotated, Any

from pydantic import (
    AfterValidator,
    BaseModel,
    ConfigDict,
    Field,
    StringConstraints,
    ValidationError,
)

from logger.burn import entries
from logger.burn.entries import Entry
from logger.burn.safety import confirmed
from logger.errors import DataError, Refused
from logger.publish.topics import one_line
from logger.quantities import Place, Position, Quantity
from logger.timestamps import parse_at, parse_instant, rfc3339
from logger.units import Dimension, parse_quantity, unit_of

LONGEST_BYTES = 4096  # the longest command is a reading of some hundred bytes
OLDEST_S = 30.0  # the contract's; as far ahead, for clocks that differ
WHERE = "mqtt"

EXAMPLE = '"2031-05-04T09:00:05Z"'


def _not_empty(text: str) -> str:
    if not text:
        raise ValueError("must not be empty")
    return text


Name = Annotated[str, StringConstraints(pattern=r"^[a-z0-9-]+$", max_length=64)]
Line = Annotated[str, StringConstraints(max_length=200), AfterValidator(one_line)]
SomeLine = Annotated[Line, AfterValidator(_not_empty)]
Id = Annotated[str, StringConstraints(pattern=r"^[A-Za-z0-9._:-]{8,64}$")]
Share = Annotated[float, Field(gt=0.0, le=1.0)]
Finite = Annotated[float, Field(allow_inf_nan=False)]


class Command(BaseModel):
    """What every command holds: who sent it when, and an id that makes a second one harmless."""

    model_config = ConfigDict(extra="forbid", frozen=True, strict=True)

    id: Id
    time: str | float  # when it was sent
    at: str = "now"  # when it happened
    by: Line = ""

    def stamps(self, now_s: float) -> dict[str, Any]:
        """The fields that every entry has."""
        at_s = parse_at(self.at, now_s)
        return {"id": self.id, "at_s": at_s, "entered_s": now_s, "by": self.by}

    def entry(self, now_s: float) -> Entry:
        """As the core takes it. Raises DataError."""
        raise NotImplementedError


class AcknowledgeCommand(Command):
    """An alarm was seen."""

    alarm: SomeLine

    def entry(self, now_s: float) -> Entry:
        """As the core takes it."""
        return entries.Acknowledge(**self.stamps(now_s), alarm=self.alarm, where=WHERE)


class LitCommand(Command):
    """A candle was lit."""

    station: Name
    trial: Annotated[SomeLine, StringConstraints(max_length=100)]
    tester: Line = ""
    watched_by: Line = ""
    checks: list[SomeLine] = Field(default=[], max_length=20)

    def entry(self, now_s: float) -> Entry:
        """As the core takes it."""
        return entries.Lit(
            **self.stamps(now_s),
            station=self.station,
            trial=self.trial,
            tester=self.tester,
            watched_by=self.watched_by or self.by,
            checks=confirmed(self.checks),
        )


class OutCommand(Command):
    """A candle was seen out."""

    station: Name

    def entry(self, now_s: float) -> Entry:
        """As the core takes it."""
        return entries.Out(**self.stamps(now_s), station=self.station)


class ReadCommand(Command):
    """Values of one place, read off in one go."""

    station: Name
    values: list[Finite] = Field(min_length=1, max_length=50)
    unit: Annotated[str, StringConstraints(max_length=30)] = "degC"
    place: str = Position.WALL.value
    height: Line | None = None  # "60 mm"
    clock: Annotated[int, Field(ge=1, le=12)] | None = None
    emissivity: Share | None = None
    emissivity_set: Share = 1.0
    reflected: Line | None = None  # "22 degC"

    def entry(self, now_s: float) -> Entry:
        """As the core takes it, in degC."""
        unit = unit_of(self.unit, Quantity.TEMPERATURE)
        if self.emissivity is None and "emissivity_set" in self.model_fields_set:
            raise DataError("emissivity_set: corrects nothing alone: give emissivity too, as 0.92")
        values_c = tuple(unit.inside(value) for value in self.values)
        if not all(math.isfinite(value_c) for value_c in values_c):
            raise DataError(f"values: too large for temperatures in {self.unit}")
        return entries.ManualReading(
            **self.stamps(now_s),
            station=self.station,
            place=self._place(),
            values=values_c,
            emissivity=self.emissivity,
            emissivity_set=self.emissivity_set,
            reflected_c=_quantity("reflected", self.reflected, Quantity.TEMPERATURE),
            typed_in=unit,
        )

    def _place(self) -> Place:
        if self.place not in list(Position):
            raise DataError(f'place: "{self.place}" is none; write {", ".join(Position)}')
        position = Position(self.place)
        height_mm = _quantity("height", self.height, Dimension.LENGTH)
        if position is Position.WALL and height_mm is None:
            raise DataError('height: missing; a wall place needs its own, for example "60 mm"')
        return Place(position=position, height_mm=height_mm, clock=self.clock)


COMMANDS: Mapping[str, type[Command]] = {
    "acknowledge": AcknowledgeCommand,
    "record-lit": LitCommand,
    "record-out": OutCommand,
    "read": ReadCommand,
}


def parse(
    name: str, payload: bytes, *, retained: bool, now_s: float, wall_step_s: float = 0.0
) -> Entry:
    """The entry that the command `name` stands for at `now_s`, bench time.

    `wall_step_s` is how far the system's clock has been set away from bench time: the sender may
    go by either.

    Raises Refused for one that comes from the past, DataError for one that cannot be read; both
    say what to mend.
    """
    kind = COMMANDS.get(name)
    if kind is None:
        raise DataError(f"there is no such command; there are {', '.join(COMMANDS)}")
    if retained:
        raise Refused("a retained command would be obeyed again and again: send it not retained")
    command = _checked(kind, _json(payload))
    sent_s = _field("time", lambda: parse_instant(str(command.time)))
    if min(abs(now_s - sent_s), abs(now_s + wall_step_s - sent_s)) > OLDEST_S:
        raise Refused(
            f"sent at {rfc3339(sent_s, digits=0)}, and here it is {rfc3339(now_s, digits=0)}: "
            f"more than {OLDEST_S:g} s apart; send it anew, or set the sender's clock"
        )
    return command.entry(now_s)


def _json(payload: bytes) -> object:
    if len(payload) > LONGEST_BYTES:
        raise DataError(f"longer than {LONGEST_BYTES} bytes: shorten it")
    try:
        return json.loads(
            payload.decode(), parse_constant=_refuse_constant, object_pairs_hook=_once
        )
    except (ValueError, RecursionError) as exc:
        raise DataError(f"no JSON: {exc}") from None


def _refuse_constant(name: str) -> float:
    raise ValueError(f"{name} is no number that can be measured")


def _once(pairs: list[tuple[str, object]]) -> dict[str, object]:
    found = dict(pairs)
    if len(found) < len(pairs):
        raise ValueError("a key stands twice")
    return found


def _checked(kind: type[Command], document: object) -> Command:
    try:
        return kind.model_validate(document)
    except ValidationError as exc:
        faults = (
            f"{'.'.join(str(step) for step in error['loc']) or 'command'}: {error['msg']}"
            for error in exc.errors(include_url=False, include_input=False)
        )
        raise DataError("; ".join(faults)) from None


def _quantity(key: str, text: str | None, quantity: Quantity | Dimension) -> float | None:
    return None if text is None else _field(key, lambda: parse_quantity(text, quantity))


def _field(key: str, read: Callable[[], float]) -> float:
    try:
        return read()
    except DataError as exc:
        raise DataError(f"{key}: {exc}") from None
