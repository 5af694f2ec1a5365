"""Which trial is the best of those compared, and why; with it the sentence for a client."""

from collections.abc import Iterator
from dataclasses import dataclass

from logger.decision.compared import ComparedTrial, Comparison, TrialDifference
from logger.decision.criteria import Outcome
from logger.decision.same_room import ComparedFigure
from logger.decision.wax_levels import ALIKE_MM
from logger.words import Words, duration

ORDER = (Outcome.PASS, Outcome.WORTH_MAKING, Outcome.UNDECIDED, Outcome.FAIL)
"""What fails never stands above what does not."""

ALONE = {
    Outcome.WORTH_MAKING: "is worth making in a candle of its own",
    Outcome.PASS: "passed",
    Outcome.UNDECIDED: "cannot be recommended yet",
    Outcome.FAIL: "failed",
}


@dataclass(frozen=True, slots=True, kw_only=True)
class RankedTrial:
    """A trial and its place among those compared; None where it has not been burned."""

    trial: ComparedTrial
    rank: int | None
    reason: str


def ranking(found: Comparison, words: Words) -> tuple[RankedTrial, ...]:
    """The best first. Equal places where the margins differ by less than their uncertainty.

    First by the verdict, then by the margin to the maker's limit in the same room: a cooler glass
    is the better one among those that do their work. What fails has one place, the last. A melt
    pool that is full early earns nothing: it is a sign of heat.
    """
    burned = [one for one in found.trials if one.facts.burns]
    burned.sort(key=lambda one: (_class_of(one), -_margin_c(one)))
    placed: list[RankedTrial] = []
    for number, one in enumerate(burned, 1):
        leader = placed[-1] if placed else None
        rank, beside = number, ""
        if leader is not None and _class_of(leader.trial) == _class_of(one):
            first = next(p for p in placed if p.rank == leader.rank)
            apart = found.difference("margin", first.trial.facts.name, one.facts.name)
            if one.outcome is Outcome.FAIL:
                rank = leader.rank or number
            else:
                rank = number if apart and apart.clear else leader.rank or number
                beside = _beside(first.trial, apart, words)
        placed.append(RankedTrial(trial=one, rank=rank, reason=_reason(found, one, beside, words)))
    waiting = [one for one in found.trials if not one.facts.burns]
    return (
        *placed,
        *(RankedTrial(trial=one, rank=None, reason="not burned yet") for one in waiting),
    )


def in_a_sentence(found: Comparison, ranked: tuple[RankedTrial, ...], words: Words) -> str:
    """What the comparison says, in a plain sentence or two."""
    placed = [one for one in ranked if one.rank is not None]
    if not placed:
        return "Nothing has been burned yet."
    best = [one for one in placed if one.rank == placed[0].rank]
    named = _named([one.trial.label for one in best])
    room = words.temperature(found.room_c)
    if len(placed) == 1:
        return f"{named} {ALONE.get(placed[0].trial.outcome, placed[0].trial.outcome)}."
    if placed[0].trial.outcome is Outcome.FAIL:
        return f"None can be recommended: {named} failed."
    said = f"{named} did best"
    if len(best) > 1:
        said = f"{named} {_apart(found, [one.trial for one in best])}"
    if placed[0].trial.outcome is Outcome.UNDECIDED:
        said = f"None can be recommended yet. So far {said}"
    margin = best[0].trial.figures.get("margin")
    if len(best) == 1 and margin is not None:
        stays = _with_uncertainty(margin, words)
        said += f": in a room of {room} its glass stays {stays} below the limit"
    if placed[0].trial.outcome is Outcome.WORTH_MAKING:
        said += ". On a shared pour it can show no more than to be worth making"
    failed = [one.trial.label for one in placed if one.trial.outcome is Outcome.FAIL]
    return f"{said}." + (f" {_named(failed)} failed." if failed else "")


def _apart(found: Comparison, best: list[ComparedTrial]) -> str:
    """Of those that share the first place."""
    first, *others = (one.facts.name for one in best)
    known = [found.difference("margin", first, other) for other in others]
    if all(one is not None and not one.unlike for one in known):
        return "are equal as far as can be measured"
    return "cannot be told apart"


