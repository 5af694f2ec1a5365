"""When to light which tester on which station, so that one person can carry it out.

A burn lies within the maker's hours from lighting to out. Lightings, marks and outs each take the
maker a while, and no two of them overlap. Burns are placed forward in time, each at the first
moment at which everything fits; of a few orders of preference the one with the earliest verdicts
is kept. No dice: the same input gives the same plan.
"""

import math
from bisect import bisect_left, insort
from collections.abc import Callable, Iterable, Iterator, Mapping, Sequence
from dataclasses import dataclass, field, replace

MOST_FIRST = 6  # trials that are tried ahead of all others, those with least left (our choice)
STEP_S = 300.0  # lightings are planned on whole five minutes, as people read a clock (our choice)


@dataclass(frozen=True, slots=True, kw_only=True)
class Hours:
    """A stretch of time in which the maker is at the bench."""

    from_s: float
    to_s: float


@dataclass(frozen=True, slots=True, kw_only=True)
class Maker:
    """One person: when at the bench, how long one thing takes, how many candles are in sight."""

    hours: Sequence[Hours]  # in order, none overlapping another
    moment_s: float  # that a lighting, a mark or an out takes
    in_sight: int  # lit candles that one person can keep in sight


@dataclass(frozen=True, slots=True, kw_only=True)
class CandleDemand:
    """A tester of an open trial, and the burns that it still needs, in their order."""

    trial: str
    tester: str
    lengths_s: tuple[float, ...]
    marks_s: tuple[float, ...]  # of being lit
    pause_s: float  # the cool-down after each burn
    number: int = 1  # of its first burn among all of its candle
    ready_s: float = -math.inf  # cured, and cold since its latest burn
    station: str = ""  # where it burned last: its probes are fixed there
    why: str = ""  # what the burns are for

    @property
    def chain_s(self) -> float:
        """From its first lighting to the end of its last cool-down, without nights."""
        return sum(self.lengths_s) + self.pause_s * len(self.lengths_s)


@dataclass(frozen=True, slots=True, kw_only=True)
class PlannedBurn:
    """A burn that is to come, or the rest of one that is lit."""

    trial: str
    tester: str
    station: str
    lit_s: float
    out_s: float
    marks_s: tuple[float, ...]  # moments, between lighting and out
    pause_s: float
    number: int = 1  # among all burns of its candle
    running: bool = False
    why: str = ""

    @property
    def moments_s(self) -> tuple[float, ...]:
        """When it needs a person, in order."""
        return (*(() if self.running else (self.lit_s,)), *self.marks_s, self.out_s)

    @property
    def cold_s(self) -> float:
        """When it may be weighed and moved: a hot vessel stays where it is."""
        return self.out_s + self.pause_s


@dataclass(frozen=True, slots=True, kw_only=True)
class BenchPlan:
    """Burns in order of lighting, and what found no place within the hours that are known."""

    burns: tuple[PlannedBurn, ...]
    unplaced: tuple[CandleDemand, ...] = ()
    verdict_s: Mapping[str, float] = field(default_factory=dict)  # by trial, of those all placed

    @property
    def score(self) -> tuple[int, float, float]:
        """Less is better: what is left out, then the sum of the verdicts' times, then the end."""
        ends = [burn.cold_s for burn in self.burns]
        left = sum(len(one.lengths_s) for one in self.unplaced)
        return left, sum(self.verdict_s.values()), max(ends, default=0.0)


def planned_burn(demand: CandleDemand, station: str, lit_s: float, moment_s: float) -> PlannedBurn:
    """The next burn of `demand`, lit at `lit_s`.

    A mark nearer to another moment of the burn than `moment_s` is looked at with that.
    """
    out_s = lit_s + demand.lengths_s[0]
    marks_s, before_s = [], lit_s
    for mark_s in (lit_s + one for one in demand.marks_s):
        if before_s + moment_s <= mark_s <= out_s - moment_s:
            marks_s.append(mark_s)
            before_s = mark_s
    return PlannedBurn(
        trial=demand.trial,
        tester=demand.tester,
        station=station,
        lit_s=lit_s,
        out_s=out_s,
        marks_s=tuple(marks_s),
        pause_s=demand.pause_s,
        number=demand.number,
        why=demand.why,
    )


