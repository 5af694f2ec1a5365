"""Lots and suppliers that a verdict rests on, and the smallest retest where one has changed.

A verdict holds for the lots that were burned. How much is burned again is common practice among
makers, no standard's demand; the maker may ask for more, never for less.
"""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from enum import IntEnum, StrEnum

from logger.burn.trials import name_key


class LotPart(StrEnum):
    """What comes in lots."""

    WAX = "wax"
    SECOND_WAX = "second wax"
    FRAGRANCE = "fragrance"
    DYE = "dye"
    WICK = "wick"
    VESSEL = "vessel"


class Retest(IntEnum):
    """How much is burned again, each more than the one before."""

    ONE_BURN = 1
    TWO_BURNS = 2
    TO_THE_END = 3
    NEW_TRIAL = 4

    @property
    def written(self) -> str:
        """As configuration and JSON have it: "one-burn"."""
        return self.name.lower().replace("_", "-")

    @classmethod
    def of(cls, written: str) -> "Retest":
        """The one that is written so."""
        return cls[written.upper().replace("-", "_")]

    @property
    def words(self) -> str:
        """What is to be done."""
        return _RETEST_WORDS[self]

    def done(self, candles: Sequence["MadeCandle"]) -> bool:
        """Whether candles of the new lot have been burned as far."""
        match self:
            case Retest.ONE_BURN | Retest.TWO_BURNS:
                return any(one.full_burns >= self.value for one in candles)
            case Retest.TO_THE_END:
                return any(one.to_the_end for one in candles)
            case Retest.NEW_TRIAL:
                return sum(one.to_the_end for one in candles) >= FEWEST_ALIKE


FEWEST_ALIKE = 2  # testers of a trial that are burned to their ends (common practice: 2 or 3)
_RETEST_WORDS = {
    Retest.ONE_BURN: "one tester of the new lot, one burn of your full length",
    Retest.TWO_BURNS: "one tester of the new lot, its first two burns of your full length",
    Retest.TO_THE_END: "one tester of the new lot, burned to its end",
    Retest.NEW_TRIAL: "as a new trial: two or three testers alike, burned to their ends",
}

# Common practice among makers, no single source; the reasons are ours.
SMALLEST: Mapping[LotPart, tuple[Retest, str]] = {
    LotPart.WAX: (
        Retest.TO_THE_END,
        "hardness and melting differ from lot to lot: pool, consumption and the last quarter may "
        "all move",
    ),
    LotPart.SECOND_WAX: (
        Retest.TO_THE_END,
        "in a blend it changes hardness and melting as the first wax does",
    ),
    LotPart.FRAGRANCE: (
        Retest.TWO_BURNS,
        "it thins the wax and may clog the wick: flame and pool show that within two burns",
    ),
    LotPart.DYE: (Retest.ONE_BURN, "pigment may clog the wick: the flame shows that at once"),
    LotPart.WICK: (
        Retest.TO_THE_END,
        "braid and priming set the flame, and the last quarter is where a stronger one shows",
    ),
    LotPart.VESSEL: (
        Retest.ONE_BURN,
        "wall and annealing differ: make the checks before a flame anew, then see one whole burn",
    ),
}
NEW_MATERIAL = "another name or supplier is another material"


@dataclass(frozen=True, slots=True, kw_only=True)
class Lot:
    """Of one part: what it is called, its lot and who supplied it; "" is not recorded."""

    name: str = ""
    lot: str = ""
    supplier: str = ""

    def __str__(self) -> str:
        parts = (self.name, f"lot {self.lot}" if self.lot else "lot not recorded", self.supplier)
        return ", ".join(part for part in parts if part)


Lots = Mapping[LotPart, Lot]


@dataclass(frozen=True, slots=True, kw_only=True)
class MadeCandle:
    """A candle of a trial, what it was made of, and how far it has burned."""

    tester: str
    lots: Lots
    full_burns: int = 0  # of the maker's full length
    to_the_end: bool = False


@dataclass(frozen=True, slots=True, kw_only=True)
class LotChange:
    """A part that is no longer the one that was judged, and what to burn again."""

    part: LotPart
    judged: Lot
    now: Lot
    retest: Retest
    why: str
    begun: tuple[str, ...] = ()  # testers of the lot of now that have burned, not yet enough

    @property
    def what(self) -> str:
        """What changed, in a line."""
        return f"{self.part}: judged with {self.judged}; now {self.now}"

    @property
    def text(self) -> str:
        """The same, with what to burn again."""
        begun = f" (begun with {', '.join(self.begun)})" if self.begun else ""
        return f"{self.what}. Burn again: {self.retest.words}{begun}"


@dataclass(frozen=True, slots=True, kw_only=True)
class LotCheck:
    """What of a verdict's lots is no longer so; where nothing is, it holds."""

    trial: str
    changes: tuple[LotChange, ...]
    not_known: tuple[LotPart, ...]  # whose lot was not recorded then, or is not now

    @property
    def retest(self) -> Retest | None:
        """What answers all changes at once; None where none is known."""
        return max((change.retest for change in self.changes), default=None)


def lot_check(
    trial: str,
    candles: Sequence[MadeCandle],
    now: Lots,
    demanded: Mapping[LotPart, Retest] | None = None,
) -> LotCheck:
    """What of `now` differs from what was burned; `candles` in the order in which they were made.

    The verdict holds for the lots of the first candle whose lot was recorded, and for any other
    once its retest is done.
    `demanded` is what the maker asks for, where that is more than the smallest.
    """
    changes, not_known = [], []
    for part in LotPart:
        burned = [one.lots[part] for one in candles if part in one.lots]
        if part not in now or not burned:
            continue
        judged = next((one for one in burned if one.lot), burned[0])
        change = None
        if not _same(judged, now[part]):
            change = _change(part, judged, now[part], candles, demanded or {})
        if change is not None:
            changes.append(change)
        elif not (now[part].lot and all(one.lot for one in burned)):
            not_known.append(part)
    return LotCheck(trial=trial, changes=tuple(changes), not_known=tuple(not_known))


def _change(
    part: LotPart,
    judged: Lot,
    now: Lot,
    candles: Sequence[MadeCandle],
    demanded: Mapping[LotPart, Retest],
) -> LotChange | None:
    """None where candles of the lot of now have been burned as far as it takes."""
    smallest, why = SMALLEST[part]
    if _unlike(judged.supplier, now.supplier) or _unlike(judged.name, now.name):
        smallest, why = Retest.NEW_TRIAL, NEW_MATERIAL
    retest = max(smallest, demanded.get(part, smallest))
    of_now = [one for one in candles if part in one.lots and one.lots[part] == now]
    if retest.done(of_now):
        return None
    begun = tuple(one.tester for one in of_now)
    return LotChange(part=part, judged=judged, now=now, retest=retest, why=why, begun=begun)


def _same(one: Lot, other: Lot) -> bool:
    """Whether nothing that is recorded of both differs."""
    return not (
        _unlike(one.name, other.name)
        or _unlike(one.lot, other.lot)
        or _unlike(one.supplier, other.supplier)
    )


def _unlike(one: str, other: str) -> bool:
    return bool(one and other) and name_key(one) != name_key(other)
