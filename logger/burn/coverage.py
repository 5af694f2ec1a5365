"""Which parts of the wall were measured in a burn, by height and side, and which never were."""

import math
from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from enum import StrEnum

from logger.burn.evidence import LEAST_SHARE, Coverage
from logger.quantities import Channel, Position, Unit
from logger.words import Words

SIDES = (12, 3, 6, 9)  # o'clock, a quarter of the way round each
BAND_MM = 20.0  # about as high as a band is: a probe says nothing of more (our choice)


class PartState(StrEnum):
    """How one part of the wall was measured."""

    NEVER = "never"
    BY_HAND = "by hand"  # and nobody knows of the time between
    IN_PART = "in part"
    MEASURED = "measured"


@dataclass(frozen=True, slots=True, kw_only=True)
class WallPart:
    """A band of the wall on one side."""

    low_mm: float  # above the outside base
    high_mm: float
    side: int  # o'clock: the middle of its quarter
    seen: PartState
    share: float = 0.0  # of the burn, by the instrument that saw most of it


@dataclass(frozen=True, slots=True, kw_only=True)
class WallCoverage:
    """The wall unrolled: every part of every side, from below."""

    parts: tuple[WallPart, ...]
    top_mm: float
    rim_known: bool  # else `top_mm` is the highest place measured, and of more nothing is known
    unplaced: int  # places on the wall without a height or a clock position: they fill no part

    @property
    def never(self) -> tuple[WallPart, ...]:
        """The parts that nobody measured."""
        return tuple(part for part in self.parts if part.seen is PartState.NEVER)


def wall_coverage(coverage: Iterable[Coverage], length_in: Unit) -> WallCoverage | None:
    """How the wall was covered; None where no place on it has a height.

    The bands are a round length in the maker's unit. A place counts for the band and the quarter
    that it lies in, and for nothing beside them.
    """
    on_vessel = [one for one in coverage if one.channel.on_vessel]
    walls = [one for one in on_vessel if one.channel.place.position is Position.WALL]
    heights = [h for one in walls if (h := one.channel.place.height_mm) is not None]
    rims = [
        height_mm
        for one in on_vessel
        if one.channel.place.position is Position.RIM
        and (height_mm := one.channel.place.height_mm) is not None
    ]
    top_mm = max([*rims, *heights], default=0.0)
    if not heights or top_mm <= 0.0:
        return None
    step_mm = _band_mm(length_in)
    bands = max(math.ceil(top_mm / step_mm - 1e-9), 1)
    placed: dict[tuple[int, int], list[Coverage]] = {}
    unplaced = 0
    for one in walls:
        height_mm, clock = one.channel.place.height_mm, one.channel.place.clock
        if height_mm is None or clock is None:
            unplaced += one.measured
        elif one.measured:
            band = min(int(height_mm / step_mm), bands - 1)
            placed.setdefault((band, side_of(clock)), []).append(one)
    return WallCoverage(
        parts=tuple(
            _part(
                placed.get((band, side), ()),
                low_mm=band * step_mm,
                high_mm=min((band + 1) * step_mm, top_mm),
                side=side,
            )
            for band in range(bands)
            for side in SIDES
        ),
        top_mm=top_mm,
        rim_known=bool(rims) and max(rims) >= top_mm,
        unplaced=unplaced,
    )


def _part(here: Sequence[Coverage], *, low_mm: float, high_mm: float, side: int) -> WallPart:
    share = max((one.share for one in here), default=0.0)
    seen = PartState.NEVER
    if share >= LEAST_SHARE:
        seen = PartState.MEASURED
    elif any(not one.by_hand for one in here):
        seen = PartState.IN_PART
    elif here:
        seen = PartState.BY_HAND
    return WallPart(low_mm=low_mm, high_mm=high_mm, side=side, seen=seen, share=share)


def side_of(clock: int) -> int:
    """The quarter that a clock position lies in, by its middle."""
    return SIDES[round(clock / 3.0) % 4]


