"""What is answered to whoever entered something, whichever way it came."""

from collections.abc import Sequence
from dataclasses import dataclass
from typing import Annotated

from typing_extensions import Doc, TypedDict

from logger import messages
from logger.alarms.lifecycle import AlarmEvent
from logger.burn.entries import Entry, ManualReading
from logger.burn.entry_words import read_by_hand
from logger.burn.model import BurnEvent
from logger.pipeline import Output
from logger.timestamps import rfc3339


class EnteredMessage(TypedDict):
    """An entry, as it was recorded."""

    id: Annotated[str, Doc("of the entry, as it was sent")]
    at: Annotated[str, Doc("when it happened, RFC 3339")]
    entered: Annotated[str, Doc("when it was typed, RFC 3339")]
    burn: Annotated[str | None, Doc("the burn it belongs to, or that it began, if any")]
    number: Annotated[int | None, Doc("of that burn, which people type for it")]
    text: Annotated[str, Doc("what came of it, in a line")]
    new: Annotated[bool, Doc("false where this id was entered before: nothing was added")]


class EnteredByHandMessage(EnteredMessage, messages.TypedMessage):
    """Values typed in one go, as they were recorded, and what they amount to."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Entered:
    """An entry as it was recorded; `new` is False where its id was entered before."""

    entry: Entry
    burn: str | None  # that it concerns
    number: int | None = None  # of that burn
    text: str  # what came of it, in a line
    new: bool = True

    @property
    def message(self) -> EnteredMessage | EnteredByHandMessage:
        """As JSON."""
        answer: EnteredMessage = {
            "id": self.entry.id,
            "at": rfc3339(self.entry.at_s),
            "entered": rfc3339(self.entry.entered_s),
            "burn": self.burn,
            "number": self.number,
            "text": self.text,
            "new": self.new,
        }
        if isinstance(self.entry, ManualReading):
            return {**answer, **messages.typed(self.entry)}
        return answer


def text_of(entry: Entry, outputs: Sequence[Output]) -> str:
    """What came of an entry, as its first event says it to a person."""
    if isinstance(entry, ManualReading):
        return f"{entry.station}: {read_by_hand(entry)}"
    told = [output.text for output in outputs if isinstance(output, BurnEvent)]
    told += [f"{o.alarm.key}: {o.what}" for o in outputs if isinstance(o, AlarmEvent)]
    return next(iter(told), "")
