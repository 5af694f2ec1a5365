"""What a criterion is, and the decision rule: pass, fail or undecided."""

import math
from collections.abc import Callable, Iterable
from dataclasses import dataclass
from enum import StrEnum
from typing import TYPE_CHECKING

from logger.burn.heat import InWarmestRoom

if TYPE_CHECKING:
    from logger.decision.in_trial import BurnInTrial


class Outcome(StrEnum):
    """Of a criterion, a burn or a trial."""

    PASS = "pass"  # noqa: S105 - a word of judgement, no password
    FAIL = "fail"
    UNDECIDED = "undecided"
    WORTH_MAKING = "worth making"  # of a shared pour: it can show no more


@dataclass(frozen=True, slots=True, kw_only=True)
class Decided:
    """What a criterion finds in a burn; figures are in its `unit`."""

    outcome: Outcome
    reason: str
    value: float | None = None
    least: float | None = None
    limit: float | None = None  # at most
    unit: str | None = None
    warmest: InWarmestRoom | None = None  # what the figure means for a warmer room; judges nothing
    origin: str = ""  # whose limit it is; empty: it has no figure
    weaker: bool = False  # it rests on readings by hand


class Shown(StrEnum):
    """In which burns of a trial a criterion must have been looked at before the trial can pass."""

    ALWAYS = "always"  # it finds something in every burn by itself
    HALF = "half"  # in half of the burns at least: our choice
    HALF_AND_LAST = "half and last"  # and in the last: the end of the wax is the worst
    ONCE = "once"
    ANY = "any"  # once, and one that passes makes up for those that leave it open


@dataclass(frozen=True, slots=True, kw_only=True)
class Criterion:
    """One demand: what it asks, how it is decided, and whose demand it is."""

    name: str
    title: str
    rule: str
    source: str
    finds: Callable[["BurnInTrial"], Decided | None]  # None: this burn says nothing of it
    shown: Shown = Shown.ALWAYS
    do: str = ""  # what a person does in a burn so that it can be judged
    for_s: float = 0.0  # how long such a burn lasts at least


@dataclass(frozen=True, slots=True, kw_only=True)
class Judgement:
    """One burn by one criterion."""

    criterion: Criterion
    burn: str
    outcome: Outcome
    reason: str
    value: float | None = None  # degC where it is a temperature
    least: float | None = None
    limit: float | None = None
    unit: str | None = None
    warmest: InWarmestRoom | None = None
    source: str
    origin: str = ""  # whose limit it is
    regime: str = ""  # of the burn, where one was stated
    weaker: bool = False  # it rests on readings by hand

    @property
    def margin(self) -> float | None:
        """To the nearer end of what is allowed, in its unit; below zero beyond it."""
        if self.value is None:
            return None
        ends = [] if self.limit is None else [self.limit - self.value]
        ends += [] if self.least is None else [self.value - self.least]
        return min(ends, default=None)


def nearest_to_its_limit(judgements: Iterable[Judgement]) -> Judgement | None:
    """Of judgements by one criterion; those without a figure come last."""

    def margin(one: Judgement) -> float:
        return math.inf if one.margin is None else one.margin

    return min(judgements, key=margin, default=None)


# What a place must show to be believed. All ours, no source.
QUARTER_HOURS = 3  # of the clock between two sides of a wall
WARMED_K = 5.0  # by a flame within a burn; 20 to 40 K are usual
FEW_MINUTES_S = 900.0  # a burn in which even a well fastened place may warm by less
COOLED_ALONE_K = 5.0  # while lit, more than another side: it drifts, or comes off the wall
LATE_START_S = 60.0  # after lighting: bare glass warms by some 4 K a minute (common practice)
COLDER_THAN_ROOM_K = 1.0  # counting both uncertainties, before a start is too cold to be true
OFF_BY_LIMITS = 2.0  # a correction over twice the limit of error: one of the two is wrong


def guard_band(*, lower: float, upper: float, limit: float) -> Outcome:
    """Whether something stays at or under `limit`.

    `lower` and `upper` are the highest of estimate minus and plus expanded uncertainty (k = 2);
    they need not be of one moment. A true value over the limit then passes, and one under it fails,
    with a probability under 2.5 % each (ILAC-G8:09/2019, 4.2.2, guard band w = U; as quoted by test
    houses).
    """
    if lower > limit:
        return Outcome.FAIL
    return Outcome.PASS if upper <= limit else Outcome.UNDECIDED
