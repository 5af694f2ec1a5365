"""Where each place of a vessel is going: its warm-up fitted, and its end predicted.

What is fitted is the rise above the room, as the glass feels it; the room's own course is predicted
by itself and added back. Without a room channel the wall is fitted alone.
"""

import math
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass, field

from logger.burn.course import Course
from logger.burn.expected import (
    ANY_ABOVE_ROOM,
    ANY_ALONE,
    CLIMB_S,
    FULL_BURN_S,
    ROOM,
    Expected,
    after,
    wall_shape,
)
from logger.burn.heat import WarmUp
from logger.burn.hypotheses import Posterior, weigh
from logger.burn.mixture import Mixture, Normal
from logger.quantities import Estimate, Quality

LEVEL = 0.9

SPACING_S = 30.0  # values closer than this are left out: the estimate behind them is a 30 s one
FRESH_S = 300.0  # nothing is predicted from an older value
LEAST_SEEN_S = 1200.0  # too early before: two time constants cannot be told apart (choice)
WIDEST_K = 12.0  # too early while the interval is wider, +-6 K: twice the alert's lead on the limit
STEP_S = 300.0  # a crossing is sought in steps of this
LEAST_UNCERTAINTY_K = 0.05

GLASS_S = 300.0  # time constant with which the wall follows the room: 3 mm of glass hold 6 kJ/m2K
# (property tables), and lose some 20 W/m2K inside and outside (textbook film coefficients)


@dataclass(frozen=True, slots=True, kw_only=True)
class Forecast:
    """What a channel will be at `target_s`; temperatures in degC, times Unix seconds."""

    channel: str
    at_s: float  # when it was made
    target_s: float
    value_c: float  # as likely more as less
    low_c: float
    high_c: float
    level: float  # probability of the interval
    limit_c: float
    over: float  # probability of more than the limit at `target_s`
    crosses_s: float | None  # when the limit is passed if nothing changes; None: not by the end
    early: bool  # too early to say: the figures are no more than a guess


class _Room:
    """The room's course, and the room as the glass feels it: late."""

    def __init__(self, first_c: float, at_s: float) -> None:
        self.course = Course(ROOM)
        self.first_c = first_c
        self.felt_c = first_c
        self.at_s = at_s
        self.uncertainty = LEAST_UNCERTAINTY_K
        self.posterior: Posterior | None = None  # of the values so far: every place asks for it

    def see(self, t_s: float, estimate: Estimate, value_c: float) -> None:
        share = -math.expm1(-(estimate.at_s - self.at_s) / GLASS_S)
        self.felt_c += share * (value_c - self.felt_c)
        self.at_s = estimate.at_s
        self.uncertainty = max(estimate.repeatability or 0.0, LEAST_UNCERTAINTY_K)
        if self.course.last_s is None or t_s - self.course.last_s >= SPACING_S:
            self.course.add(t_s, value_c - self.first_c, self.uncertainty)
            self.posterior = None

    def weighed(self) -> Posterior:
        if self.posterior is None:
            self.posterior = weigh(self.course)
        return self.posterior


@dataclass(frozen=True, slots=True)
class _Value:
    """An estimate of a wall."""

    at_s: float
    value_c: float
    uncertainty: float


@dataclass(slots=True)
class _Wall:
    """One place: its course above `base_c`, or above the room where that is None."""

    course: Course
    base_c: float | None
    systematic_k: float = 0.0
    values: list[_Value] = field(default_factory=list)  # until a room is known


