"""Three neighbouring sizes to begin a new vessel with, from the maker's own verdicts."""

from collections.abc import Sequence
from dataclasses import dataclass
from itertools import groupby

from logger.burn.straight_line import straight_line
from logger.decision.criteria import Outcome
from logger.decision.next_step import Step
from logger.shelf.wicks import WickRecord
from logger.words import Words

SIZES = 3
ALIKE_MM = 5.0  # inner diameters so near count as one vessel (our choice)
FAR_MM = 15.0  # from the nearest vessel that is known: a guess, and said so (our choice)
_RIGHT = (Outcome.PASS, Outcome.WORTH_MAKING)


@dataclass(frozen=True, slots=True, kw_only=True)
class KnownSize:
    """What a trial of the maker's said of one size in one vessel."""

    trial: str
    order: int  # of the wick in its series
    inner_diameter_mm: float
    outcome: Outcome
    step: Step | None = None  # what was to be tried next


@dataclass(frozen=True, slots=True, kw_only=True)
class StartingSizes:
    """Wicks to begin with, the middle one the likeliest; none where nothing is known."""

    wicks: tuple[str, ...]
    reason: str


def starting_sizes(
    known: Sequence[KnownSize], series: Sequence[WickRecord], inner_diameter_mm: float, words: Words
) -> StartingSizes:
    """Three sizes of `series` for a vessel so wide.

    `known` are trials of the same formula, series and number of wicks. The size that was right goes
    up with the diameter on a straight line; sizes that were too hot or too cold in a vessel as wide
    are left out.
    """
    right = sorted((one for one in known if one.outcome in _RIGHT), key=_width)
    sized = {one.order: one.name for one in series if one.order is not None}
    if not right or not sized:
        return StartingSizes(
            wicks=(),
            reason=(
                "No trial of yours has passed with this formula and series yet: begin with three "
                "neighbouring sizes that the wick's maker names for this width"
            ),
        )
    middle = _expected(right, inner_diameter_mm)
    beside = [one for one in known if abs(one.inner_diameter_mm - inner_diameter_mm) <= ALIKE_MM]
    too_hot = [one.order for one in beside if one.step is Step.ONE_DOWN]
    too_cold = [one.order for one in beside if one.step is Step.ONE_UP]
    left = [
        order
        for order in sized
        if all(order < hot for hot in too_hot) and all(order > cold for cold in too_cold)
    ]
    chosen = sorted(sorted(left, key=lambda order: (abs(order - middle), order))[:SIZES])
    nearest = min(right, key=lambda one: abs(one.inner_diameter_mm - inner_diameter_mm))
    reason = (
        f"By {len(right)} of your trials with this formula and series that passed; the nearest is "
        f"{nearest.trial}, {words.length(nearest.inner_diameter_mm)} wide"
    )
    if abs(nearest.inner_diameter_mm - inner_diameter_mm) > FAR_MM:
        reason += ": far from this one, so little more than a guess"
    if left != list(sized):
        reason += "; sizes that were too large or too small in a vessel as wide are left out"
    return StartingSizes(wicks=tuple(sized[order] for order in chosen), reason=reason)


def _expected(right: Sequence[KnownSize], inner_diameter_mm: float) -> float:
    """The size on a line through what was right; that of the nearest vessel where there is none."""
    by_width = [(width, [one.order for one in here]) for width, here in groupby(right, key=_width)]
    line = straight_line((width, sum(orders) / len(orders)) for width, orders in by_width)
    if line is not None and line.slope >= 0.0 and by_width[-1][0] - by_width[0][0] >= ALIKE_MM:
        return line.at(inner_diameter_mm)
    _, orders = min(by_width, key=lambda one: abs(one[0] - inner_diameter_mm))
    return sum(orders) / len(orders)


def _width(one: KnownSize) -> float:
    return one.inner_diameter_mm
