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
        "burn. Fail: a good estimate is itself over the limit, once is enough. Else undecided."
    ),
    source=(
        "The limit is the maker's own, from the bench's settings: no candle standard's figure for "
        "the outside of a vessel was seen, and the usual 57 to 60 °C (135 to 140 °F) on glass is "
        "common practice among makers. The decision rule follows the idea of JCGM 106:2012 and "
        "ISO 14253-1 (a guard band as wide as the expanded uncertainty), but fails sooner."
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

# How much may be missing of a place on the vessel before the burn cannot pass. Ours, no source:
# a 3 mm glass wall by itself follows with a time constant of some 445 s (k, cp and density of
# soda-lime glass, film coefficients of 6 W/m2K each for convection and radiation), so a peak that
# rises and falls within five minutes unseen would be mostly smoothed away.
LONGEST_GAP_S = 300.0
LEAST_SHARE = 0.95


def guard_band(*, value: float, upper: float, limit: float) -> Outcome:
    """Whether something stays at or under `limit`.

    `value` is the highest estimate, `upper` the highest of estimate plus expanded uncertainty
    (k = 2); the two need not be of the same moment. A true value over the limit then passes with a
    probability under 2.5 % (ILAC-G8:09/2019, 4.2.2, guard band w = U; as quoted by test houses).
    """
    if value > limit:
        return Outcome.FAIL
    return Outcome.PASS if upper <= limit else Outcome.UNDECIDED
