"""Formulas and the pours that were made by them."""

import math
from collections.abc import Iterator, Mapping
from dataclasses import dataclass

from logger.errors import DataError
from logger.field_table import FieldForm, a, names, text
from logger.shelf.sheet import ShelfRecord
from logger.words import Words

DAY_S = 86_400.0
SUM_WITHIN = 0.05  # percent: shares are written with a tenth (our choice)


def _share(words: str, example: str) -> float | None:
    share: float | None = a(FieldForm.SHARE, words, example)
    return share


def _price(words: str) -> float | None:
    price: float | None = a(FieldForm.FIGURE, words, "6.40")
    return price


@dataclass(frozen=True, slots=True, kw_only=True)
class FormulaRecord(ShelfRecord):
    """Wax, fragrance and dye, melted together.

    The shares of all that is named are of the whole mass.
    """

    wax: str = text("name", "Hazelmoor soy 12")
    wax_share_percent: float | None = _share("of the whole mass", "92 %")
    wax_lot: str = text("of the supplier", "A7")
    wax_supplier: str = text("who made or sold it", "Hazelmoor")
    wax_price: float | None = _price("for a kilogram, in your currency")
    second_wax: str = text("name, of a blend", "Hazelmoor coconut 3")
    second_wax_share_percent: float | None = _share("of the whole mass", "20 %")
    second_wax_lot: str = text("of the supplier", "C2")
    second_wax_supplier: str = text("who made or sold it", "Hazelmoor")
    second_wax_price: float | None = _price("for a kilogram")
    fragrance: str = text("name", "Rain on slate")
    fragrance_share_percent: float | None = _share("of the whole mass", "8 %")
    fragrance_lot: str = text("of the supplier", "F-31")
    fragrance_supplier: str = text("who made or sold it", "Larkspur Oils")
    fragrance_price: float | None = _price("for a kilogram")
    dye: str = text("name", "moss green")
    dye_share_percent: float | None = _share("of the whole mass", "0.1 %")
    dye_lot: str = text("of the supplier", "D1")
    dye_supplier: str = text("who made or sold it", "Madder & Woad")
    dye_price: float | None = _price("for a kilogram")
    cure_days: int | None = a(FieldForm.COUNT, "days from pouring to the first burn", "14")

    def __post_init__(self) -> None:
        total, shares = self.total_percent, self.shares_percent
        complete = None not in shares.values()
        if total > 100.0 + SUM_WITHIN or (complete and shares and total < 100.0 - SUM_WITHIN):
            raise DataError(
                f"the shares of {', '.join(shares)} sum to {total:.4g} %, not 100 %: each is of "
                "the whole mass; leave one out while it is not known"
            )

    @property
    def shares_percent(self) -> Mapping[str, float | None]:
        """By part, of those that are named or have a share; None while a share is not known."""
        parts = ("wax", "second_wax", "fragrance", "dye")
        shares = {part: getattr(self, f"{part}_share_percent") for part in parts}
        return {
            part.replace("_", " "): share
            for part, share in shares.items()
            if share is not None or getattr(self, part)
        }

    @property
    def total_percent(self) -> float:
        """The sum of the shares that are known."""
        return math.fsum(share for share in self.shares_percent.values() if share is not None)

    def notes(self, words: Words, now_s: float) -> Iterator[str]:
        """What is still missing of the shares."""
        unknown = [part for part, share in self.shares_percent.items() if share is None]
        if unknown:
            yield f"share not known of: {', '.join(unknown)}"


@dataclass(frozen=True, slots=True, kw_only=True)
class PourRecord(ShelfRecord):
    """One batch, poured in one go."""

    formula: str = names("formula")
    poured_on_s: float | None = a(FieldForm.DAY, "the day", "2031-05-04")
    fill_g: float | None = a(FieldForm.MASS, "wax in each candle", "220 g")
    pour_temperature_c: float | None = a(FieldForm.TEMPERATURE, "of the wax", "65 degC")
    room_c: float | None = a(FieldForm.TEMPERATURE, "of the room", "21 degC")

    def cured_days(self, at_s: float) -> int | None:
        """Whole days from pouring to `at_s`; None where the day is not known or lies ahead."""
        if self.poured_on_s is None or at_s < self.poured_on_s:
            return None
        return int((at_s - self.poured_on_s) // DAY_S)

    def notes(self, words: Words, now_s: float) -> Iterator[str]:
        """How long it has cured."""
        days = self.cured_days(now_s)
        if days is not None:
            yield f"cured for {days} day{'' if days == 1 else 's'} so far"
        elif self.poured_on_s is not None:
            yield "the day of pouring lies ahead: look at its date"
