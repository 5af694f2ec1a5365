"""Whether two trials were burned alike, and by how much their figures differ."""

from collections.abc import Iterable, Sequence
from itertools import combinations

from logger.decision.compared import FIGURES, ComparedTrial, TrialDifference
from logger.decision.reproducibility import Reproducibility
from logger.decision.wax_levels import ALIKE_MM
from logger.words import Words, duration


def differences(
    trials: Sequence[ComparedTrial],
    first: int,
    words: Words,
    *,
    corrected: bool,
    bench: Reproducibility | None = None,
) -> Iterable[TrialDifference]:
    """Of each figure that two trials have, by their first burns; `corrected` for wax levels.

    `bench` is how far stations differ; None while that is not known.
    """
    for one, other in combinations(trials, 2):
        for figure in FIGURES:
            ours, theirs = one.figures.get(figure), other.figures.get(figure)
            if ours is not None and theirs is not None:
                heat = figure in ("peak", "margin")
                stations, u_k = _stations(one, other, first, bench, words) if heat else ("", 0.0)
                yield TrialDifference(
                    figure=figure,
                    one=one.facts.name,
                    other=other.facts.name,
                    found=ours.minus(theirs).less_sure_by(u_k),
                    stations=stations,
                    unlike="; ".join(
                        _unlike(one, other, first, words, corrected=corrected and heat)
                    ),
                )


def _stations(
    one: ComparedTrial,
    other: ComparedTrial,
    first: int,
    bench: Reproducibility | None,
    words: Words,
) -> tuple[str, float]:
    """What other stations mean for a difference, in words and as a standard uncertainty."""
    ours, theirs = ({b.burn.station for b in each.comparable(first)} for each in (one, other))
    if ours & theirs or not (ours and theirs):
        return "", 0.0
    told = f"burned on other stations ({', '.join(sorted(ours))}; {', '.join(sorted(theirs))})"
    if bench is None:
        return f"{told}: how far these differ is not known, and not counted", 0.0
    u_k = bench.difference_u_k(min(ours), min(theirs))
    return f"{told}: ± {words.difference(2.0 * u_k)} counted for that, by the check candle", u_k


def _unlike(
    one: ComparedTrial, other: ComparedTrial, first: int, words: Words, *, corrected: bool
) -> Iterable[str]:
    """Why two trials were not burned alike."""
    yield from _levels(one, other, words, corrected=corrected)
    ours, theirs = one.comparable(first), other.comparable(first)
    longest = [max(b.burn.elapsed_s(b.until_s) for b in burns) for burns in (ours, theirs)]
    allowed_s = min(b.limits.burn_notice_s for b in (*ours, *theirs))
    if abs(longest[0] - longest[1]) > allowed_s:
        yield f"one burned for {duration(longest[0])}, the other for {duration(longest[1])}"
    regimes = [{b.burn.circumstances.regime for b in burns} - {""} for burns in (ours, theirs)]
    if all(regimes) and regimes[0] != regimes[1]:
        told = (", ".join(sorted(found)) for found in regimes)
        yield f"they were burned otherwise: {' and '.join(told)}"


def _levels(
    one: ComparedTrial, other: ComparedTrial, words: Words, *, corrected: bool
) -> Iterable[str]:
    if not (one.shared_pour or other.shared_pour):
        return
    shared = one.shared_pour and other.shared_pour
    if one.level_mm is None or other.level_mm is None:
        unknown = one if one.level_mm is None else other
        yield f"the wax level when {unknown.label} was lit was not entered"
    elif abs(one.level_mm - other.level_mm) > ALIKE_MM and not (corrected and shared):
        apart = words.fine_length(abs(one.level_mm - other.level_mm))
        yield f"lit at wax levels {apart} apart, more than {words.fine_length(ALIKE_MM)}"
