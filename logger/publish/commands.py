"""Commands that come by MQTT: JSON below `do/` becomes one entry of the core, or is refused.

A command is the body that HTTP takes for the same entry, with the time at which it was sent, and
what HTTP has in its address: the station or the alarm.
"""

from collections.abc import Mapping
from typing import Literal

from pydantic import BaseModel

from logger.burn.entries import Entry
from logger.errors import DataError, Refused
from logger.intake import kinds
from logger.intake.bodies import AcknowledgeBody, LitBody, OutBody, ReadingBody
from logger.intake.fields import Name, SomeLine
from logger.timestamps import parse_instant, rfc3339

LONGEST_BYTES = 4096  # the longest command is a reading of some hundred bytes
OLDEST_S = 30.0  # the contract's; as far ahead, for clocks that differ


class Sent(BaseModel):
    """When a command was sent."""

    time: str | float


class AcknowledgeCommand(Sent, AcknowledgeBody):
    """An alarm was seen."""

    alarm: SomeLine
    where: Literal["mqtt"] = "mqtt"


class LitCommand(Sent, LitBody):
    """A candle was lit."""


class OutCommand(Sent, OutBody):
    """A candle was seen out."""

    station: Name


class ReadCommand(Sent, ReadingBody):
    """Values of one place, read off in one go."""

    station: Name


Command = AcknowledgeCommand | LitCommand | OutCommand | ReadCommand

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
    if len(payload) > LONGEST_BYTES:
        raise DataError(f"longer than {LONGEST_BYTES} bytes: shorten it")
    command = kinds.parse(kind, payload)
    sent_s = _sent_s(command)
    if min(abs(now_s - sent_s), abs(now_s + wall_step_s - sent_s)) > OLDEST_S:
        raise Refused(
            f"sent at {rfc3339(sent_s, digits=0)}, and here it is {rfc3339(now_s, digits=0)}: "
            f"more than {OLDEST_S:g} s apart; send it anew, or set the sender's clock"
        )
    return _entry(command, now_s)


def _entry(command: Command, now_s: float) -> Entry:
    match command:
        case LitCommand():
            return command.entry(now_s)
        case AcknowledgeCommand():
            return command.entry(now_s, command.alarm)
        case _:
            return command.entry(now_s, command.station)


def _sent_s(command: Command) -> float:
    try:
        return parse_instant(str(command.time))
    except DataError as exc:
        raise DataError(f"time: {exc}") from None
