"""The marks of a test burn: times of being lit at which a person looks at the candle."""

import math
from collections.abc import Iterable, Iterator, Sequence
from dataclasses import dataclass
from enum import StrEnum

AHEAD_S = 120.0  # a mark is announced so long before: time to get there (our choice)
LATE_S = 900.0  # a look so long after it still counts as of the mark (our choice)


@dataclass(frozen=True, slots=True, kw_only=True)
class MarkTimes:
    """The marks that a bench asks for, in seconds of being lit; some regimes have their own."""

    at_s: tuple[float, ...] = ()
    by_regime_s: tuple[tuple[str, tuple[float, ...]], ...] = ()

    def of(self, regime: str) -> tuple[float, ...]:
        """Those of a burn of `regime`; of one that states none, the usual ones."""
        return dict(self.by_regime_s).get(regime, self.at_s)


class MarkState(StrEnum):
    """What became of a mark."""

    AHEAD = "ahead"
    DUE = "due"  # somebody should look now
    SEEN = "seen"
    MISSED = "missed"
    NOT_REACHED = "not reached"  # the candle was out before


@dataclass(frozen=True, slots=True, kw_only=True)
class BurnMark:
    """One mark of a burn."""

    mark_s: float  # of being lit
    state: MarkState


def mark_of(elapsed_s: float, marks_s: Sequence[float]) -> float | None:
    """The mark that a look so long after lighting is of; None where it is between marks."""
    near = [one for one in marks_s if one - AHEAD_S <= elapsed_s <= one + LATE_S]
    return max(near, default=None)


def marks(
    marks_s: Sequence[float], looked_s: Iterable[float], until_s: float, *, lit: bool
) -> Iterator[BurnMark]:
    """Every mark of a burn in order; `looked_s` are the looks, `until_s` is now or out.

    All in seconds of being lit.
    """
    seen = {mark_of(one, marks_s) for one in looked_s}
    in_order = sorted(marks_s)
    for one, next_s in zip(in_order, [*in_order[1:], math.inf], strict=False):
        if one in seen:
            state = MarkState.SEEN
        elif not lit:
            state = MarkState.NOT_REACHED if until_s < one else MarkState.MISSED
        elif until_s < one - AHEAD_S:
            state = MarkState.AHEAD
        else:
            late = until_s > one + LATE_S or until_s >= next_s - AHEAD_S
            state = MarkState.MISSED if late else MarkState.DUE
        yield BurnMark(mark_s=one, state=state)


def due_mark(found: Iterable[BurnMark]) -> BurnMark | None:
    """The one that somebody should look at now."""
    return next((one for one in found if one.state is MarkState.DUE), None)
