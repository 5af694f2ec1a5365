"""A burn as a part of its trial: what the criteria are given."""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field

from logger.burn.consumption import Consumption
from logger.burn.evidence import BurnEvidence
from logger.burn.limits import CriterionValue
from logger.decision.missing import Missing
from logger.shelf.wicks import WickRecord
from logger.words import Words

STANDARD = "standard"  # the regime of a burn that states none
NO_CONSUMPTION = Consumption()


@dataclass(frozen=True, slots=True, kw_only=True)
class Makeup:
    """What the shelf says of the trial's wicks; None and empty where no record is named."""

    wick: WickRecord | None = None
    wicks: int = 1  # in one candle; one where nobody said more
    series: tuple[WickRecord, ...] = ()  # all of the wick's series on the shelf


UNKNOWN = Makeup()


@dataclass(frozen=True, slots=True, kw_only=True)
class BurnInTrial:
    """A burn, what is missing of it, and its place in the candle's life."""

    evidence: BurnEvidence
    words: Words = Words()
    gaps: tuple[Missing, ...] = ()  # of it
    weighed: Consumption = NO_CONSUMPTION
    number: int = 1  # of its candle's burns
    last: bool = False  # of its candle's burns so far
    makeup: Makeup = UNKNOWN
    whole: bool = False  # the trial is judged: the full rule holds, see `heat_criteria`
    widened_k: float = 0.0  # what may have happened between readings by hand, see `by_hand_rule`
    beside_k: float = 0.0  # by which a side may be hotter that nobody measured, see `wall_profile`
    below_k: Mapping[str, float] = field(default_factory=dict)  # and below a channel's place
    by_hand_will_do: bool = False  # they were frequent enough

    @property
    def regime(self) -> str:
        """How it was burned."""
        return self.evidence.burn.circumstances.regime or STANDARD

    def value(self, criterion: str) -> CriterionValue | None:
        """The figure that stands for this burn; None where none does, or the maker left it out.

        The maker's own stand above the defaults; of those that fit, the closest counts.
        """
        material = self.evidence.burn.material
        wick = self.makeup.wick.form if self.makeup.wick else ""
        fitting = [
            one
            for one in self.evidence.criteria
            if one.criterion == criterion
            and one.material in (None, material)
            and one.regime in ("", self.regime)
            and one.wick in ("", wick)
        ]
        found = max(fitting, key=_closeness, default=None)
        return found if found is not None and found.judged else None


def _closeness(one: CriterionValue) -> tuple[bool, int]:
    return one.own, (one.material is not None) + bool(one.regime) + bool(one.wick)


def used_after(burns: Sequence[BurnInTrial]) -> float | None:
    """The greatest share of its wax that any candle of these burns had used; None: not known."""
    shares = [one.weighed.used_after for one in burns]
    return max((share for share in shares if share is not None), default=None)
