"""What a person sees of a candle: at a mark while it burns, and once it is out.

One table of fields, in the order in which a person looks: coming in, from a distance, closer, never
touching the glass or reaching over the flame. Form, command, JSON and record are made of it. What
is recorded at a mark, and the grades from 0 to 3, are common practice of the trade; the words of
the grades are ours.
"""

from dataclasses import dataclass, fields, replace

from logger.field_table import (
    FieldForm,
    FormField,
    a,
    fields_of,
    filled,
    grade,
    one_of,
    said,
    text,
)
from logger.words import Words

MOST_WICKS = 6  # of one vessel; wide ones have three or four (our choice)
YES, NO = "yes", "no"
AWAY_S = 900.0  # out of the room before a scent is rated (common practice)


def _yes_no(words: str) -> str:
    return one_of(words, YES, NO)  # type: ignore[no-any-return]  # a field, of any type


@dataclass(frozen=True, slots=True, kw_only=True)
class Look:
    """What was seen; what nobody looked at is left out."""

    hot_throw: int | None = grade(
        "scent in the room, rated first", "none", "weak", "good", "strong"
    )
    rater: str = text("who rated the scent, if another", "Ines")
    away: str = _yes_no("the rater was out of the room for 15 min before")
    room_size: str = text("of the room with the scent", "12 m2")
    other_scent: str = _yes_no("another scented candle burned, so the rating tells little")
    smoke: int | None = grade("from the flame", "none", "a wisp", "visible", "heavy")
    flame_mm: tuple[float, ...] = a(
        FieldForm.LENGTH, "height, wick by wick, from the side", "22 mm", most=MOST_WICKS
    )
    flicker: tuple[int, ...] = grade(
        "wick by wick", "steady", "now and then", "often", "dancing", most=MOST_WICKS
    )
    mushrooming: int | None = grade("carbon on the wick", "none", "a bead", "a cap", "a large cap")
    wick: str = one_of("how it stands", "upright", "leaning", "drowning")
    pool_mm: tuple[float, ...] = a(
        FieldForm.LENGTH,
        "melt pool across, in two directions, from the side",
        "62 mm, 60 mm",
        most=2,
    )
    full_pool: str = _yes_no("the melt pool reaches the wall all round")
    pools_merged: str = _yes_no("of several wicks: their pools have met")
    pool_depth_mm: float | None = a(FieldForm.LENGTH, "seen through the glass", "8 mm")
    hang_up_mm: float | None = a(FieldForm.LENGTH, "wax left on the wall", "2 mm", from_zero=True)
    wax_level_mm: float | None = a(FieldForm.LENGTH, "top of the wax above the base", "64 mm")
    soot: int | None = grade("on the vessel", "none", "a trace", "a grey patch", "black")
    wet_spots: int | None = grade("wax off the glass", "none", "one", "several", "all round")
    cracks: int | None = grade(
        "in the wax; a cracked vessel is an emergency", "none", "fine", "clear", "deep"
    )
    after_smoke_s: float | None = a(
        FieldForm.DURATION, "smoke after it was out", "12 s", from_zero=True
    )
    afterglow_s: float | None = a(FieldForm.DURATION, "glow of the wick", "5 s", from_zero=True)
    reignited: str = _yes_no("it lit again by itself")
    wax_solid: str = _yes_no("the wax is solid throughout")

    def __bool__(self) -> bool:
        return any(True for _ in filled(self))

    def over(self, earlier: "Look", emptied: tuple[str, ...] = ()) -> "Look":
        """`earlier` with what is given here in its place, and the attributes `emptied` empty."""
        defaults = {one.name: one.default for one in fields(Look)}
        given = {field.attribute: value for field, value in filled(self)}
        cleared = {name: defaults[name] for name in emptied}
        return replace(earlier, **given, **cleared)  # type: ignore[arg-type]  # of its own fields

    @property
    def pool_across_mm(self) -> float | None:
        """The mean of the directions in which the melt pool was seen."""
        return sum(self.pool_mm) / len(self.pool_mm) if self.pool_mm else None


LOOK_FIELDS: tuple[FormField, ...] = fields_of(Look)

AFTER_OUT = frozenset({"after_smoke_s", "afterglow_s", "reignited", "wax_solid"})
"""Attributes that say something of a candle that is out alone."""

WHILE_LIT = frozenset(
    {"smoke", "flame_mm", "flicker", "hot_throw", "rater", "away", "room_size", "other_scent"}
)
"""Attributes that say something of a burning candle alone."""


def look_words(look: Look, words: Words) -> str:
    """All that was seen, in one line."""
    return "; ".join(said(look, words))


def confounded(look: Look) -> str:
    """Why the rating of the scent tells little; empty where there is none, or nothing is wrong."""
    if look.hot_throw is None:
        return ""
    reasons = []
    if look.other_scent == YES:
        reasons.append("another scented candle burned")
    if look.away == NO:
        reasons.append("the rater had not been out of the room")
    return " and ".join(reasons)
