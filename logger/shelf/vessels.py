"""Vessels, and whether one may be filled and lit at all."""

from collections.abc import Iterator
from dataclasses import dataclass

from logger.conditioning.infrared import FINISHES
from logger.errors import DataError
from logger.field_table import (
    FAILED,
    PASSED,
    FieldForm,
    a,
    check,
    fields_of,
    one_of,
    text,
)
from logger.shelf.sheet import ShelfRecord
from logger.words import Words


@dataclass(frozen=True, slots=True, kw_only=True)
class VesselRecord(ShelfRecord):
    """One make of vessel, of one lot."""

    material: str = one_of("what it is made of: its limits follow", "glass", "ceramic", "metal")
    inner_diameter_mm: float | None = a(FieldForm.LENGTH, "inside, at the fill line", "75 mm")
    mouth_diameter_mm: float | None = a(FieldForm.LENGTH, "inside, at the mouth", "72 mm")
    height_mm: float | None = a(FieldForm.LENGTH, "outside, from the base to the rim", "90 mm")
    taper: str = one_of("its sides", "straight", "narrower below", "narrower above")
    wall_mm: float | None = a(FieldForm.LENGTH, "thickness of the wall", "3.2 mm")
    inside_finish: str = text("coating or bare", "bare")
    outside_finish: str = one_of("what a thermometer sees", *FINISHES)
    filled_g: float | None = a(FieldForm.MASS, "wax that fills it to the line", "220 g")
    head_space_mm: float | None = a(FieldForm.LENGTH, "from the wax to the rim", "18 mm")
    supplier: str = text("who made or sold it", "Fernhill Glassworks")
    lot: str = text("of the supplier", "L-204")
    price: float | None = a(FieldForm.FIGURE, "for one, in your currency", "1.90")
    # Before any flame (common practice of makers; no single source).
    leak_24_h: str = check("stood filled with water for 24 h: no leak")
    tip_10_degrees: str = check("stands on a slope of 10 degrees without tipping")
    scratches_and_stones: str = check("no scratch, chip, bubble or stone in the wall")
    statement_on_file: str = check("supplier's statement: annealed, holds thermal shock")
    nothing_flammable: str = check("no flammable or porous part near the flame")

    def __post_init__(self) -> None:
        if self.height_mm and self.head_space_mm and self.head_space_mm >= self.height_mm:
            raise DataError("head_space: must be less than the height")

    def notes(self, words: Words, now_s: float) -> Iterator[str]:
        """Whether it is cleared."""
        yield clearance(self).text


@dataclass(frozen=True, slots=True, kw_only=True)
class Clearance:
    """What stands between a vessel and its first flame."""

    missing: tuple[str, ...]
    failed: tuple[str, ...]

    @property
    def cleared(self) -> bool:
        """Whether every check was passed."""
        return not (self.missing or self.failed)

    @property
    def text(self) -> str:
        """The same in a line."""
        if self.cleared:
            return "cleared: every check before a flame was passed"
        parts = (("failed", self.failed), ("not yet checked", self.missing))
        return "not cleared; " + "; ".join(
            f"{what}: {', '.join(labels)}" for what, labels in parts if labels
        )


def clearance(vessel: VesselRecord) -> Clearance:
    """What the checks of `vessel` amount to; one that nobody made counts as not passed."""
    checks = [one for one in fields_of(VesselRecord) if one.form is FieldForm.CHECK]
    found = {one.label: getattr(vessel, one.attribute) for one in checks}
    return Clearance(
        missing=tuple(label for label, how in found.items() if how not in (PASSED, FAILED)),
        failed=tuple(label for label, how in found.items() if how == FAILED),
    )
