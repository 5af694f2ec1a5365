"""All that is known of one trial: what a comparison, costs, a report and a plan are made of."""

from collections.abc import Mapping
from dataclasses import dataclass, field

from logger.burn.candle_life import CandleLife
from logger.burn.consumption import Consumption
from logger.burn.evidence import BurnEvidence
from logger.decision.change import Lots, MadeCandle
from logger.decision.verdict import Verdict
from logger.shelf.candles import TesterRecord, TrialRecord
from logger.shelf.recipes import FormulaRecord, PourRecord
from logger.shelf.vessels import VesselRecord
from logger.shelf.wicks import WickingRecord, WickRecord
from logger.words import Words


@dataclass(frozen=True, slots=True, kw_only=True)
class TrialFacts:
    """One trial: its records as they count now, its burns that count, and the verdict on them.

    A record that is not on the shelf, or that no record names, is None.
    """

    name: str
    words: Words  # as the maker read them when it was lit last
    record: TrialRecord | None = None
    formula: FormulaRecord | None = None
    vessel: VesselRecord | None = None
    wicking: WickingRecord | None = None
    wick: WickRecord | None = None
    pours: tuple[PourRecord, ...] = ()
    testers: tuple[TesterRecord, ...] = ()
    candles: tuple[MadeCandle, ...] = ()  # that were burned, in that order
    waiting: tuple[MadeCandle, ...] = ()  # testers that have not burned yet
    lots_now: Lots = field(default_factory=dict)  # that a candle poured today would have
    burns: tuple[BurnEvidence, ...] = ()  # in the order of lighting
    verdict: Verdict
    weighed: Mapping[str, Consumption] = field(default_factory=dict)  # by the id of a burn

    @property
    def lots(self) -> Mapping[str, tuple[str, ...]]:
        """By part ("vessel", "wax", "wick"): those that were burned, as they were when the candle
        was poured, in the order of burning; of a trial without burns those of now.
        """
        found: dict[str, dict[str, None]] = {}
        for lots in [one.lots for one in self.candles] or [self.lots_now]:
            for part, lot in lots.items():
                if lot.lot:
                    found.setdefault(part, {})[lot.lot] = None
        return {part: tuple(lots) for part, lots in found.items()}

    @property
    def hours(self) -> float:
        """Burned so far, in all its candles."""
        return sum(one.burn.elapsed_s(one.until_s) for one in self.burns) / 3600.0

    @property
    def shared_pour(self) -> bool:
        """Whether all its burns were on a candle that serves several wicks in turn."""
        return bool(self.burns) and all(one.burn.shared_pour for one in self.burns)

    @property
    def lives(self) -> Mapping[tuple[str, str], CandleLife]:
        """Of each candle of its own whose weighings tell one, by `Burn.candle`."""
        found = ((one.burn.candle, self.weighed.get(one.burn.id)) for one in self.burns)
        return {candle: weighed.life for candle, weighed in found if weighed and weighed.life}
