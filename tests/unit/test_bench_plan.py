"""A plan of burns that one person can carry out, and what it costs when it slips."""

import itertools

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from logger.planning.bench_plan import (
    BenchNow,
    CandleDemand,
    Hours,
    Maker,
    PlannedBurn,
    bench_plan,
)
from logger.planning.slips import Happened, slips, verdict_shifts
from logger.planning.supplies import Recipe, Supply, supplies

HOUR, DAY = 3600.0, 86_400.0
MARKS = (0.5 * HOUR, HOUR, 2.0 * HOUR, 3.0 * HOUR, 4.0 * HOUR)


def days(count, from_h=8.0, to_h=18.0):
    return [
        Hours(from_s=day * DAY + from_h * HOUR, to_s=day * DAY + to_h * HOUR)
        for day in range(count)
    ]


def maker(moment_s=600.0, in_sight=3, hours=None):
    return Maker(hours=hours or days(30), moment_s=moment_s, in_sight=in_sight)


def demand(trial, tester, burns=1, length_s=4.0 * HOUR, **more):
    return CandleDemand(
        trial=trial,
        tester=tester,
        lengths_s=(length_s,) * burns,
        marks_s=MARKS,
        pause_s=4.0 * HOUR,
        **more,
    )


def bench(*names, at_s=0.0, running=()):
    return BenchNow(at_s=at_s, stations=dict.fromkeys(names, 0.0), running=running)


def check_it_can_be_carried_out(plan, maker):
    moments = sorted(at_s for burn in plan.burns for at_s in burn.moments_s)
    assert all(b - a >= maker.moment_s for a, b in itertools.pairwise(moments))
    for burn in plan.burns:
        lit = [one for one in plan.burns if one.lit_s <= burn.lit_s < one.out_s]
        assert len(lit) <= maker.in_sight
        last_s = burn.out_s + maker.moment_s
        inside = any(h.from_s <= burn.lit_s and last_s <= h.to_s for h in maker.hours)
        assert inside or burn.running
        for other in plan.burns:  # a hot vessel stays where it is, and its candle rests
            same = other.station == burn.station
            same |= (other.trial, other.tester) == (burn.trial, burn.tester)
            if same and other is not burn:
                assert other.lit_s >= burn.cold_s or burn.lit_s >= other.cold_s


lengths = st.sampled_from([1.0 * HOUR, 2.5 * HOUR, 4.0 * HOUR])
demands = st.lists(
    st.builds(
        CandleDemand,
        trial=st.sampled_from(["cedar", "moss", "rain"]),
        tester=st.text("ABC12", min_size=1, max_size=3),
        lengths_s=st.lists(lengths, max_size=4).map(tuple),
        marks_s=st.lists(st.integers(5, 235).map(lambda m: m * 60.0), max_size=5, unique=True)
        .map(sorted)
        .map(tuple),
        pause_s=st.sampled_from([2.0 * HOUR, 4.0 * HOUR]),
        ready_s=st.floats(0.0, 3.0 * DAY),
        station=st.sampled_from(["", "jar-a", "jar-c"]),
    ),
    max_size=7,
    unique_by=lambda one: (one.trial, one.tester),
)


@settings(max_examples=60, deadline=None)
@given(
    demands=demands,
    moment_s=st.integers(1, 25).map(lambda m: m * 60.0),
    in_sight=st.integers(1, 4),
    lit_s=st.floats(8.0 * HOUR, 9.0 * HOUR),
)
def test_no_two_marks_overlap_and_nobody_has_too_many_in_sight(demands, moment_s, in_sight, lit_s):
    who = maker(moment_s, in_sight, days(6))
    running = PlannedBurn(
        trial="oak",
        tester="O1",
        station="jar-b",
        lit_s=lit_s,
        out_s=lit_s + 4.0 * HOUR,
        marks_s=tuple(lit_s + one for one in (2.0 * HOUR, 3.0 * HOUR)),
        pause_s=4.0 * HOUR,
        running=True,
    )
    here = bench("jar-a", "jar-b", "jar-c", at_s=9.5 * HOUR, running=[running])
    found = bench_plan(demands, here, who)
    check_it_can_be_carried_out(found, who)
    turned = bench("jar-c", "jar-b", "jar-a", at_s=9.5 * HOUR, running=[running])
    assert found == bench_plan(reversed(demands), turned, who)
    wanted = sum(len(one.lengths_s) for one in demands)
    left = sum(len(one.lengths_s) for one in found.unplaced)
    assert len(found.burns) - 1 + left == wanted


