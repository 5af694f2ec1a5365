"""What a person may state of a burn, all of it optional: how it is run, and how it ended."""

from dataclasses import dataclass

from logger.field_table import REGIMES, FieldForm, a, one_of, text

BLOWN_OUT = "blown out"
SELF_EXTINGUISHED = "self-extinguished"
ADVISED_NEXT_TIME = (
    "Next time take a snuffer or a flat metal lid: blowing throws hot wax (common practice)"
)


@dataclass(frozen=True, slots=True, kw_only=True)
class Circumstances:
    """How a burn is run, stated when it is lit."""

    regime: str = one_of("how it is burned", *REGIMES)
    trimmed_to_mm: float | None = a(FieldForm.LENGTH, "the wick, before lighting", "6 mm")
    planned_length_s: float | None = a(
        FieldForm.DURATION, "how long you plan to burn it; your longest burn still applies", "2 h"
    )
    wax_level_mm: float | None = a(
        FieldForm.LENGTH, "of a shared pour: of its wax, above the outside base", "72 mm"
    )
    surface: str = text("what it stands on", "steel tray")
    gap_mm: float | None = a(FieldForm.LENGTH, "to the next candle", "300 mm")
    heating: str = one_of("in the room", "on", "off")
    fan: str = one_of("in the room", "on", "off")
    window: str = one_of("in the room", "open", "closed")


@dataclass(frozen=True, slots=True, kw_only=True)
class Ending:
    """How a burn ended, stated when it is out."""

    ended: str = one_of(
        "why it is out",
        "planned",
        "stopped early",
        SELF_EXTINGUISHED,
        "for safety",
        "unknown",
    )
    how: str = one_of(
        "what put it out; advised is a snuffer or a flat metal lid",
        "snuffer",
        "metal lid",
        "wick dipper",
        BLOWN_OUT,
    )

    @property
    def words(self) -> str:
        """In a few words: "stopped early, snuffer"; nothing where nothing was stated."""
        return ", ".join(part for part in (self.ended, self.how) if part)


Stated = Circumstances | Ending
