"""How much the same candle differs from station to station: one-way analysis of variance.

Burns of one kept recipe, grouped by station, give the spread within a station (repeatability) and
between stations (place, probes, draught); both together are the reproducibility (ISO 5725-2 terms,
from memory; the mean squares as in the NIST/SEMATECH handbook, 7.4.3).
"""

import math
from collections.abc import Mapping, Sequence
from dataclasses import dataclass

FEWEST_STATIONS = 2
FEWEST_FREE = 3  # degrees of freedom within stations: fewer say next to nothing (our choice)


@dataclass(frozen=True, slots=True, kw_only=True)
class OneWayAnova:
    """The table of a one-way analysis of variance."""

    free_between: int
    free_within: int
    squares_between: float
    squares_within: float
    group_size: float  # of equal groups their size; of unequal ones what stands for it

    @property
    def mean_square_between(self) -> float:
        """Between groups, for each degree of freedom."""
        return self.squares_between / self.free_between

    @property
    def mean_square_within(self) -> float:
        """Within groups, for each degree of freedom."""
        return self.squares_within / self.free_within


def one_way_anova(groups: Sequence[Sequence[float]]) -> OneWayAnova | None:
    """Of `groups` that each hold at least one value; None for fewer than two, or no repeats."""
    groups = [group for group in groups if group]
    count = sum(map(len, groups))
    if len(groups) < FEWEST_STATIONS or count == len(groups):
        return None
    # About a value of theirs: of values with many leading digits alike only the rest counts.
    origin = groups[0][0]
    shifted = [[value - origin for value in group] for group in groups]
    means = [math.fsum(group) / len(group) for group in shifted]
    grand = math.fsum(value for group in shifted for value in group) / count
    of_groups = list(zip(shifted, means, strict=True))
    sizes = math.fsum(len(group) ** 2 for group in groups)
    return OneWayAnova(
        free_between=len(groups) - 1,
        free_within=count - len(groups),
        squares_between=math.fsum(len(group) * (mean - grand) ** 2 for group, mean in of_groups),
        squares_within=math.fsum((v - mean) ** 2 for group, mean in of_groups for v in group),
        group_size=(count - sizes / count) / (len(groups) - 1),
    )


@dataclass(frozen=True, slots=True, kw_only=True)
class Reproducibility:
    """Standard uncertainties of a peak above the room, in kelvin, from burns of one recipe."""

    between_k: float  # of a station and its probes, against the others
    within_k: float  # of one burn, against another on the same station
    stations: tuple[str, ...]
    burns: int

    def difference_u_k(self, station: str, other: str) -> float:
        """Of the difference of one burn on each: what place, probes and repeating add to it."""
        between_k = 0.0 if station == other else self.between_k
        return math.sqrt(2.0) * math.hypot(self.within_k, between_k)


def reproducibility(rises_k: Mapping[str, Sequence[float]]) -> Reproducibility | None:
    """Of peaks above the room by station; None while there are too few to say.

    A negative component between stations, which chance can give, is none.
    """
    anova = one_way_anova([rises_k[name] for name in sorted(rises_k)])
    if anova is None or anova.free_within < FEWEST_FREE:
        return None
    between = (anova.mean_square_between - anova.mean_square_within) / anova.group_size
    return Reproducibility(
        between_k=math.sqrt(max(between, 0.0)),
        within_k=math.sqrt(anova.mean_square_within),
        stations=tuple(sorted(name for name, values in rises_k.items() if values)),
        burns=sum(map(len, rises_k.values())),
    )
