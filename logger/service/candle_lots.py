"""The lots of which each candle of a trial was made, out of the versions of its records."""

import math
from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass, field

from logger.burn.consumption import consumption
from logger.burn.evidence import BurnEvidence
from logger.burn.model import Burn
from logger.burn.stated import SELF_EXTINGUISHED
from logger.burn.trials import name_key
from logger.decision.change import Lot, LotPart, Lots, MadeCandle
from logger.shelf.candles import TesterRecord
from logger.shelf.recipes import DAY_S, PourRecord
from logger.shelf.versions import ShelfVersion
from logger.store.queries import Reader

TO_THE_END = 0.85  # of the wax: makers stop with some 10 mm left (common practice)


@dataclass(frozen=True, slots=True, kw_only=True)
class _Told:
    """Where a part's name, lot and supplier are written."""

    kind: str  # of record
    name: str  # its field; empty: the record's own name
    lot: str = "lot"
    supplier: str = "supplier"


_TOLD: Mapping[LotPart, _Told] = {
    part: _Told(kind="formula", name=key, lot=f"{key}_lot", supplier=f"{key}_supplier")
    for part, key in (
        (LotPart.WAX, "wax"),
        (LotPart.SECOND_WAX, "second_wax"),
        (LotPart.FRAGRANCE, "fragrance"),
        (LotPart.DYE, "dye"),
    )
} | {
    LotPart.WICK: _Told(kind="wick", name=""),
    LotPart.VESSEL: _Told(kind="vessel", name=""),
}


@dataclass(frozen=True, slots=True, kw_only=True)
class CandleLots:
    """Of one trial; `named` are its records of now by kind."""

    reader: Reader
    named: Mapping[str, str]
    _versions: dict[tuple[str, str], list[ShelfVersion]] = field(default_factory=dict)

    def now(self) -> Lots:
        """Those on the records of now."""
        return self._at(self.named, None)

    def burned(
        self, burns: Sequence[BurnEvidence], pour_of: Mapping[str, PourRecord | None]
    ) -> Iterator[MadeCandle]:
        """Each candle that was burned, with the lots of when it was poured.

        `pour_of` is by the code on the vessel, in small letters.
        """
        of_candle: dict[tuple[str, str], list[BurnEvidence]] = {}
        for evidence in burns:
            of_candle.setdefault(evidence.burn.candle, []).append(evidence)
        weighed = consumption([evidence.burn for evidence in burns])
        for found in of_candle.values():
            first, last = found[0].burn, found[-1].burn
            life = weighed[last.id].life
            used_share = life.used_share if life else None
            yield MadeCandle(
                tester=first.tester or first.station,
                lots=self._burned(first, pour_of.get(name_key(first.tester))),
                full_burns=sum(map(_full, found)),
                to_the_end=last.ending.ended == SELF_EXTINGUISHED
                or (used_share or 0.0) >= TO_THE_END,
            )

    def waiting(
        self,
        burns: Sequence[Burn],
        testers: Sequence[TesterRecord],
        pour_of: Mapping[str, PourRecord | None],
    ) -> Iterator[MadeCandle]:
        """Testers that have not burned yet; one without a pour has the lots of now."""
        burned = {name_key(burn.tester) for burn in burns}
        for one in testers:
            code = name_key(one.name)
            if code not in burned:
                names = {**self.named, **({"vessel": one.vessel} if one.vessel else {})}
                yield MadeCandle(tester=one.name, lots=self._poured(names, None, pour_of.get(code)))

    def _burned(self, burn: Burn, pour: PourRecord | None) -> Lots:
        """As the records were when the candle was poured, or else when it was lit first."""
        names = dict(self.named)
        names |= {"vessel": burn.vessel} if burn.vessel else {}
        names |= {"wick": burn.wick} if burn.wick else {}
        return self._poured(names, burn.lit_s, pour)

    def _poured(
        self, names: Mapping[str, str], lit_s: float | None, pour: PourRecord | None
    ) -> Lots:
        at_s = lit_s
        if pour is not None:
            names = {**names, **({"formula": pour.formula} if pour.formula else {})}
            if pour.poured_on_s is not None:
                at_s = min(math.inf if lit_s is None else lit_s, pour.poured_on_s + DAY_S)
        return self._at(names, at_s)

    def _at(self, names: Mapping[str, str], at_s: float | None) -> Lots:
        found = {}
        for part, told in _TOLD.items():
            if told.kind not in names:
                continue
            versions = self._all(told.kind, names[told.kind])
            lot = Lot(
                name=_written(versions, told.name, at_s) if told.name else names[told.kind],
                lot=_written(versions, told.lot, at_s),
                supplier=_written(versions, told.supplier, at_s),
            )
            if lot.name:
                found[part] = lot
        return found

    def _all(self, kind: str, name: str) -> list[ShelfVersion]:
        if (kind, name) not in self._versions:
            self._versions[kind, name] = self.reader.record_versions(kind, name)
        return self._versions[kind, name]


def _full(one: BurnEvidence) -> bool:
    """Whether it burned to the maker's longest; told that the end is near is near enough."""
    least_s = one.limits.burn_length_s - one.limits.burn_notice_s
    return not one.burn.lit and one.burn.elapsed_s(one.until_s) >= least_s


def _written(versions: Sequence[ShelfVersion], key: str, at_s: float | None) -> str:
    """What a field held at that time, or when the record was first entered, if that was later.

    What was entered into a record that stood without it is of now: nobody knows that it was so.
    """
    until = [one for one in versions if at_s is None or one.at_s <= at_s] or versions[:1]
    return str(until[-1].fields.get(key, "")) if until else ""
