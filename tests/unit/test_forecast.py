"""The forecast of a wall: what it learns from, when it keeps silent, what it says of a limit."""

import math

import numpy as np
import pytest

from logger.alarms.foresight import ahead, wall_forecast
from logger.alarms.lifecycle import Priority, Signal
from logger.burn.forecast import BurnForecast, Forecast, Recent
from logger.burn.mixture import Mixture, Normal
from logger.quantities import Estimate, Quality
from logger.words import Words
from tests.support.pipeline_bench import channel

LIT_S = 1_935_651_600.0
END_S = LIT_S + 14_400.0
WALL, ROOM = "jar-a-wall-3", "room"


def estimate(name, at_s, value, *, uncertainty=0.2, whole=None, quality=Quality.GOOD):
    return Estimate(
        channel=name,
        at_s=at_s,
        value=value,
        standard_uncertainty=whole or uncertainty,
        repeatability=uncertainty,
        used=30,
        rejected=0,
        quality=quality,
    )


def settling(t_s, rise_k=30.0):
    return rise_k * (1.0 - 0.35 * math.exp(-t_s / 300.0) - 0.65 * math.exp(-t_s / 2400.0))


def followed(
    minutes,
    *,
    room=lambda t_s: 21.0,
    wall=None,
    room_channel=True,
    every_s=30.0,
    first_s=30.0,
    seed=None,
    **more,
):
    """A burn followed for `minutes`; without noise unless a seed is given."""
    rng = np.random.default_rng(seed)
    wall = wall or (lambda t_s: room(t_s) + settling(t_s))
    forecast = BurnForecast(LIT_S)
    steps = int(minutes * 60.0 / every_s)
    for t_s in (every_s * step for step in range(1, steps + 1)):
        if t_s < first_s:
            continue
        noise = 0.0 if seed is None else 0.2 * rng.normal()
        if room_channel:
            forecast.see_room(estimate(ROOM, LIT_S + t_s, room(t_s), uncertainty=0.05))
        forecast.see_wall(estimate(WALL, LIT_S + t_s, wall(t_s) + noise, **more))
    return forecast


def made(forecast, minutes, limit_c=60.0):
    return forecast.forecast(WALL, LIT_S + minutes * 60.0, END_S, limit_c)


@pytest.mark.parametrize("room_channel", [True, False])
def test_it_finds_the_end_of_a_warm_up(room_channel):
    forecast = made(followed(90, room_channel=room_channel), 90)
    # some kelvins of a slow climb are expected of every burn
    assert forecast.value_c == pytest.approx(21.0 + settling(14_400.0), abs=1.3)
    assert forecast.low_c < forecast.value_c < forecast.high_c
    assert not forecast.early
    assert forecast.level == 0.9
    assert (forecast.at_s, forecast.target_s) == (LIT_S + 5400.0, END_S)


def test_the_interval_narrows_as_the_burn_goes_on():
    widths = []
    for minutes in (30, 60, 120, 200):
        forecast = made(followed(minutes, seed=1), minutes)
        widths.append(forecast.high_c - forecast.low_c)
    assert widths == sorted(widths, reverse=True)
    assert widths[-1] < 5.0


def test_the_room_to_come_is_added_back():
    def warming(t_s):
        return 20.0 + 4.0 * (1.0 - math.exp(-t_s / 5400.0))

    still, warmed = made(followed(120), 120), made(followed(120, room=warming), 120)
    # half of what it did lately counts as passing
    assert warmed.value_c == pytest.approx(still.value_c - 21.0 + warming(14_400.0), abs=0.8)


def test_a_window_that_was_opened_is_half_expected_to_be_shut():
    def aired(t_s):
        return 21.0 - (5.0 * (1.0 - math.exp(-(t_s - 5400.0) / 480.0)) if t_s > 5400.0 else 0.0)

    def wall(t_s):
        return settling(t_s) + (21.0 if t_s <= 5400.0 else aired(t_s - 300.0))

    forecast = made(followed(120, room=aired, wall=wall), 120)
    stays, shut = 16.0 + settling(14_400.0), 21.0 + settling(14_400.0)
    assert stays + 1.0 < forecast.value_c < shut - 1.0
    assert forecast.high_c > shut - 1.0
    assert forecast.low_c < stays


