"""What a candle's burns teach its next: passed on by the bench, kept with the burn, replayed."""

import math

import pytest

from logger.burn.entries import Lit, Out
from logger.pipeline import Memory, Pipeline
from logger.quantities import Estimate
from logger.store.codec import dump, load
from tests.support.pipeline_bench import WALL, Live, bench

BURN_S = 900


def rising(t_s):
    return 22.0 + 45.0 * -math.expm1(-(t_s % 10_000.0) / 1200.0)


def lit(at_s, tester="A1", **more):
    return Lit(
        at_s=at_s,
        entered_s=at_s,
        id=f"lit-{at_s}",
        station="jar-a",
        trial="t",
        tester=tester,
        **more,
    )


def burned(live, tester="A1", *, burn_s=BURN_S, recorded_out_after_s=0.0, **more):
    """One burn, and the bench idle until 10 000 s after its lighting."""
    live.put(lit(live.now_s, tester, **more))
    live.run(burn_s, wall=rising, room=22.0)
    out_s = live.now_s
    live.wait(int(recorded_out_after_s))
    live.put(Out(at_s=out_s, entered_s=live.now_s, id=f"out-{out_s}", station="jar-a"))
    (burn,) = live.pipeline.burns
    live.now_s = live.seconds.after_s = burn.lit_s + 10_000.0
    return burn


@pytest.fixture(scope="module")
def evening():
    """Three burns of A1, B2, A1 again."""
    live = Live()
    return live, [burned(live, tester) for tester in ("A1", "B2", "a1 ")]


def test_a_candles_next_burn_starts_from_what_its_last_taught(evening):
    _, (first, other, second) = evening
    assert first.expected == other.expected == {}
    assert set(first.learned) == {WALL}
    assert second.expected == first.learned  # though another candle burned between
    assert first.learned[WALL].above_room


def test_a_burn_holds_what_it_started_from(evening):
    """Stored and read again, and burned alone in a new bench, it ends at the same figures."""
    _, (*_, second) = evening
    known = load(type(second), dump(second))
    assert known == second

    def alone(**more):
        again = burned(Live(Pipeline(bench(), second.lit_s), second.lit_s), "a1 ", **more)
        return sum(again.learned[WALL].amplitudes_k)

    rise_k = sum(second.learned[WALL].amplitudes_k)
    # the running estimate behind it starts without a past
    assert alone(expected=known.expected) == pytest.approx(rise_k, abs=0.3)
    assert alone() != pytest.approx(rise_k, abs=1.0)


def test_a_restart_knows_the_candles_and_the_burn(evening):
    live, (first, other, second) = evening
    restarted = Live(Pipeline(bench(), live.now_s, Memory(burns=(other,), candles=(first, other))))
    restarted.now_s = restarted.seconds.after_s = live.now_s
    restarted.put(lit(live.now_s))
    assert restarted.pipeline.burns[0].expected == first.learned
    estimates = tuple(e for e in live.of(Estimate) if second.lit_s <= e.at_s <= second.out_s)
    lit_again = Memory(
        burns=(
            load(type(second), dump(second).replace(f'"out_s":{second.out_s}', '"out_s":null')),
        ),
        estimates=estimates,
    )
    resumed = Live(Pipeline(bench(), second.out_s, lit_again), second.out_s)
    resumed.put(Out(at_s=second.out_s, entered_s=second.out_s, id="o", station="jar-a"))
    found = resumed.pipeline.burns[0].learned[WALL]
    assert found.amplitudes_k == pytest.approx(second.learned[WALL].amplitudes_k, abs=0.3)


def test_one_recorded_out_when_it_was_cool_teaches_nothing():
    live = Live()
    assert burned(live, burn_s=60, recorded_out_after_s=300.0).learned == {}


def test_another_candle_of_that_name_starts_from_nothing():
    live = Live()
    first = burned(live, burn_s=60, mass_g=400.0)
    heavier = burned(live, burn_s=60, mass_g=450.0)
    assert first.learned
    assert heavier.expected == {}
