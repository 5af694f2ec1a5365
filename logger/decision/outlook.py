"""What a trial's burns so far say of those to come: the peak of the last quarter of the wax."""

from collections.abc import Sequence
from dataclasses import dataclass

from logger.burn.consumption import consumption
from logger.burn.heat import FEWEST_BURNS, BurnPeak, LastQuarter, last_quarter
from logger.burn.model import Burn
from logger.burn.shared_pour import not_judged
from logger.words import Words


@dataclass(frozen=True, slots=True, kw_only=True)
class Outlook:
    """In words, and in figures where there are any."""

    text: str
    last_quarter: LastQuarter | None = None


def outlook(burns: Sequence[Burn], words: Words, *, limit_c: float) -> Outlook:
    """What the last quarter is expected to reach, from the burns that are out and were measured."""
    if not_judged(burns):
        return Outlook(
            text=(
                "On a shared pour the last quarter of the wax, which is usually the hottest "
                "(common practice), is not judged: burn this wick in a candle of its own"
            )
        )
    burns = [burn for burn in burns if not burn.shared_pour]
    known = [burn for burn in burns if burn.hottest and not burn.lit]
    if len(known) < FEWEST_BURNS:
        return Outlook(
            text=(
                "Fewer than three burns: nothing can be predicted for the last quarter of the wax, "
                "which is usually the hottest (common practice)"
            )
        )
    weighed = consumption(burns)
    peaks = [
        BurnPeak(
            used=share,
            peak_c=burn.hottest.value_c,
            standard_uncertainty_c=burn.hottest.standard_uncertainty_c,
        )
        for burn in known
        if burn.hottest and (share := weighed[burn.id].used_share) is not None
    ]
    if len(peaks) < FEWEST_BURNS:
        return Outlook(
            text=(
                "Nothing can be predicted for the last quarter of the wax, which is usually the "
                "hottest (common practice): it takes three burns for which it is known how much of "
                "the wax was used. Weigh the cold candle before its first burn and after each, "
                "and enter how much wax was poured"
            )
        )
    found = last_quarter(peaks)
    if found is None:
        return Outlook(
            text=(
                "Too early to say what the last quarter of the wax will reach, which is usually "
                "the hottest (common practice): the burns so far lie too close together in the "
                "wax, or differ too much. Burn on"
            )
        )
    side = "under" if found.high_c <= limit_c else "not certain to stay under"
    return Outlook(
        text=(
            f"The last quarter of the wax is expected to peak at {words.temperature(found.peak_c)} "
            f"({words.temperature(found.low_c)} to "
            f"{words.temperature(found.high_c)} with {100.0 * found.level:.0f} % probability, "
            f"by a line through {found.burns} burns and the usual rise at the end): "
            f"{side} the maker's limit"
        ),
        last_quarter=found,
    )