def test_a_day_is_staggered_and_a_candle_rests_before_it_burns_again():
    found = bench_plan(
        [demand("cedar", "C1", 2), demand("moss", "M1", 2), demand("rain", "R1", 2)],
        bench("jar-a", "jar-b", "jar-c", "jar-d"),
        maker(),
    )
    first = [burn for burn in found.burns if burn.lit_s < DAY]
    assert [burn.tester for burn in first] == ["C1", "M1", "R1"]
    assert [burn.lit_s - 8.0 * HOUR for burn in first] == [0.0, 600.0, 1200.0]
    assert [burn.lit_s >= DAY for burn in found.burns] == [False] * 3 + [True] * 3
    assert found.verdict_s["cedar"] == found.burns[3].out_s + 4.0 * HOUR
    # What is cured on Thursday is not lit before.
    later = bench_plan([demand("oak", "O1", ready_s=3.2 * DAY)], bench("jar-a"), maker())
    assert later.burns[0].lit_s == 3.0 * DAY + 8.0 * HOUR


def test_what_finds_no_place_is_said_and_gets_no_verdict():
    short = maker(hours=days(10, 9.0, 12.0))
    found = bench_plan([demand("cedar", "C1")], bench("jar-a"), short)
    assert (found.burns, [one.tester for one in found.unplaced]) == ((), ["C1"])
    assert found.verdict_s == {}
    assert bench_plan([demand("cedar", "C1")], bench(), maker()).unplaced


def test_the_search_ends_the_short_trial_first_where_one_station_serves_two():
    found = bench_plan([demand("long", "L1", 6), demand("short", "S1", 1)], bench("jar-a"), maker())
    assert found.burns[0].trial == "short"
    assert sum(found.verdict_s.values()) < 14.0 * DAY


def test_a_slip_moves_the_rest_and_says_what_it_costs():
    asked = [demand("cedar", "C1", 2), demand("moss", "M1", 2)]
    planned = bench_plan(asked, bench("jar-a"), maker())
    # C1 was lit two hours late and put out after one: it must burn twice more, tomorrow.
    first = planned.burns[0]
    happened = [
        Happened(
            trial=first.trial,
            tester=first.tester,
            lit_s=first.lit_s + 2.0 * HOUR,
            out_s=first.lit_s + 3.0 * HOUR,
        )
    ]
    noon_s = 12.0 * HOUR
    now = bench_plan(
        [demand("cedar", "C1", 2, ready_s=happened[0].out_s + 4.0 * HOUR), demand("moss", "M1", 2)],
        BenchNow(at_s=noon_s, stations={"jar-a": happened[0].out_s + 4.0 * HOUR}),
        maker(),
    )
    (slip,) = slips(planned, happened, noon_s)
    assert (slip.late_s, slip.short_s) == (2.0 * HOUR, 3.0 * HOUR)
    shifts = {one.trial: one.later_s for one in verdict_shifts(planned, now)}
    assert shifts == {"cedar": DAY, "moss": DAY}
    (missed,) = slips(planned, [], noon_s)
    assert missed.lit_s is None


def test_supplies_are_summed_by_name():
    wax = Supply(what="wax", name="Hazelmoor soy 12", grams=202.4)
    wick = Supply(what="wick", name="M6", pieces=1)
    vessel = Supply(what="vessel", name="amber-75", pieces=1)
    one = Recipe(parts=(wax, wick, vessel))
    other = Recipe(parts=(wax, Supply(what="wick", name="M8", pieces=2), vessel))
    found = {part.name: part.grams or part.pieces for part in supplies([one, one, other])}
    assert found.pop("Hazelmoor soy 12") == pytest.approx(607.2)
    assert found == {"M6": 2, "amber-75": 3, "M8": 2}
