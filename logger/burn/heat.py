"""The heat of a burn in figures: warm-up, time over a line, the warmest room, the last quarter."""

import math
from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from statistics import NormalDist

from logger.burn.straight_line import straight_line
from logger.conditioning.student import student_t
from logger.quantities import Estimate, Quality

WARMEST_ROOM_C = 27.0  # upper end of the room that EN 15426 burns candles in (from memory)
SETTLED = 0.9  # of the slow term: a warm-up seen so far is known well enough to learn from (choice)
LONGEST_GAP_S = (
    60.0  # between two estimates for the time between them to count as measured (choice)
)


@dataclass(frozen=True, slots=True, kw_only=True)
class WarmUp:
    """A place's warm-up: `start + fast (1 - exp(-t / fast_s)) + slow (1 - exp(-t / slow_s))`.

    It rises above the room where one is measured, else above the place's own first value. What
    goes on climbing above a room counts as far as four hours bring it.
    """

    channel: str
    fast_s: float
    slow_s: float
    start_k: float
    fast_k: float
    slow_k: float
    rise_k: float  # at the plateau
    rise_sd_k: float  # standard uncertainty of it
    above_room: bool
    base_c: float  # the room as the glass feels it now, or the first value
    noise_k: float  # standard deviation about the fit that is not the reading's own: draughts
    seen_s: float  # time since lighting of the latest value
    values: int

    @property
    def plateau_c(self) -> float:
        """Where the place would stay for good, in the room of now."""
        return self.base_c + self.rise_k

    @property
    def reached(self) -> float:
        """Share of the slow term that has come by the latest value."""
        return -math.expm1(-self.seen_s / self.slow_s)

    @property
    def settled(self) -> bool:
        """Whether the plateau is seen rather than predicted."""
        return self.reached >= SETTLED


class TimeOver:
    """How long a place was over each of some lines; what was not measured is not counted."""

    def __init__(self, lines_c: Sequence[float]) -> None:
        self.over_s: dict[float, float] = dict.fromkeys(lines_c, 0.0)
        self._last: tuple[float, float] | None = None

    def add(self, at_s: float, value_c: float) -> None:
        """Take one more good value, in order of time; straight between two of them."""
        last, self._last = self._last, (at_s, value_c)
        if last is None or not 0.0 < at_s - last[0] <= LONGEST_GAP_S:
            return
        low_c, high_c = sorted((last[1], value_c))
        for line_c in self.over_s:
            if high_c <= line_c:
                continue
            share = 1.0 if low_c >= line_c else (high_c - line_c) / (high_c - low_c)
            self.over_s[line_c] += share * (at_s - last[0])


@dataclass(frozen=True, slots=True, kw_only=True)
class InWarmestRoom:
    """A measured peak and the bound that it implies for a room of `room_limit_c`."""

    bound_c: float  # value and expanded uncertainty (k = 2), in the warmest room
    room_limit_c: float
    peak_c: float  # as measured, and the room then; each with its standard uncertainty
    peak_u_k: float
    room_c: float
    room_u_k: float

    def stays_under(self, limit_c: float) -> bool:
        """Whether not even the bound passes `limit_c`."""
        return self.bound_c <= limit_c


def in_warmest_room(
    peak_c: float,
    standard_uncertainty_k: float,
    room_c: float,
    room_uncertainty_k: float,
    room_limit_c: float = WARMEST_ROOM_C,
) -> InWarmestRoom:
    """A bound on what a place that peaked at `peak_c` in a room of `room_c` reaches in another.

    The same flame heats the same vessel; a warmer wall loses heat at least as well for each
    kelvin above the room (free convection with the rise to the power 5/4, radiation with T^4), so
    it goes up by the room's difference at most. A room warmer than `room_limit_c` adds nothing
    and takes nothing away: a measured figure is never lowered.
    """
    return InWarmestRoom(
        bound_c=_bound_c(
            peak_c, standard_uncertainty_k, room_c, room_uncertainty_k, room_limit_c=room_limit_c
        ),
        room_limit_c=room_limit_c,
        peak_c=peak_c,
        peak_u_k=standard_uncertainty_k,
        room_c=room_c,
        room_u_k=room_uncertainty_k,
    )


def _bound_c(
    peak_c: float,
    standard_uncertainty_k: float,
    room_c: float,
    room_uncertainty_k: float,
    *,
    room_limit_c: float = WARMEST_ROOM_C,
) -> float:
    if room_c < room_limit_c:
        uncertainty_k = math.hypot(standard_uncertainty_k, room_uncertainty_k)
        return peak_c + (room_limit_c - room_c) + 2.0 * uncertainty_k
    return peak_c + 2.0 * standard_uncertainty_k