@dataclass(frozen=True, slots=True, kw_only=True)
class BenchNow:
    """What a plan starts from."""

    at_s: float
    stations: Mapping[str, float]  # from when each may take a candle
    running: Sequence[PlannedBurn] = ()  # lit: they keep their times

    @property
    def free(self) -> dict[str, float]:
        """From when each station may take a candle; one that is lit, once that is cold."""
        return {**self.stations, **{burn.station: burn.cold_s for burn in self.running}}


def bench_plan(demands: Iterable[CandleDemand], bench: BenchNow, maker: Maker) -> BenchPlan:
    """The best plan that was found for all of `demands`."""
    wanted = sorted(
        (one for one in demands if one.lengths_s), key=lambda one: (one.trial, one.tester)
    )
    plans = [_placed(wanted, bench, maker, order) for order in _orders(wanted)]
    return min(plans, key=lambda plan: plan.score)  # of equals the first


_Order = Callable[[CandleDemand], tuple[float | str, ...]]


def _orders(wanted: Sequence[CandleDemand]) -> Iterator[_Order]:
    """The orders of preference that are tried: the longest chain of burns first, as usual in
    scheduling; the trial with least left first; and each trial ahead of the others.
    """
    left_s: dict[str, float] = {}
    for one in wanted:
        left_s[one.trial] = left_s.get(one.trial, 0.0) + one.chain_s
    yield lambda one: (-one.chain_s,)
    yield lambda one: (left_s[one.trial], one.trial, -one.chain_s)
    for first in sorted(left_s, key=lambda trial: left_s[trial])[:MOST_FIRST]:
        yield lambda one, first=first: (  # type: ignore[misc]  # a default binds it
            float(one.trial != first),
            -one.chain_s,
        )


def _placed(
    wanted: Sequence[CandleDemand], bench: BenchNow, maker: Maker, order: _Order
) -> BenchPlan:
    free, left, placed = bench.free, sorted(wanted, key=order), [*bench.running]
    moments = sorted(at_s for burn in placed for at_s in burn.moments_s)
    for hours in maker.hours:
        at_s = math.ceil(max(hours.from_s, bench.at_s) / STEP_S) * STEP_S
        while left and at_s + _shortest_s(left) + maker.moment_s <= hours.to_s:
            lit = sum(burn.lit_s <= at_s < burn.out_s for burn in placed)
            ready = [one for one in left if one.ready_s <= at_s] if lit < maker.in_sight else ()
            for one in ready:
                station = _station(one, free, at_s)
                if station is None or lit >= maker.in_sight:
                    break
                burn = planned_burn(one, station, at_s, maker.moment_s)
                if burn.out_s + maker.moment_s > hours.to_s:
                    continue
                if any(_taken(moments, moment, maker.moment_s) for moment in burn.moments_s):
                    continue
                placed.append(burn)
                lit += 1
                for moment in burn.moments_s:
                    insort(moments, moment)
                free[station] = burn.cold_s
                left.remove(one)
                left += _rest(one, burn)
                left.sort(key=order)
            at_s += STEP_S
    open_trials = {one.trial for one in left}
    verdict_s: dict[str, float] = {}
    for burn in placed:
        if burn.trial not in open_trials:
            verdict_s[burn.trial] = max(verdict_s.get(burn.trial, 0.0), burn.cold_s)
    burns = sorted(placed, key=lambda burn: (burn.lit_s, burn.station))
    return BenchPlan(burns=tuple(burns), unplaced=tuple(left), verdict_s=verdict_s)


def _shortest_s(left: Sequence[CandleDemand]) -> float:
    return min(one.lengths_s[0] for one in left)


def _rest(one: CandleDemand, burn: PlannedBurn) -> Iterator[CandleDemand]:
    """What its candle still needs after `burn`."""
    if rest := one.lengths_s[1:]:
        yield replace(
            one,
            lengths_s=rest,
            number=one.number + 1,
            ready_s=burn.cold_s,
            station=burn.station,
        )


def _station(one: CandleDemand, free: Mapping[str, float], at_s: float) -> str | None:
    """Where it may burn: where it burned last, if that is free, else the first by name."""
    if one.station in free and free[one.station] <= at_s:
        return one.station
    return min((name for name, from_s in free.items() if from_s <= at_s), default=None)


def _taken(moments: Sequence[float], at_s: float, moment_s: float) -> bool:
    """Whether something else needs the maker within `moment_s` of `at_s`, before or after."""
    after = bisect_left(moments, at_s)
    near = moments[max(after - 1, 0) : after + 1]
    return any(abs(one - at_s) < moment_s for one in near)
