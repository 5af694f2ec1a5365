"""What a trial's burns so far say of those to come: the peak of the last quarter of the wax."""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from typing import Protocol

from logger.burn.heat import FEWEST_BURNS, BurnPeak, LastQuarter, last_quarter
from logger.burn.model import Burn


class Words(Protocol):
    """How temperatures are written for a person."""

    def of(self, value_c: float) -> str:
        """A temperature with its unit."""
        ...


@dataclass(frozen=True, slots=True, kw_only=True)
class Outlook:
    """In words, and in figures where there are any."""

    text: str
    last_quarter: LastQuarter | None = None


def outlook(
    burns: Sequence[Burn], words: Words, *, limit_c: float, used: Mapping[str, float] | None = None
) -> Outlook:
    """What the last quarter is expected to reach, from the burns that are out and were measured.

    `used` is, by burn, the share of the wax that was gone half-way through it, as weighing tells.
    """
    peaks = [(burn.id, burn.hottest.value_c) for burn in burns if burn.hottest and not burn.lit]
    if len(peaks) < FEWEST_BURNS:
        return Outlook(
            text=(
                "Fewer than three burns: nothing can be expected of the last quarter of the wax, "
                "which is usually the hottest (common practice)"
            )
        )
    known = [BurnPeak(used=used[id_], peak_c=c) for id_, c in peaks if used and id_ in used]
    found = last_quarter(known)
    if found is None:
        return Outlook(
            text=(
                "How much of the wax was gone at each burn is not known, or the same for all: "
                "nothing can be expected of its last quarter"
            )
        )
    side = "under" if found.high_c <= limit_c else "not surely under"
    return Outlook(
        text=(
            f"The last quarter of the wax is expected to peak at {words.of(found.peak_c)} "
            f"({words.of(found.low_c)} to {words.of(found.high_c)} with {100.0 * found.level:.0f} %"
            f", by a line through {found.burns} burns): {side} your limit"
        ),
        last_quarter=found,
    )
