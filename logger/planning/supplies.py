"""What must be at hand until the planned burns are over: wax, fragrance, wicks and vessels."""

from collections.abc import Iterable
from dataclasses import dataclass


@dataclass(frozen=True, slots=True, kw_only=True)
class Supply:
    """An amount of one thing: grams, or pieces where `grams` is None."""

    what: str  # wax, fragrance, wick, vessel
    name: str
    grams: float | None = None
    pieces: int | None = None


@dataclass(frozen=True, slots=True, kw_only=True)
class Recipe:
    """What one candle takes; what is not known is left out of `parts`, and named."""

    parts: tuple[Supply, ...]
    unknown: tuple[str, ...] = ()


def supplies(to_pour: Iterable[Recipe]) -> tuple[Supply, ...]:
    """All that these candles take together, in the order in which it was first named."""
    totals: dict[tuple[str, str], Supply] = {}
    for recipe in to_pour:
        for part in recipe.parts:
            key = (part.what, part.name)
            before = totals.get(key)
            totals[key] = part if before is None else _sum(before, part)
    return tuple(totals.values())


def _sum(one: Supply, other: Supply) -> Supply:
    return Supply(
        what=one.what,
        name=one.name,
        grams=None if one.grams is None else one.grams + (other.grams or 0.0),
        pieces=None if one.pieces is None else one.pieces + (other.pieces or 0),
    )
