"""What it costs that things went otherwise than planned: verdicts that come later, or earlier."""

from collections.abc import Iterator, Sequence
from dataclasses import dataclass

from logger.planning.bench_plan import BenchPlan, PlannedBurn

LEAST_SHIFT_S = 6 * 3600.0  # of a verdict: less is the same day (our choice)
ON_TIME_S = 900.0  # a lighting within this of its planned time is no slip (our choice)


@dataclass(frozen=True, slots=True, kw_only=True)
class VerdictShift:
    """The earliest verdict on a trial as it was planned, and as it is now; None: no time known."""

    trial: str
    planned_s: float | None
    now_s: float | None

    @property
    def later_s(self) -> float | None:
        """How much later; below zero where earlier."""
        if self.planned_s is None or self.now_s is None:
            return None
        return self.now_s - self.planned_s


def verdict_shifts(planned: BenchPlan, now: BenchPlan) -> Iterator[VerdictShift]:
    """Of each trial whose verdict moved, by name; one that is decided needs none any more."""
    open_now = {burn.trial for burn in now.burns} | {one.trial for one in now.unplaced}
    for trial in sorted(open_now & (planned.verdict_s.keys() | now.verdict_s.keys())):
        shift = VerdictShift(
            trial=trial,
            planned_s=planned.verdict_s.get(trial),
            now_s=now.verdict_s.get(trial),
        )
        if shift.later_s is None or abs(shift.later_s) >= LEAST_SHIFT_S:
            yield shift


@dataclass(frozen=True, slots=True, kw_only=True)
class Slip:
    """A planned burn that went otherwise; None where it did not happen at all."""

    planned: PlannedBurn
    lit_s: float | None = None
    out_s: float | None = None

    @property
    def late_s(self) -> float | None:
        """How much later it was lit than planned."""
        return None if self.lit_s is None else self.lit_s - self.planned.lit_s

    @property
    def short_s(self) -> float:
        """How much shorter it burned than planned."""
        if self.lit_s is None or self.out_s is None:
            return 0.0
        length_s = self.planned.out_s - self.planned.lit_s
        return length_s - (self.out_s - self.lit_s)


@dataclass(frozen=True, slots=True, kw_only=True)
class Happened:
    """A burn that was lit, as the plan sees it."""

    trial: str
    tester: str
    lit_s: float
    out_s: float | None  # None: it still burns, or its length is no matter


def slips(planned: BenchPlan, happened: Sequence[Happened], now_s: float) -> Iterator[Slip]:
    """Planned burns that should have begun by `now_s` and slipped, in order."""
    left = sorted(happened, key=lambda one: one.lit_s)
    for burn in planned.burns:
        if burn.running or burn.lit_s + ON_TIME_S > now_s:
            continue
        same = (one for one in left if (one.trial, one.tester) == (burn.trial, burn.tester))
        real = next(same, None)
        if real is None:
            yield Slip(planned=burn)
            continue
        left.remove(real)
        slip = Slip(planned=burn, lit_s=real.lit_s, out_s=real.out_s)
        if (slip.late_s or 0.0) > ON_TIME_S or slip.short_s > ON_TIME_S:
            yield slip


@dataclass(frozen=True, slots=True, kw_only=True)
class MissedMark:
    """A mark at which nobody looked."""

    trial: str
    tester: str
    station: str
    mark_s: float  # of being lit
