"""Wicks, and how they are set in a candle."""

from dataclasses import dataclass

from logger.field_table import FieldForm, a, names, one_of, text
from logger.shelf.sheet import ShelfRecord


@dataclass(frozen=True, slots=True, kw_only=True)
class WickRecord(ShelfRecord):
    """One size of one series."""

    series: str = text("of the supplier", "Marrow flat braid")
    size: str = text("as the supplier calls it", "6")
    order: int | None = a(FieldForm.COUNT, "in the series, the smallest is 1", "3")
    form: str = one_of("what it is made of", "cotton", "paper", "wooden")
    width_mm: float | None = a(FieldForm.LENGTH, "of a wooden one", "12 mm")
    thickness_mm: float | None = a(FieldForm.LENGTH, "of a wooden one", "0.8 mm")
    tab_neck_mm: float | None = a(FieldForm.LENGTH, "height of the tab's neck", "6 mm")
    priming: str = one_of("as it comes", "primed", "not primed")
    supplier: str = text("who made or sold it", "Marrow & Daughter")
    lot: str = text("of the supplier", "W-12")
    price: float | None = a(FieldForm.FIGURE, "for one, in your currency", "0.08")


@dataclass(frozen=True, slots=True, kw_only=True)
class WickingRecord(ShelfRecord):
    """A wick, how many of it, and how far apart."""

    wick: str = names("wick")
    number: int | None = a(FieldForm.COUNT, "of wicks in one candle", "1")
    spacing_mm: float | None = a(FieldForm.LENGTH, "from one wick to the next", "30 mm")
    to_wall_mm: float | None = a(FieldForm.LENGTH, "from a wick to the nearest wall", "22 mm")