def _class_of(one: ComparedTrial) -> int:
    return ORDER.index(one.outcome)


def _margin_c(one: ComparedTrial) -> float:
    margin = one.figures.get("margin")
    return float("-inf") if margin is None else margin.value


def _reason(found: Comparison, one: ComparedTrial, beside: str, words: Words) -> str:
    deciding = one.facts.verdict.deciding
    parts = [str(one.outcome)]
    if deciding is not None and one.outcome in (Outcome.UNDECIDED, Outcome.FAIL):
        parts = [f"{one.outcome}: {deciding.reason}"]
    margin = one.figures.get("margin")
    if margin is not None and one.outcome is not Outcome.FAIL:
        side = "below" if margin.value >= 0.0 else "over"
        parts.append(
            f"in a room of {words.temperature(found.room_c)}, {_with_uncertainty(margin, words)} "
            f"{side} the maker's limit"
        )
    parts += [beside] if beside else []
    parts += _early(found, one)
    return "; ".join(parts)


def _beside(first: ComparedTrial, apart: TrialDifference | None, words: Words) -> str:
    if apart is None:
        return f"its margin cannot be compared with that of {first.label}: it is not known of both"
    if apart.unlike:
        return f"not comparable with {first.label}: {apart.unlike}"
    by = _with_uncertainty(apart.found, words)
    if apart.clear:
        return f"hotter than {first.label} by {by}"
    return f"equal to {first.label} within the uncertainty ({by})"


def _early(found: Comparison, one: ComparedTrial) -> Iterator[str]:
    """A melt pool that was full clearly earlier than another's is shown, and earns no place."""
    for other in found.trials:
        sooner = found.difference("full-pool", other.facts.name, one.facts.name)
        if sooner is not None and sooner.clear and sooner.found.value > 0.0:
            yield (
                f"its melt pool was full {duration(sooner.found.value)} earlier than that of "
                f"{other.label}, which is a sign of heat and no merit"
            )


def _with_uncertainty(found: ComparedFigure, words: Words) -> str:
    """A difference of temperatures, how large it is: "5.8 °C ± 1.2"."""
    expanded = words.difference(found.expanded).rpartition(" ")[0]
    return f"{words.difference(abs(found.value))} ± {expanded}"


def _named(labels: list[str]) -> str:
    *others, last = labels
    return f"{', '.join(others)} and {last}" if others else last


def remarks(found: Comparison, words: Words) -> Iterator[str]:
    """What must be known to read the comparison."""
    burned = [one for one in found.trials if one.days]
    if not burned:
        return
    burns = "is the first burn" if found.first == 1 else f"are the first {found.first} burns"
    yield (
        f"Compared {burns} of each candle, in a room of {words.temperature(found.room_c)}: "
        "as many as all have, since the last are usually the hottest (common practice)"
    )
    alone = [one.label for one in burned if len(one.days[0].evidence) == 1]
    if alone:
        yield (
            f"{_named(alone)}: one candle was burned; what differs may be of the candles, not of "
            "the wicks"
        )
    unknown = [
        one.label for one in burned if any(b.warmest is None for b in one.comparable(found.first))
    ]
    if unknown:
        yield (
            f"{_named(unknown)}: the room was not measured; it is taken as anywhere within the "
            "maker's own limits, and the figures are as much less certain"
        )
    if found.slope is None and any(one.shared_pour for one in burned):
        yield (
            f"Wicks of a shared pour that were lit more than {words.fine_length(ALIKE_MM)} of wax "
            "level apart are not compared: deeper in the vessel a wick heats it more (common "
            "practice)"
        )
    slope = found.slope
    if slope is not None:
        by = words.difference(abs(slope.k_per_mm), 2)
        yield (
            "Wicks of the shared pour were lit at different wax levels; their peaks are corrected "
            f"by {by} a millimetre, as {slope.trial} showed in a candle of its own"
        )