def test_draughts_do_not_count_as_many_witnesses():
    """Twice as many values of the same course say hardly more: neighbours share their draught."""
    rng = np.random.default_rng(5)
    draught_k, keep = 0.5 * rng.normal(), math.exp(-30.0 / 150.0)
    every, second = BurnForecast(LIT_S), BurnForecast(LIT_S)
    for step in range(1, 241):
        at_s = LIT_S + 30.0 * step
        draught_k = keep * draught_k + 0.5 * math.sqrt(1.0 - keep * keep) * rng.normal()
        seen = estimate(WALL, at_s, 21.0 + settling(30.0 * step) + draught_k, uncertainty=0.05)
        for one in (every, second):
            one.see_room(estimate(ROOM, at_s, 21.0, uncertainty=0.05))
        every.see_wall(seen)
        if step % 2 == 0:
            second.see_wall(seen)
    many, few = every.fit(WALL), second.fit(WALL)
    assert many.values == 2 * few.values
    assert many.rise_sd_k > 0.85 * few.rise_sd_k  # 0.71 were they independent
    assert many.noise_k == pytest.approx(0.5, abs=0.1)


def test_values_closer_than_the_window_of_averaging_add_nothing():
    assert followed(40, every_s=5.0).fit(WALL).values == followed(40).fit(WALL).values


@pytest.mark.parametrize("minutes", [5, 15, 25])
def test_too_early_it_says_so(minutes):
    assert made(followed(minutes, seed=2), minutes).early


def test_too_early_is_a_matter_of_the_interval_once_enough_was_seen():
    widths = {m: made(followed(m, seed=2), m) for m in range(21, 70, 4)}
    assert {f.early for f in widths.values()} == {True, False}
    assert all(f.early == (f.high_c - f.low_c > 12.0) for f in widths.values())


def test_a_gustier_place_is_noticed_and_widens_the_interval():
    rng = np.random.default_rng(6)
    gusts = [0.0]
    keep = math.exp(-30.0 / 150.0)
    for _ in range(300):
        gusts.append(keep * gusts[-1] + 1.5 * math.sqrt(1.0 - keep * keep) * rng.normal())

    def wall(t_s):
        return 21.0 + settling(t_s) + gusts[int(t_s / 30.0)]

    gusty, calm = followed(150, wall=wall), followed(150, seed=1)
    assert gusty.fit(WALL).noise_k > 1.0
    width = {f: made(f, 150).high_c - made(f, 150).value_c for f in (gusty, calm)}
    assert width[gusty] > 1.5 * width[calm]


def test_a_wall_without_a_room_channel_is_expected_to_warm_with_its_room():
    def warming(t_s):
        return 20.0 + 3.0 * (1.0 - math.exp(-t_s / 5400.0))

    forecast = followed(60, room=warming, room_channel=False)
    end_c = warming(14_400.0) + settling(14_400.0)
    assert made(forecast, 60).value_c == pytest.approx(end_c, abs=1.0)
    assert forecast.fit(WALL).rise_k == pytest.approx(30.0, abs=1.0)  # the room's share is not its


def test_a_room_that_is_heard_after_the_wall_counts_all_the_same():
    """From its first value on, the walls are above it: also what was seen before."""

    def warming(t_s):
        return 20.0 + 4.0 * (1.0 - math.exp(-t_s / 5400.0))

    early, late = (BurnForecast(LIT_S) for _ in range(2))
    for step in range(1, 181):
        at_s, t_s = LIT_S + 30.0 * step, 30.0 * step
        room = estimate(ROOM, at_s, warming(t_s), uncertainty=0.05)
        early.see_room(room)
        for forecast in (early, late):
            forecast.see_wall(estimate(WALL, at_s, warming(t_s) + settling(t_s)))
        if step >= 3:
            late.see_room(room)
    assert late.fit(WALL).above_room
    assert late.fit(WALL).values == early.fit(WALL).values
    assert made(late, 90).value_c == pytest.approx(made(early, 90).value_c, abs=0.1)


