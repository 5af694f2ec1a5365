"""What all records on the shelf have in common."""

from collections.abc import Iterator
from dataclasses import dataclass

from logger.sheet_fields import text
from logger.words import Words


@dataclass(frozen=True, slots=True, kw_only=True)
class ShelfRecord:
    """Base of all kinds: what is known of a thing by its name; nothing else is demanded."""

    name: str
    remark: str = text("whatever else is worth knowing")

    def notes(self, words: Words, now_s: float) -> Iterator[str]:
        """What follows from the fields, in lines for a person."""
        yield from ()
