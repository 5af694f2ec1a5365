"""Where a wall must have been measured in a burn of a trial: at the top of the wax, and at the end
of the wax at the bottom.

The wall gets hottest first at the top of the wax; in the last quarter the base and the wall just
above it do (common practice).
"""

from collections.abc import Iterator

from logger.burn.evidence import BurnEvidence, Coverage
from logger.decision.look_criteria import LAST_QUARTER
from logger.decision.missing import Missing
from logger.decision.sides import AFTER_S, is_wall, measured_settled, settled_after_s, two_sides
from logger.quantities import Position
from logger.words import Words, duration

# All common practice of makers in kind, our choice in figures.
NEAR_MM = 10.0  # of the top of the wax
LOWEST_MM = 15.0  # of the wall
SCAN = "after 2 h, scan the wall by hand at the top of the wax, on two sides or all round"
LEVEL = "look where the top of the wax is"


def pool_line_gaps(
    evidence: BurnEvidence, used_after: float | None, words: Words
) -> Iterator[Missing]:
    """What was not measured where it is hottest; `used_after` is the share of wax gone at the end.

    A burn shorter than four hours is looked at in its second half.
    """
    burn, after_s = evidence.burn, settled_after_s(evidence)
    level_mm = wax_level_mm(evidence)
    if level_mm is None:
        yield Missing(
            text="Nobody recorded where the top of the wax was: whether the wall was measured "
            "there is not known",
            decides=True,
            burn=burn.id,
            do=LEVEL,
        )
    elif not two_sides(near_the_wax(evidence, level_mm)):
        yield Missing(
            text=f"After {duration(after_s)} the wall was not measured within "
            f"{words.fine_length(NEAR_MM)} of the top of the wax "
            f"({words.length(level_mm)}) on two sides, nor scanned round it",
            decides=True,
            burn=burn.id,
            do=SCAN,
            for_s=AFTER_S,
        )
    if used_after is not None and used_after >= LAST_QUARTER:
        low = any((seen.channel.place.height_mm or 0.0) <= LOWEST_MM for seen in _walls(evidence))
        base = any(
            seen.measured
            for seen in evidence.on_vessel
            if seen.channel.place.position is Position.BASE
        )
        lowest = f"lowest {words.fine_length(LOWEST_MM)} of the wall"
        bare = [
            what
            for what, known in (
                (f"the {lowest}", low),
                ("the base", base),
            )
            if not known
        ]
        if bare:
            yield Missing(
                text=f"In the last quarter of the wax {' and '.join(bare)} "
                f"{'were' if len(bare) > 1 else 'was'} not measured",
                decides=True,
                burn=burn.id,
                do=f"scan the {lowest}, and the base",
            )


def near_the_wax(evidence: BurnEvidence, level_mm: float) -> list[int | None]:
    """Sides on which the wall was measured at the top of the wax, once it had warmed up."""
    return [
        seen.channel.place.clock
        for seen in _walls(evidence)
        if abs((seen.channel.place.height_mm or 0.0) - level_mm) <= NEAR_MM
        and measured_settled(seen, evidence)
    ]


def wax_level_mm(evidence: BurnEvidence) -> float | None:
    """The top of the wax above the outside base, as it was last seen in the burn."""
    if evidence.burn.wax_level_mm is not None:
        return evidence.burn.wax_level_mm
    seen = [o.look.wax_level_mm for o in evidence.looks if o.look.wax_level_mm is not None]
    return seen[-1] if seen else evidence.burn.circumstances.wax_level_mm


def _walls(evidence: BurnEvidence) -> Iterator[Coverage]:
    """Places on the wall that were measured, each with a height."""
    for seen in evidence.on_vessel:
        if is_wall(seen) and seen.channel.place.height_mm is not None and seen.measured:
            yield seen
