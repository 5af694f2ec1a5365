"""What a burn is judged by, each criterion with where it comes from."""

from dataclasses import dataclass
from enum import StrEnum


class Outcome(StrEnum):
    """Of a criterion, a burn or a trial."""

    PASS = "pass"  # noqa: S105 - a word of judgement, no password
    FAIL = "fail"
    UNDECIDED = "undecided"


@dataclass(frozen=True, slots=True, kw_only=True)
class Criterion:
    """One demand: what it asks, how it is decided, and whose demand it is."""

    name: str
    title: str
    rule: str
    source: str


WALL_LIMIT = Criterion(
    name="wall-limit",
    title="The hottest measured place stays under the maker's own limit",
    rule=(
        "Pass: value plus expanded uncertainty (k = 2) is at or under the limit over the whole "
        "burn, and nothing that decides is missing. Fail: value minus expanded uncertainty is over "
        "the limit for a minute (read by hand: once). Else undecided."
    ),
    source=(
        "The limit is the maker's own, from the bench's settings: no candle standard's figure for "
        "the outside of a vessel was seen, and the usual limits on glass are common practice among "
        "makers. The decision rule follows the idea of JCGM 106:2012 and "
        "ISO 14253-1: a guard band as wide as the expanded uncertainty, on either side. The minute "
        "is our choice: of thousands of estimates the highest is high by chance."
    ),
)

NO_EMERGENCY = Criterion(
    name="no-emergency",
    title="Nobody reported an emergency",
    rule=(
        "Fail: a person reported a flame too high or on the wall, a flash-over, a cracked vessel "
        "or another danger, whatever came later. Pass: the candle is out and none was reported."
    ),
    source=(
        "Common practice among makers: each of these ends the test. No sensor here sees a flame; "
        "it rests on who watched."
    ),
)

# What a place must show to be believed. All ours, no source.
QUARTER_HOURS = 3  # of the clock between two sides of a wall
WARMED_K = 5.0  # by a flame within a burn; 20 to 40 K are usual
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
