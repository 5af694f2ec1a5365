"""What a curve draws of each place: its estimates over the burn as arrays."""

from collections.abc import Sequence
from dataclasses import dataclass
from typing import TYPE_CHECKING, Any

from logger.burn.evidence import Gap
from logger.quantities import Channel, Estimate, Place, Quality
from logger.reports.document import Series

if TYPE_CHECKING:
    from numpy.typing import NDArray


@dataclass(frozen=True, slots=True, kw_only=True)
class PlaceLine:
    """A channel and its letter; the arrays are in order of time, an element for each estimate."""

    letter: str
    channel: Channel
    gaps: tuple[Gap, ...]  # in order
    at_s: "NDArray[Any]"
    value: "NDArray[Any]"  # NaN where there is none
    expanded: "NDArray[Any]"  # uncertainty, k = 2; 0 where it is not known
    good: "NDArray[Any]"  # whether it has a value that may be believed
    doubtful: "NDArray[Any]"

    @classmethod
    def of_columns(
        cls,
        letter: str,
        channel: Channel,
        *,
        at_s: "NDArray[Any]",
        value: "NDArray[Any]",
        standard_uncertainty: "NDArray[Any]",
        quality: "NDArray[Any]",
        gaps: tuple[Gap, ...] = (),
    ) -> "PlaceLine":
        """Of estimates as the store has them: NaN where there is no number, quality as text."""
        import numpy as np

        valued = ~np.isnan(value)
        return cls(
            letter=letter,
            channel=channel,
            gaps=gaps,
            at_s=at_s,
            value=value,
            expanded=2.0 * np.nan_to_num(standard_uncertainty),
            good=valued & (quality == Quality.GOOD.value),
            doubtful=valued & (quality == Quality.DOUBTFUL.value),
        )

    @classmethod
    def of_estimates(
        cls,
        letter: str,
        channel: Channel,
        found: Sequence[Estimate],
        gaps: tuple[Gap, ...] = (),
    ) -> "PlaceLine":
        """Of estimates one by one."""
        import numpy as np

        uncertainty = [one.standard_uncertainty for one in found]
        return cls.of_columns(
            letter,
            channel,
            gaps=gaps,
            at_s=np.array([one.at_s for one in found], dtype=np.float64),
            value=np.array([one.value for one in found], dtype=np.float64),
            standard_uncertainty=np.array(uncertainty, dtype=np.float64),
            quality=np.array([one.quality.value for one in found], dtype=np.str_),
        )

    @classmethod
    def of(cls, series: Series) -> "PlaceLine":
        """Of what a record has."""
        return cls.of_estimates(series.letter, series.channel, series.estimates, series.gaps)

    @property
    def place(self) -> Place:
        """Where it looks."""
        return self.channel.place

    @property
    def by_hand(self) -> bool:
        """Whether a person read it."""
        return self.channel.by_hand

    @property
    def believed(self) -> "NDArray[Any]":
        """Which estimates are not lost."""
        either: NDArray[Any] = self.good | self.doubtful
        return either

    def within(self, from_s: float, to_s: float) -> "NDArray[Any]":
        """Which estimates are of [from_s, to_s]."""
        inside: NDArray[Any] = (self.at_s >= from_s) & (self.at_s <= to_s)
        return inside

    def gap_number(self) -> "NDArray[Any]":
        """How many gaps have ended at each estimate; one at a gap's very end is behind it."""
        import numpy as np

        return np.searchsorted([gap.to_s for gap in self.gaps], self.at_s, side="right")

    def on_line(self, from_s: float, to_s: float) -> "NDArray[Any]":
        """Which estimates the line of [from_s, to_s] goes through: good ones outside of gaps."""
        import numpy as np

        begins_s = np.array([*(gap.from_s for gap in self.gaps), np.inf])
        outside = self.at_s <= begins_s[self.gap_number()]
        shown: NDArray[Any] = self.good & outside & self.within(from_s, to_s)
        return shown