def climbing(t_s, by_k):
    return 21.0 + settling(t_s) + by_k * t_s / 14_400.0


def test_a_candles_last_burn_is_the_prior_of_its_next():
    """One that climbs to its end: its first burn ends above the forecast, its next does not."""
    first, next_ = (lambda t_s, by_k=by_k: climbing(t_s, by_k) for by_k in (6.0, 7.0))
    learned = followed(240, wall=first, seed=1).learned()
    knowing = BurnForecast(LIT_S, learned)
    for step in range(1, 121):
        at_s, t_s = LIT_S + 30.0 * step, 30.0 * step
        knowing.see_room(estimate(ROOM, at_s, 21.0, uncertainty=0.05))
        knowing.see_wall(estimate(WALL, at_s, next_(t_s)))
    without, with_ = made(followed(60, wall=next_), 60), made(knowing, 60)
    end_c = next_(14_400.0)
    assert without.value_c < end_c - 2.0
    assert with_.value_c == pytest.approx(end_c, abs=1.2)
    assert with_.high_c - with_.low_c < without.high_c - without.low_c
    alone = followed(60, wall=next_, room_channel=False)
    misled = BurnForecast(LIT_S, learned)  # what was above a room says nothing of a wall alone
    for step in range(1, 121):
        misled.see_wall(estimate(WALL, LIT_S + 30.0 * step, next_(30.0 * step)))
    assert made(misled, 60) == made(alone, 60)


def test_a_start_that_was_not_seen_is_not_taken_for_the_first_value():
    fit = followed(150, first_s=3600.0, room_channel=False).fit(WALL)
    assert not fit.above_room
    assert fit.start_k < -8.0


def test_a_burn_first_seen_in_its_middle_is_too_early_for_a_while():
    assert made(followed(75, first_s=3600.0), 75).early
    assert not made(followed(150, first_s=3600.0), 150).early


def test_nothing_is_foretold_without_recent_values_or_past_the_end():
    forecast = followed(60)
    assert forecast.forecast("elsewhere", LIT_S + 3600.0, END_S, 60.0) is None
    assert made(forecast, 64) is not None
    assert made(forecast, 66) is None
    assert forecast.forecast(WALL, LIT_S + 3600.0, LIT_S + 3600.0, 60.0) is None


def test_doubtful_values_and_those_before_lighting_are_left_out():
    forecast = followed(60)
    before = forecast.fit(WALL)
    late = estimate(WALL, LIT_S + 3700.0, 99.0, quality=Quality.DOUBTFUL)
    forecast.see_wall(late)
    assert forecast.fit(WALL) == before
    other = BurnForecast(LIT_S)
    other.see_wall(estimate(WALL, LIT_S - 1.0, 21.0))
    assert other.channels == ()


def test_what_is_systematic_widens_the_interval():
    plain = made(followed(150), 150)
    doubted = made(followed(150, whole=2.0), 150)
    assert doubted.value_c == pytest.approx(plain.value_c, abs=0.3)
    assert doubted.high_c - doubted.value_c > plain.high_c - plain.value_c + 1.0


def test_when_the_limit_is_crossed():
    limit_c = 21.0 + settling(5250.0)  # within a step, not at one
    forecast = made(followed(60), 60, limit_c)
    assert forecast.crosses_s == pytest.approx(LIT_S + 5250.0, abs=400.0)
    assert made(followed(120), 120, 60.0).crosses_s is None
    assert made(followed(120), 120, 40.0).crosses_s == LIT_S + 7200.0  # it is over already


