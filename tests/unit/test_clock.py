import asyncio
import time

from logger.clock import RealClock, SteppedClock, year_is_plausible
from tests.support.waiting import within

START_S = 1_935_651_605.0


class Hands:
    """The system's two clocks, set by hand."""

    def __init__(self) -> None:
        self.wall = 1_935_651_605_123_456_789
        self.steady = 77_000_000_001

    def clock(self) -> RealClock:
        return RealClock(wall_ns=lambda: self.wall, steady_ns=lambda: self.steady)


def test_real_clock_counts_whole_microseconds_from_utc_at_its_start():
    hands = Hands()
    clock = hands.clock()
    assert clock.now_s() == 1_935_651_605.123457
    hands.steady += 1_500_000_000
    assert clock.now_s() == 1_935_651_606.623457


def test_a_step_of_the_wall_clock_moves_no_bench_time_but_is_told():
    hands = Hands()
    clock = hands.clock()
    hands.steady += 10_000_000_000
    hands.wall += 10_000_000_000 - 3_600_000_000_000
    assert clock.now_s() == 1_935_651_615.123457
    assert clock.wall_step_s() == -3600.0


async def test_real_clock_sleeps_until_its_time():
    clock = RealClock()
    at_s = clock.now_s() + 0.02
    began = time.monotonic()
    await clock.sleep_until(at_s)
    assert clock.now_s() >= at_s
    assert abs(clock.now_s() - time.time()) < 1.0
    assert abs(clock.wall_step_s()) < 0.5
    async with within(1.0):
        await clock.sleep_until(began - 5.0)  # long past


def test_a_board_that_boots_in_the_past_is_noticed():
    assert not year_is_plausible(0.0)
    assert not year_is_plausible(1_700_000_000.0)  # 2023: the date of a system image
    assert year_is_plausible(START_S)


async def test_stepped_clock_wakes_sleepers_in_order_and_at_their_time():
    clock = SteppedClock(START_S)
    woken: list[tuple[str, float]] = []

    async def sleep(name: str, at_s: float) -> None:
        await clock.sleep_until(at_s)
        woken.append((name, clock.now_s() - START_S))

    async with asyncio.TaskGroup() as group:
        for name, after_s in (("late", 7.0), ("first", 2.0), ("second", 2.0), ("past", -1.0)):
            group.create_task(sleep(name, START_S + after_s))
        await clock.advance(0.0)
        assert woken == [("past", 0.0)]
        await clock.advance(5.0)
        assert woken == [("past", 0.0), ("first", 2.0), ("second", 2.0)]
        await clock.advance(5.0)
    assert woken[-1] == ("late", 7.0)
    assert clock.now_s() == START_S + 10.0


async def test_one_long_step_is_as_many_short_ones_to_a_ticking_task():
    clock = SteppedClock(START_S)
    ticks: list[float] = []

    async def tick() -> None:
        while True:
            await clock.sleep_until(clock.now_s() + 1.0)
            ticks.append(clock.now_s() - START_S)

    task = asyncio.create_task(tick())
    await clock.advance(0.0)
    await clock.advance(5.5)
    task.cancel()
    await asyncio.gather(task, return_exceptions=True)
    assert ticks == [1.0, 2.0, 3.0, 4.0, 5.0]
    await clock.advance(3.0)  # passes the cancelled sleeper by
    assert clock.now_s() == START_S + 8.5


def test_a_clock_that_starts_in_the_past_goes_on_from_what_was_known():
    hands = Hands()
    clock = hands.clock()
    clock.set_earliest(START_S - 100.0)
    assert clock.wall_step_s() == 0.0
    clock.set_earliest(START_S + 100.0)
    assert clock.now_s() == START_S + 100.0
    hands.steady += 1_000_000_000
    hands.wall += 1_000_000_000
    assert clock.now_s() == START_S + 101.0
    assert round(clock.wall_step_s(), 3) == -99.877
    stepped = SteppedClock(START_S)
    stepped.set_earliest(START_S + 2.0)
    assert stepped.now_s() == START_S + 2.0
