"""What is answered to whoever entered something, whichever way it came."""

from collections.abc import Sequence
from dataclasses import dataclass

from logger import messages
from logger.alarms.lifecycle import AlarmEvent
from logger.burn.entries import Entry, ManualReading
from logger.burn.entry_words import contents
from logger.burn.model import BurnEvent
from logger.messages import Message
from logger.pipeline import Output
from logger.timestamps import rfc3339
from logger.words import Words


@dataclass(frozen=True, slots=True, kw_only=True)
class Entered:
    """An entry as it was recorded; `new` is False where its id was entered before."""

    entry: Entry
    burn: str | None  # that it concerns
    text: str  # what came of it, in a line
    new: bool = True

    @property
    def message(self) -> Message:
        """As JSON."""
        answer = {
            "id": self.entry.id,
            "at": rfc3339(self.entry.at_s),
            "entered": rfc3339(self.entry.entered_s),
            "burn": self.burn,
            "text": self.text,
            "new": self.new,
        }
        typed = messages.typed(self.entry) if isinstance(self.entry, ManualReading) else {}
        return answer | typed


def text_of(entry: Entry, outputs: Sequence[Output]) -> str:
    """What came of an entry, as its first event says it to a person."""
    if isinstance(entry, ManualReading):
        return f"{entry.station}: {contents(entry, Words())}"
    told = [output.text for output in outputs if isinstance(output, BurnEvent)]
    told += [f"{o.alarm.key}: {o.what}" for o in outputs if isinstance(o, AlarmEvent)]
    return next(iter(told), "")
