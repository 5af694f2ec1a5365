"""What is known of a trial, out of the store; every function here blocks."""

import math
from collections.abc import Iterable, Iterator, Sequence
from dataclasses import replace
from typing import TYPE_CHECKING, TypeVar

from logger.burn.evidence import BurnEvidence
from logger.burn.model import Burn
from logger.burn.trials import name_key
from logger.decision.change import Lots, lot_check
from logger.decision.in_trial import Makeup
from logger.decision.outlook import Outlook, outlook
from logger.decision.trial_facts import TrialFacts
from logger.decision.trial_rule import TrialEvidence, judge_trial
from logger.errors import NotKnown
from logger.intake.shelf_bodies import record_of
from logger.service import records
from logger.service.candle_lots import CandleLots
from logger.shelf.candles import TesterRecord, TrialRecord
from logger.shelf.recipes import FormulaRecord, PourRecord
from logger.shelf.sheet import ShelfRecord
from logger.shelf.versions import ShelfVersion
from logger.shelf.vessels import VesselRecord
from logger.shelf.wicks import WickingRecord, WickRecord
from logger.store.queries import Reader, open_read
from logger.words import Words

if TYPE_CHECKING:
    from logger.service.trial_verdict import Judging

T = TypeVar("T", bound=ShelfRecord)


def trial_facts(judging: "Judging", name: str, before_s: float = math.inf) -> TrialFacts:
    """All that is known of a trial, or was before burns lit since `before_s`.

    Raises NotKnown where neither a burn nor a record has it.
    """
    with open_read(judging.data) as reader:
        shelf = _Shelf(reader)
        record = shelf.one(TrialRecord, "trial", name)
        try:
            burns = records.burns_of(reader, name)
        except NotKnown:
            if record is None:
                raise
            burns = []
        burns = [burn for burn in burns if burn.lit_s < before_s]
        plan = record or TrialRecord(name=name)
        testers = tuple(_testers(shelf, name, burns))
        pours = tuple(shelf.several(PourRecord, "pour", (one.pour for one in testers)))
        wicking = shelf.one(WickingRecord, "wicking", plan.wicking)
        formula = shelf.one(FormulaRecord, "formula", plan.formula, *(one.formula for one in pours))
        vessel = shelf.one(
            VesselRecord,
            "vessel",
            *(burn.vessel for burn in reversed(burns)),
            plan.vessel,
            *(one.vessel for one in testers),
        )
        wick = shelf.one(
            WickRecord,
            "wick",
            *(burn.wick for burn in reversed(burns)),
            wicking.wick if wicking else "",
        )
        words = records.bench_and_text(reader, burns[-1])[0].words if burns else Words()
        evidence, weighed = judging.known(reader, burns)
        named = {"formula": formula, "vessel": vessel, "wick": wick}
        names = {kind: one.name for kind, one in named.items() if one}
        lots = CandleLots(reader=reader, named=names)
        poured = {one.name: one for one in pours}
        pour_of = {name_key(one.name): poured.get(one.pour) for one in testers}
        candles, lots_now = tuple(lots.burned(evidence, pour_of)), lots.now()
        all_wicks = shelf.all(WickRecord, "wick")
        verdict = judge_trial(
            TrialEvidence(
                burns=evidence,
                weighed=weighed,
                outlook=expected_of(evidence, words),
                makeup=Makeup(
                    wick=wick,
                    wicks=(wicking and wicking.number) or 1,
                    series=tuple(one for one in all_wicks if wick and one.series == wick.series),
                ),
                lots=_in_words([one.lots for one in candles] or [lots_now]),
            ),
            words,
        )
        changed = lot_check(name, candles, lots_now).changes
        return TrialFacts(
            name=name,
            words=words,
            record=record,
            formula=formula,
            vessel=vessel,
            wicking=wicking,
            wick=wick,
            pours=pours,
            testers=testers,
            candles=candles,
            waiting=tuple(lots.waiting(burns, testers, pour_of)),
            lots_now=lots_now,
            burns=evidence,
            verdict=replace(verdict, not_for=tuple(one.what for one in changed)),
            weighed=weighed,
        )


def expected_of(burns: Sequence[BurnEvidence], words: Words) -> Outlook:
    """What the last quarter of the wax is expected to reach."""
    last = burns[-1:]
    limit_c = next((one.limits.of(one.burn.material).limit_c for one in last), 0.0)
    return outlook([one.burn for one in burns], words, limit_c=limit_c)


def _in_words(known: Sequence[Lots]) -> tuple[str, ...]:
    """Every part that is named, with the lot that was burned or that none is recorded."""
    told = (
        f"{part} {lot.name}, {f'lot {lot.lot}' if lot.lot else 'lot not recorded'}"
        for lots in known
        for part, lot in lots.items()
    )
    return tuple(dict.fromkeys(told))


class _Shelf:
    """Records by kind and name, each kind read once."""

    def __init__(self, reader: Reader) -> None:
        self._reader = reader
        self._kinds: dict[str, list[ShelfVersion]] = {}

    def all(self, makes: type[T], kind: str) -> list[T]:
        """Those that count, by name."""
        if kind not in self._kinds:
            self._kinds[kind] = [one for one in self._reader.shelf(kind) if not one.withdrawn]
        made = map(record_of, self._kinds[kind])
        return [one for one in made if isinstance(one, makes)]

    def several(self, makes: type[T], kind: str, names: Iterable[str]) -> list[T]:
        """Those of `names` that are there, each once, in this order."""
        there = {one.name: one for one in self.all(makes, kind)}
        return [there[name] for name in dict.fromkeys(names) if name in there]

    def one(self, makes: type[T], kind: str, *names: str) -> T | None:
        """The first of `names` that is there."""
        return next(iter(self.several(makes, kind, names)), None)


def _testers(shelf: _Shelf, trial: str, burns: Sequence[Burn]) -> Iterator[TesterRecord]:
    """Those that were burned, and those that are meant for it."""
    burned = {name_key(burn.tester) for burn in burns}
    for one in shelf.all(TesterRecord, "tester"):
        if one.trial == trial or name_key(one.name) in burned:
            yield one
