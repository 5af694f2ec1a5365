"""What a reading round needs: the thermometer in the hand, and the places of a vessel in turn."""

from collections.abc import Iterator, Sequence
from dataclasses import dataclass, replace

from logger.conditioning.infrared import FINISHES, checked_emissivity
from logger.errors import DataError
from logger.field_table import FieldForm, a, names, one_of
from logger.quantities import Place, Position
from logger.shelf.sheet import ShelfRecord
from logger.words import Words

INFRARED = "infrared"


@dataclass(frozen=True, slots=True, kw_only=True)
class NamedPlace:
    """A place as its maker calls it: "left", or "60 mm 9"."""

    name: str
    place: Place


@dataclass(frozen=True, slots=True, kw_only=True)
class ThermometerRecord(ShelfRecord):
    """A thermometer that is held in the hand.

    It is recorded with what it is set to.
    """

    sensing: str = one_of("how it reads a wall", "contact", INFRARED)
    unit: str = one_of("that it shows", "degC", "degF")
    emissivity_set: float | None = a(FieldForm.FIGURE, "that it is set to; 1 if raw", "0.95")

    def __post_init__(self) -> None:
        try:
            checked_emissivity(1.0 if self.emissivity_set is None else self.emissivity_set)
        except DataError as exc:
            raise DataError(f"emissivity_set: {exc}") from None


@dataclass(frozen=True, slots=True, kw_only=True)
class RoundRecord(ShelfRecord):
    """Places of a vessel that are read by hand, in turn.

    Its name is that of the station.
    """

    places: Sequence[NamedPlace] = a(
        FieldForm.PLACES,
        "with a comma and a space between: left, right, back, front, rim, base, melt pool, or a "
        "name of yours, height and clock (seam 40 mm 7)",
        "left, right, back",
    )
    height_mm: float | None = a(
        FieldForm.LENGTH, "above the outside base, of the places that give none", "60 mm"
    )
    finish: str = one_of("what the thermometer sees of the vessel", *FINISHES)
    thermometer: str = names("thermometer")

    def __post_init__(self) -> None:
        where = [one.place for one in self.in_turn]
        if any(one.position is Position.WALL and one.height_mm is None for one in where):
            raise DataError(
                'height: a wall place needs its height above the base, as "60 mm" or "2.4 in"'
            )
        if len({str(one) for one in where}) < len(where):
            raise DataError("places: two of them are one place; give each its own height or clock")

    @property
    def in_turn(self) -> tuple[NamedPlace, ...]:
        """The places, each with its height."""
        return tuple(
            replace(one, place=replace(one.place, height_mm=self.height_mm))
            if one.place.position is Position.WALL and one.place.height_mm is None
            else one
            for one in self.places or ()
        )

    @property
    def emissivity(self) -> float | None:
        """Of what the thermometer sees, where it can be corrected for."""
        finish = FINISHES.get(self.finish)
        return None if finish is None else finish.emissivity

    def notes(self, words: Words, now_s: float) -> Iterator[str]:
        """Where the places are, and what the finish does to an infrared thermometer."""
        for one in self.in_turn:
            where = replace(one.place, shown_in=words.length_in)
            yield f"{one.name}: {where}"
        finish = FINISHES.get(self.finish)
        if finish is not None:
            yield f"by infrared, {self.finish}: {finish.note}"
