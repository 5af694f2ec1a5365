"""Commands that come by MQTT: JSON below `do/` becomes one entry of the core, or is refused.

A command is the body that HTTP takes for the same entry, and what HTTP has in its address: the
station or the alarm. With the time at which it was sent it is refused once that is long past; with
an id it counts once however often it comes. A button that knows neither works all the same.
"""

import uuid
from collections.abc import Mapping
from typing import Literal

from pydantic import BaseModel, Field

from logger.burn.entries import Entry
from logger.errors import DataError, Refused
from logger.intake import kinds
from logger.intake.bodies import AcknowledgeBody, LitBody, OutBody, ReadingBody
from logger.intake.fields import Id, Name, SomeLine
from logger.timestamps import parse_instant, rfc3339

LONGEST_BYTES = 4096  # the longest command is a reading of some hundred bytes
OLDEST_S = 30.0  # the contract's; as far ahead, for clocks that differ


class CommandHeader(BaseModel):
    """When a command was sent, and its id: both may be left out."""

    id: Id = Field(default_factory=lambda: uuid.uuid4().hex)
    time: str | float | None = None


class AcknowledgeCommand(CommandHeader, AcknowledgeBody):
    """An alarm was seen: the whole line that the phone got, whichever of its alarms is named."""

    alarm: SomeLine
    where: Literal["mqtt"] = "mqtt"
    together: bool = True


class LitCommand(CommandHeader, LitBody):
    """A candle was lit."""


class OutCommand(CommandHeader, OutBody):
    """A candle was seen out."""

    station: Name


class ReadCommand(CommandHeader, ReadingBody):
    """Values of one place, read off in one go."""

    station: Name
    where: Literal[""] = ""  # nobody stands here: `by` alone says that a person read it


Command = AcknowledgeCommand | LitCommand | OutCommand | ReadCommand

COMMANDS: Mapping[str, type[Command]] = {
    "acknowledge": AcknowledgeCommand,
    "record-lit": LitCommand,
    "record-out": OutCommand,
    "read": ReadCommand,
}


def parse(
    name: str, payload: bytes, *, retained: bool, now_s: float, wall_step_s: float = 0.0
) -> tuple[Entry, bool]:
    """The entry that the command `name` stands for at `now_s`, bench time; is its sender sure?

    `wall_step_s` is how far the system's clock has been set away from bench time: the sender may
    go by either.

    Raises Refused for one that comes from the past, DataError for one that cannot be read; both
    say what to fix.
    """
    kind = COMMANDS.get(name)
    if kind is None:
        raise DataError(f"there is no such command; there are {', '.join(COMMANDS)}")
    if retained:
        raise Refused("a retained command would be repeated: send it not retained")
    if len(payload) > LONGEST_BYTES:
        raise DataError(f"longer than {LONGEST_BYTES} bytes: shorten it")
    command = kinds.parse(kind, payload)
    sent_s = _sent_s(command)
    clocks_s = (now_s, now_s + wall_step_s)
    if sent_s is not None and min(abs(one - sent_s) for one in clocks_s) > OLDEST_S:
        raise Refused(
            f"sent at {rfc3339(sent_s, digits=0)}, and here it is {rfc3339(now_s, digits=0)}: "
            f"more than {OLDEST_S:g} s apart; send it again, or set the sender's clock"
        )
    return _entry(command, now_s), command.sure


def _entry(command: Command, now_s: float) -> Entry:
    match command:
        case LitCommand():
            return command.entry(now_s)
        case AcknowledgeCommand():
            return command.entry(now_s, command.alarm)
        case _:
            return command.entry(now_s, command.station)


def _sent_s(command: Command) -> float | None:
    if command.time is None:
        return None
    try:
        return parse_instant(str(command.time))
    except DataError as exc:
        raise DataError(f"time: {exc}") from None