class Rooms:
    """The room over a burn: how cold it was in the hour before any moment.

    Not at that moment: the wall is late, and a room that has just warmed is not in it yet.
    """

    def __init__(self, estimates: Iterable[Estimate]) -> None:
        self._lowest: dict[int, tuple[float, float]] = {}  # of each minute: value, uncertainty
        for one in estimates:
            if one.value is not None and one.quality is Quality.GOOD:
                minute = int(one.at_s // 60.0)
                seen = (one.value, one.standard_uncertainty or 0.0)
                self._lowest[minute] = min(self._lowest.get(minute, seen), seen)
        self._known: dict[int, tuple[float, float] | None] = {}

    def before(self, at_s: float) -> tuple[float, float] | None:
        """The lowest of the hour up to `at_s`, and its standard uncertainty.

        Of all the burn where that hour was not measured; None where none of it was.
        """
        minute = int(at_s // 60.0)
        if minute not in self._known:
            hour = range(minute - 60, minute + 1)
            lowest = min([seen for each in hour if (seen := self._lowest.get(each))], default=None)
            self._known[minute] = lowest or min(self._lowest.values(), default=None)
        return self._known[minute]

    def warmest(self, estimates: Iterable[Estimate]) -> InWarmestRoom | None:
        """The greatest bound that any of these good estimates implies for the warmest room.

        Not that of the highest alone: one that was less high in a colder room may mean more.
        """
        implied = (
            (one.value, one.standard_uncertainty or 0.0, *room)
            for one in estimates
            if one.quality is Quality.GOOD and one.value is not None
            if (room := self.before(one.at_s)) is not None
        )
        most = max(implied, key=lambda figures: _bound_c(*figures), default=None)
        return None if most is None else in_warmest_room(*most)


@dataclass(frozen=True, slots=True, kw_only=True)
class BurnPeak:
    """The peak of one burn and how far the candle was used up, half-way through it."""

    used: float  # share of its wax, 0..1
    peak_c: float
    standard_uncertainty_c: float


@dataclass(frozen=True, slots=True, kw_only=True)
class LastQuarter:
    """The peak to expect of the burns that use up the last quarter of the wax."""

    peak_c: float
    low_c: float
    high_c: float
    level: float
    burns: int


FEWEST_BURNS = 3  # a line through two has no residual to judge it by
LEAST_SPREAD = 0.2  # of the wax, between these burns: less is no way to the end of it (choice)
WIDEST_K = 25.0  # an interval wider than that is a guess; the late rise alone makes 13 (choice)
LATE_FROM = 0.6  # share of the wax gone from which a candle heats faster than before
LATE_RISE_K, LATE_RISE_SD_K = 6.0, 4.0
"""Over the line at the end of the wax: little is left to melt (common practice), and so much on the
simulated candle, where it scattered by 2 K over five to fourteen burns to the end. No figure was
published, and one simulator is one opinion: twice as unsure, until real candles are measured."""


def last_quarter(peaks: Sequence[BurnPeak], level: float = 0.9) -> LastQuarter | None:
    """A straight line through the peaks so far, and the late rise, at the end of the wax.

    The line never falls: a candle heats more as it burns down (common practice), and what seems to
    fall is a cooler evening. The interval is that of one more burn (prediction interval of simple
    linear regression, any textbook), with what of the late rise the burns have not shown yet, and
    the largest uncertainty of a measured peak: what is off for all burns alike shows in no scatter.
    None with fewer than `FEWEST_BURNS` burns or `LEAST_SPREAD` between them, and while the interval
    is wider than `WIDEST_K`: too early, rather than a guess.
    """
    count = len(peaks)
    if count < FEWEST_BURNS:
        return None
    if max(peak.used for peak in peaks) - min(peak.used for peak in peaks) < LEAST_SPREAD:
        return None
    line = straight_line(
        (peak.used, peak.peak_c - LATE_RISE_K * _late(peak.used)) for peak in peaks
    )
    if line is None:
        return None
    slope = max(line.slope, 0.0)
    residual = line.residual + (line.slope - slope) ** 2 * line.squares  # about the line that rises
    off = 1.0 - line.mean_x
    sd = math.sqrt(residual / (count - 2) * (1.0 + 1.0 / count + off**2 / line.squares))
    shown = math.fsum(
        (1.0 / count + off * (peak.used - line.mean_x) / line.squares) * _late(peak.used)
        for peak in peaks
    )
    reach = math.hypot(
        student_t(0.5 * (1.0 + level), count - 2) * sd,
        NormalDist().inv_cdf(0.5 * (1.0 + level))
        * math.hypot(
            max(peak.standard_uncertainty_c for peak in peaks), LATE_RISE_SD_K * (1.0 - shown)
        ),
    )
    if 2.0 * reach > WIDEST_K:
        return None
    peak_c = line.mean_y + slope * off + LATE_RISE_K
    return LastQuarter(
        peak_c=peak_c, low_c=peak_c - reach, high_c=peak_c + reach, level=level, burns=count
    )


def _late(used: float) -> float:
    """How far the late rise has come, 0 to 1."""
    return max(used - LATE_FROM, 0.0) / (1.0 - LATE_FROM)