class BurnForecast:
    """Follows the published estimates of one burn and says where they will end.

    `expected` is what its candle's earlier burns say of each place, by channel.
    """

    def __init__(self, lit_s: float, expected: Mapping[str, Expected] | None = None) -> None:
        self.lit_s = lit_s
        self._expected = expected or {}
        self._room: _Room | None = None
        self._walls: dict[str, _Wall] = {}

    @property
    def channels(self) -> tuple[str, ...]:
        """Every place that was seen, in the order of first sight."""
        return tuple(self._walls)

    def see_room(self, estimate: Estimate) -> None:
        """Take an estimate of the room, in order of time; the first may come after walls."""
        t_s, value_c = estimate.at_s - self.lit_s, estimate.value
        if value_c is None or estimate.quality is not Quality.GOOD or t_s < 0.0:
            return
        if self._room is None:
            self._room = _Room(value_c, estimate.at_s)
            for name, wall in self._walls.items():  # again, above a room that was always so
                self._walls[name] = self._begun(name, wall.values[0])
                self._walls[name].systematic_k = wall.systematic_k
                for value in wall.values:
                    self._add(self._walls[name], value)
        self._room.see(t_s, estimate, value_c)

    def see_wall(self, estimate: Estimate) -> None:
        """Take an estimate of a place on the vessel, in order of time."""
        t_s, value_c = estimate.at_s - self.lit_s, estimate.value
        if value_c is None or estimate.quality is not Quality.GOOD or t_s < 0.0:
            return
        random = estimate.repeatability or 0.0
        value = _Value(estimate.at_s, value_c, max(random, LEAST_UNCERTAINTY_K))
        wall = self._walls.get(estimate.channel)
        if wall is None:
            wall = self._walls[estimate.channel] = self._begun(estimate.channel, value)
        last_s = wall.course.last_s
        if last_s is not None and t_s - last_s < SPACING_S:
            return
        whole = estimate.standard_uncertainty or 0.0
        wall.systematic_k = math.sqrt(max(whole**2 - random**2, 0.0))
        self._add(wall, value)

    def _begun(self, channel: str, first: _Value) -> _Wall:
        above_room = self._room is not None
        # A candle is about as warm as its room when lit, or as its first value. Where that came
        # late the start is nothing to go by.
        start_sd_k = 2.0 if above_room or first.at_s - self.lit_s < 2.0 * SPACING_S else 20.0
        expected = self._expected.get(channel)
        if expected is None or expected.above_room is not above_room:
            expected = ANY_ABOVE_ROOM if above_room else ANY_ALONE
        course = Course(wall_shape(expected, start_sd_k=start_sd_k))
        return _Wall(course, None if above_room else first.value_c)

    def _add(self, wall: _Wall, value: _Value) -> None:
        base_c, uncertainty = wall.base_c, value.uncertainty
        if self._room is None:
            wall.values.append(value)
        if base_c is None:
            base_c = self._felt_c()
            uncertainty = math.hypot(uncertainty, self._room.uncertainty if self._room else 0.0)
        wall.course.add(value.at_s - self.lit_s, value.value_c - base_c, uncertainty)

    def forecast(
        self, channel: str, now_s: float, target_s: float, limit_c: float
    ) -> Forecast | None:
        """`channel` at `target_s`; None where there is nothing recent to go by, or time is up."""
        wall = self._walls.get(channel)
        if wall is None or wall.course.last_s is None or target_s <= now_s:
            return None
        if now_s - self.lit_s - wall.course.last_s > FRESH_S:
            return None
        posterior = weigh(wall.course)
        end_s = target_s - self.lit_s
        base = self._base(wall, [end_s])
        base_sd = 0.0
        if wall.base_c is None and self._room is not None:
            at_end = self._room.weighed().at(end_s)
            base, base_sd = [self._room.first_c + at_end.mean], at_end.sd
        spread = math.hypot(base_sd, wall.systematic_k)
        end = posterior.at(end_s).plus(Normal(mean=base[0], sd=spread))
        tail = 0.5 * (1.0 - LEVEL)
        low_c, value_c, high_c = end.quantiles((tail, 0.5, 1.0 - tail))
        seen_s = wall.course.last_s - (wall.course.first_s or 0.0)
        return Forecast(
            channel=channel,
            at_s=now_s,
            target_s=target_s,
            value_c=value_c,
            low_c=low_c,
            high_c=high_c,
            level=LEVEL,
            limit_c=limit_c,
            over=end.share_above(limit_c),
            crosses_s=self._crossing(wall, posterior, (now_s, target_s), limit_c),
            early=seen_s < LEAST_SEEN_S or high_c - low_c > WIDEST_K,
        )

    def _base(self, wall: _Wall, t_s: Sequence[float]) -> list[float]:
        """What the course of `wall` stands on: its own first value, or the room to come."""
        if wall.base_c is not None:
            return [wall.base_c] * len(t_s)
        assert self._room is not None
        return [self._room.first_c + value for value in self._room.weighed().expected(t_s)]

    def _crossing(
        self, wall: _Wall, posterior: Posterior, span_s: tuple[float, float], limit_c: float
    ) -> float | None:
        now_s, target_s = span_s
        steps = math.ceil((target_s - now_s) / STEP_S)
        t_s = [now_s - self.lit_s + step * STEP_S for step in range(steps)]
        t_s.append(target_s - self.lit_s)
        course = [
            rise + base
            for rise, base in zip(posterior.expected(t_s), self._base(wall, t_s), strict=True)
        ]
        for i, value_c in enumerate(course):
            if value_c > limit_c:
                if i == 0:
                    return now_s
                before_c = course[i - 1]
                share = (limit_c - before_c) / (value_c - before_c)
                return self.lit_s + t_s[i - 1] + share * (t_s[i] - t_s[i - 1])
        return None

    def fit(self, channel: str) -> WarmUp | None:
        """The warm-up of `channel` as it is known so far; None before its first value."""
        wall = self._walls.get(channel)
        if wall is None or wall.course.last_s is None:
            return None
        import numpy as np

        course, posterior = wall.course, weigh(wall.course)
        weights, columns = posterior.weights, posterior.columns
        start_k, fast_k, slow_k = (weights @ posterior.amplitudes[:, :3]).tolist()
        fast_s, slow_s = np.exp(weights @ np.log(course.taus_s[columns[:, 1:3] - 1])).tolist()
        parts = np.ones(posterior.amplitudes.shape[1])  # start, fast, slow, and of the climb ...
        above_room = wall.base_c is None
        parts[3] = -math.expm1(-FULL_BURN_S / CLIMB_S[0]) if above_room else 0.0  # ... so much
        rise = Mixture(
            weights=weights,
            means=posterior.amplitudes @ parts,
            sds=np.sqrt(parts @ posterior.covariance @ parts),
        )
        return WarmUp(
            channel=channel,
            fast_s=fast_s,
            slow_s=slow_s,
            start_k=start_k,
            fast_k=fast_k,
            slow_k=slow_k,
            rise_k=rise.mean,
            rise_sd_k=math.hypot(rise.sd, wall.systematic_k),
            above_room=above_room,
            base_c=wall.base_c if wall.base_c is not None else self._felt_c(),
            noise_k=course.shape.disturbances[0].sd_k * math.sqrt(posterior.noise),
            seen_s=wall.course.last_s,
            values=course.count,
        )

    def learned(self) -> dict[str, Expected]:
        """What the candle's next burn is expected to be like, by channel."""
        return {
            name: after(weigh(wall.course), above_room=wall.base_c is None)
            for name, wall in self._walls.items()
        }

    def _felt_c(self) -> float:
        assert self._room is not None
        return self._room.felt_c


RECENT_S = 3600.0


class Recent:
    """The last hour of a bench's estimates, for a burn that is recorded after it was lit."""

    def __init__(self) -> None:
        self._estimates: dict[str, list[Estimate]] = {}

    def see(self, estimate: Estimate) -> None:
        """Take a published estimate of any channel, in order of time."""
        kept = self._estimates.setdefault(estimate.channel, [])
        if estimate.quality is not Quality.GOOD:
            return
        if kept and estimate.at_s - kept[-1].at_s < SPACING_S:
            return
        kept.append(estimate)
        while kept[0].at_s < estimate.at_s - RECENT_S:
            kept.pop(0)

    def since(self, at_s: float) -> Iterable[Estimate]:
        """Those at or after `at_s`, of all channels, in order of time."""
        late = [e for kept in self._estimates.values() for e in kept if e.at_s >= at_s]
        return sorted(late, key=lambda estimate: estimate.at_s)
