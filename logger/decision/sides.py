"""From which sides a wall was measured: one alone may hang off, or be the cooler one."""

from collections.abc import Iterable, Iterator, Sequence

from logger.burn.evidence import BurnEvidence, Coverage
from logger.decision.criteria import QUARTER_HOURS
from logger.quantities import Channel, Position

AFTER_S = 7200.0  # of burning: the wall is 30 to 60 min late, its plateau counts (common practice)


def apart(one: int, other: int) -> int:
    """Hours on the clock between two sides, the shorter way round."""
    return min((one - other) % 12, (other - one) % 12)


def two_sides(clocks: Iterable[int | None]) -> bool:
    """Whether two of them are a quarter of the way round apart, or more."""
    known = [clock for clock in clocks if clock is not None]
    return any(apart(one, other) >= QUARTER_HOURS for one in known for other in known)


def settled_after_s(evidence: BurnEvidence) -> float:
    """From when after lighting a reading is of the plateau; a short burn's is its second half."""
    return min(AFTER_S, 0.5 * evidence.burn.elapsed_s(evidence.until_s))


def measured_settled(seen: Coverage, evidence: BurnEvidence) -> bool:
    """Whether a place was measured once the wall had warmed up."""
    last = seen.readings[-1] if seen.readings else seen.last
    return last is not None and last.at_s >= evidence.burn.lit_s + settled_after_s(evidence)


def is_wall(seen: Coverage) -> bool:
    """Whether it is a place on the wall, and no rim or base."""
    return seen.channel.place.position is Position.WALL


def made_up_by_hand(evidence: BurnEvidence) -> tuple[Coverage, ...]:
    """Places on the wall that a person read, where without them one side alone was measured.

    One counts that was read once the wall had warmed up, beside any that an instrument read.
    """
    walls = [seen for seen in evidence.on_vessel if seen.measured and is_wall(seen)]
    sensed = [seen for seen in walls if not seen.by_hand]
    if not sensed or two_sides(seen.channel.place.clock for seen in _believed(sensed)):
        return ()
    return tuple(seen for seen in walls if seen.by_hand and measured_settled(seen, evidence))


def one_side_only(walls: Sequence[Coverage]) -> Iterator[str]:
    """Why `walls` that were measured do not show the wall from two sides; nothing where they do."""
    if not walls:
        yield "No wall place was measured: rim and base do not show how hot it was"
        return
    believed = _believed(walls)
    clocks = [seen.channel.place.clock for seen in believed]
    if two_sides(clocks):
        return
    text = "The wall was not measured on two sides, a quarter of the way round or more apart"
    if from_table := [seen for seen in walls if seen not in believed]:
        named = "; ".join(str(seen.channel.place) for seen in from_table)
        text += (
            f"; {named} does not count because its emissivity is from a table: measure it on this "
            "vessel (wickbench emissivity), or fasten a probe"
        )
    if None in clocks:
        text += '; give each side its "clock"'
    yield text


def _believed(walls: Sequence[Coverage]) -> list[Coverage]:
    return [seen for seen in walls if not _from_table(seen.channel)]


def _from_table(channel: Channel) -> bool:
    """Whether its emissivity is one of a table: a finish that was mistaken shows in no reading."""
    return channel.emissivity is not None and not channel.emissivity_measured