def _band_mm(unit: Unit) -> float:
    """About `BAND_MM`: 1, 2 or 5 times a power of ten of the maker's unit, whichever is nearest."""
    about = unit.outside(BAND_MM)
    power = 10.0 ** math.floor(math.log10(about))
    nearest = min((1.0, 2.0, 5.0, 10.0), key=lambda step: abs(math.log(step * power / about)))
    return unit.inside(nearest * power)


def never_measured(found: WallCoverage, words: Words) -> str:
    """What nobody measured and where to scan; empty where every part was."""
    runs: dict[tuple[float, float], list[int]] = {}
    for side in SIDES:
        bare = [part for part in found.never if part.side == side]
        while bare:
            run = [bare.pop(0)]
            while bare and bare[0].low_mm == run[-1].high_mm:
                run.append(bare.pop(0))
            runs.setdefault((run[0].low_mm, run[-1].high_mm), []).append(side)
    if not runs:
        return ""
    told = [
        f"{_stretch(low_mm, high_mm, found, words)} at {_sides(sides)}"
        for (low_mm, high_mm), sides in sorted(runs.items())
    ]
    return f"never measured in this burn: {'; '.join(told)}"


def _stretch(low_mm: float, high_mm: float, found: WallCoverage, words: Words) -> str:
    if low_mm == 0.0 and high_mm == found.top_mm:
        whole = "the whole height"
        return whole if found.rim_known else f"the height up to {words.length(high_mm)}"
    if low_mm == 0.0:
        return f"the lower {words.length(high_mm)}"
    return f"{words.length_in.figure(low_mm, 0)} to {words.length(high_mm)}"


def _sides(sides: Sequence[int]) -> str:
    return "every side" if len(sides) == len(SIDES) else _sides_named(sides)


def _sides_named(sides: Sequence[int]) -> str:
    *others, last = map(str, sorted(sides, key=lambda side: side % 12))
    return f"{', '.join(others)}{' and ' if others else ''}{last} o'clock"


def at_the_wax(level_mm: float, walls: Iterable[Channel], words: Words) -> str:
    """Where to measure, the top of the wax being at `level_mm`: there a wall gets hottest first.

    Common practice. A probe is moved only on a cold vessel, never beside a flame.
    """
    known = [one for one in walls if one.place.position is Position.WALL]
    near_mm = 0.5 * BAND_MM
    heights = {one.name: h for one in known if (h := one.place.height_mm) is not None}
    here = {
        side_of(one.place.clock)
        for one in known
        if one.place.clock is not None
        and one.name in heights
        and abs(heights[one.name] - level_mm) <= near_mm
    }
    said = [f"wax is now at {words.length(level_mm)}"]
    if bare := [side for side in SIDES if side not in here]:
        said.append(f"scan there at {_sides_named(bare)}, from the side")
    fixed = [heights[one.name] for one in known if one.name in heights and not one.by_hand]
    nearest = min(fixed, key=lambda height_mm: abs(height_mm - level_mm), default=None)
    if nearest is not None and abs(nearest - level_mm) > near_mm:
        way = "down" if nearest > level_mm else "up"
        by = words.length(abs(nearest - level_mm))
        said.append(f"once the vessel is cold, move the probe {way} {by}")
    return f"{said[0]}: {'; '.join(said[1:])}" if said[1:] else said[0]


def unknown(found: WallCoverage, words: Words, level_mm: float | None = None) -> str:
    """What the drawing cannot tell, in sentences; `level_mm` of the wax as last seen."""
    level = "not recorded" if level_mm is None else f"last seen at {words.length(level_mm)}"
    said = [f"The level of the wax was {level}"]
    if not found.rim_known:
        said.append(
            f"the vessel's height was not recorded either: above {words.length(found.top_mm)} "
            "nothing is said"
        )
    if found.unplaced:
        one = found.unplaced == 1
        said.append(
            f"{found.unplaced} place{'' if one else 's'} without a height or a clock position "
            f"count{'s' if one else ''} for no part"
        )
    return "; ".join(said)
