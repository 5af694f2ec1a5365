"""What a side of the wall that nobody measured, or a probe that hangs off, may hide.

A wick off the axis heats one side more. Two sides do not tell of the others, so unless the wall was
measured all round, that much is counted before a burn passes. Where sides differ at one height and
not at another, the one that seems cool there may be a bead that hangs off: then what the sides
differ by elsewhere is counted there as well.
"""

from collections.abc import Iterable, Iterator, Sequence
from dataclasses import dataclass

from logger.burn.evidence import BurnEvidence, Coverage
from logger.conditioning.uncertainty import COVERAGE
from logger.decision.criteria import QUARTER_HOURS
from logger.decision.heat_criteria import least_guard_k
from logger.decision.missing import Missing, apart
from logger.decision.pool_line import AFTER_S, SCAN, clocks_at_the_wax
from logger.words import Words

ASIDE = 0.07
"""Share of its rise by which an unmeasured side may be hotter than those measured.

Ours: simulated glass jars became 5 to 7 % warmer on the nearer side with a wick 5 mm off the axis;
nobody overlooks one that stands off much more.
"""
ONE_HEIGHT_MM = 5.0  # places no farther apart are of one height (our choice)
MOST_APART = 1.3  # between the rises of two sides: beyond, one of them hangs off (our choice)


@dataclass(frozen=True, slots=True, kw_only=True)
class _Rise:
    """How far a place of the wall rose in the burn, K."""

    seen: Coverage
    height_mm: float
    clock: int
    rise_k: float
    upper_c: float  # that it reached, counting what it is guarded by


def side_gaps(evidence: BurnEvidence, words: Words) -> Iterator[Missing]:
    """What decides and is missing: sides that differ too much, or that nobody measured."""
    rises = list(_rises(evidence))
    if not rises:
        return
    pairs = list(_pairs(rises))
    odd = max(pairs, key=lambda pair: pair[0].rise_k / max(pair[1].rise_k, 1e-9), default=None)
    if odd is not None and odd[0].rise_k > MOST_APART * odd[1].rise_k:
        hot, cool = odd
        yield _gap(
            evidence,
            f"{hot.seen.channel.place} warmed by {words.difference(hot.rise_k)}, and "
            f"{cool.seen.channel.place} by only {words.difference(cool.rise_k)}: that one may hang "
            "off the wall",
        )
        return
    limit_c = evidence.limits.of(evidence.burn.material).limit_c
    upper_c = max(one.upper_c for one in rises)
    hidden_k = _hidden_k(rises, pairs)
    if upper_c <= limit_c < upper_c + hidden_k:
        yield _gap(
            evidence,
            f"Where sides of the wall differ, one may hide {words.difference(hidden_k)} more than "
            f"was measured, and so be over the maker's limit of {words.temperature(limit_c)}",
        )
        return
    beside_k = ASIDE * max(one.rise_k for one in rises)
    if not _all_round(evidence) and upper_c <= limit_c < upper_c + beside_k:
        yield _gap(
            evidence,
            "The wall was not measured all round at the top of the wax: a side between may be "
            f"hotter by {words.difference(beside_k)}, and so over the maker's limit of "
            f"{words.temperature(limit_c)}",
        )


def _gap(evidence: BurnEvidence, text: str) -> Missing:
    return Missing(text=text, decides=True, burn=evidence.burn.id, do=SCAN, for_s=AFTER_S)


def _rises(evidence: BurnEvidence) -> Iterator[_Rise]:
    room_c = min(
        (one.first.value or 0.0 for one in evidence.rooms if one.first is not None), default=None
    )
    for seen in evidence.on_vessel:
        place, highest = seen.channel.place, seen.highest
        start_c = room_c if seen.by_hand or seen.first is None else seen.first.value
        if place.height_mm is None or place.clock is None or highest is None or start_c is None:
            continue
        value_c, uncertainty_k = highest.value or 0.0, highest.standard_uncertainty or 0.0
        guard_k = max(COVERAGE * uncertainty_k, least_guard_k(seen.channel, evidence, value_c))
        yield _Rise(
            seen=seen,
            height_mm=place.height_mm,
            clock=place.clock,
            rise_k=value_c - start_c,
            upper_c=value_c + guard_k,
        )


def _pairs(rises: Sequence[_Rise]) -> Iterator[tuple[_Rise, _Rise]]:
    """Places of one height on two sides, the one that rose more first."""
    for index, one in enumerate(rises):
        for other in rises[index + 1 :]:
            beside = abs(one.height_mm - other.height_mm) <= ONE_HEIGHT_MM
            if beside and apart(one.clock, other.clock) >= QUARTER_HOURS:
                yield (one, other) if one.rise_k >= other.rise_k else (other, one)


def _hidden_k(rises: Sequence[_Rise], pairs: Iterable[tuple[_Rise, _Rise]]) -> float:
    """How far any height may have risen beyond what was measured.

    What one side is to another at one height it may be at every height.
    """
    both_ways = [pair for hot, cool in pairs for pair in ((hot, cool), (cool, hot))]
    ratios: dict[tuple[int, int], float] = {}
    for one, other in both_ways:
        if other.rise_k > 0.0:
            ratio = one.rise_k / other.rise_k
            ratios[_sides(one, other)] = max(ratio, ratios.get(_sides(one, other), ratio))
    highest_k = max(one.rise_k for one in rises)
    return max(
        (
            other.rise_k * ratios.get(_sides(one, other), 1.0) - highest_k
            for one, other in both_ways
        ),
        default=0.0,
    )


def _sides(one: _Rise, other: _Rise) -> tuple[int, int]:
    return one.clock, other.clock


def _all_round(evidence: BurnEvidence) -> bool:
    """Whether every quarter was measured at the top of the wax, once the wall was hot."""
    quarters = {round(clock / QUARTER_HOURS) % 4 for clock in clocks_at_the_wax(evidence)}
    return len(quarters) == 4