def test_the_probability_agrees_with_the_value():
    forecast = followed(120)
    value_c = made(forecast, 120).value_c
    assert made(forecast, 120, value_c).over == pytest.approx(0.5, abs=0.02)
    assert made(forecast, 120, value_c + 10.0).over < 0.01
    assert made(forecast, 120, value_c - 15.0).over > 0.99


def test_the_same_values_give_the_same_forecast():
    assert made(followed(70, seed=4), 70) == made(followed(70, seed=4), 70)


def test_the_recent_past_serves_a_burn_recorded_late():
    recent, now = Recent(), LIT_S + 1500.0
    for step in range(1500):
        for name in (ROOM, WALL):
            recent.see(estimate(name, LIT_S + step, 21.0 if name == ROOM else 30.0))
    kept = list(recent.since(LIT_S + 600.0))
    assert [e.at_s for e in kept] == sorted(e.at_s for e in kept)
    assert {e.channel for e in kept} == {ROOM, WALL}
    assert len(kept) == 2 * (now - LIT_S - 600.0) / 30.0
    recent.see(estimate(WALL, LIT_S + 9000.0, 50.0))
    assert [e.at_s for e in recent.since(LIT_S) if e.channel == WALL] == [LIT_S + 9000.0]


# the distribution


def test_quantiles_of_a_mixture():
    one = Mixture(weights=np.array([1.0]), means=np.array([50.0]), sds=np.array([2.0]))
    assert one.quantiles((0.05, 0.5, 0.95)) == pytest.approx((46.71, 50.0, 53.29), abs=0.02)
    two = Mixture(
        weights=np.array([0.5, 0.5]), means=np.array([40.0, 60.0]), sds=np.array([1.0, 1.0])
    )
    assert two.mean == 50.0
    assert two.sd == pytest.approx(math.sqrt(101.0))
    assert two.share_above(55.0) == pytest.approx(0.5, abs=1e-3)
    assert two.quantiles((0.25,))[0] == pytest.approx(40.0, abs=0.1)
    wide = one.plus(Normal(mean=1.0, sd=1.5))
    assert (wide.mean, wide.sd) == pytest.approx((51.0, 2.5))


# the rule


def finding(*, over, early=False, lit=True, crosses_s=LIT_S + 9000.0):
    forecast = Forecast(
        channel=WALL,
        at_s=LIT_S + 3600.0,
        target_s=END_S,
        value_c=61.2,
        low_c=58.0,
        high_c=63.4,
        level=0.9,
        limit_c=60.0,
        over=over,
        crosses_s=crosses_s,
        early=early,
    )
    return wall_forecast(channel(WALL), forecast, Words())


@pytest.mark.parametrize(
    ("case", "signal"),
    [
        ({"over": 0.6}, Signal.ON),
        ({"over": 0.4}, Signal.HOLD),
        ({"over": 0.1}, Signal.OFF),
        ({"over": 0.9, "early": True}, Signal.HOLD),
    ],
)
def test_the_rule_speaks_when_over_is_likelier_than_not(case, signal):
    assert finding(**case).signal is signal


def test_the_rule_says_when_and_what_to_do():
    likely = finding(over=0.8)
    assert likely.priority is Priority.CAUTION
    assert (likely.value, likely.limit, likely.channel) == (61.2, 60.0, WALL)
    assert "pass your limit of 60.0 °C by the end of the burn" in likely.told().text
    assert "61.2 °C then, between 58.0 °C and 63.4 °C" in likely.told().text
    assert " in " not in likely.told().text  # how long that is ahead depends on when it is read


def test_how_long_it_is_ahead_is_said_for_the_moment_it_is_shown():
    expected_s = finding(over=0.8).expected_s
    assert ahead(expected_s, expected_s - 5400.0) == "it reaches the limit in 1 h 30 min"
    assert ahead(expected_s, expected_s - 40.0) == "it reaches the limit about now"
    assert finding(over=0.8, crosses_s=None).expected_s is None
