"""The benches that the demonstration and people without hardware use."""

import statistics

import pytest

from simulators.scenarios import SCENARIOS, Scenario

ALERT_C, LIMIT_C = 57.22, 60.0  # 135 and 140 degF (exact conversions)


def hottest_true_c(scenario: Scenario, every_s: float = 10.0) -> list[float]:
    walls = [channel for channel in scenario.channels if channel.position == "wall"]
    scenario.light()
    values = []
    while scenario.elapsed_s < scenario.burn_s:
        scenario.advance(every_s)
        values.append(max(scenario.true_c(channel) for channel in walls))
    return values


@pytest.mark.parametrize("name", SCENARIOS)
def test_every_scenario_tells_its_channels_and_samples_one_value_each(name):
    scenario = SCENARIOS[name](0)
    assert scenario.name == name
    names = [channel.name for channel in scenario.channels]
    assert len(set(names)) == len(names)
    assert all(set(text) <= set("abcdefghijklmnopqrstuvwxyz0123456789-") for text in names)
    infrared = [channel for channel in scenario.channels if channel.emissivity is not None]
    assert infrared
    assert all(channel.reflected in names for channel in infrared)
    for _ in range(5):
        scenario.advance(1.0)
        assert len(scenario.sample()) == len(scenario.last_samples) == len(names)


@pytest.mark.parametrize("seed", range(3))
def test_first_light_passes_the_alert_and_late_and_briefly_the_limit(seed):
    hottest_c = hottest_true_c(SCENARIOS["first-light"](seed))
    first_alert = next(i for i, c in enumerate(hottest_c) if c > ALERT_C)
    first_limit = next(i for i, c in enumerate(hottest_c) if c > LIMIT_C)
    assert 0.4 < first_alert / len(hottest_c) < first_limit / len(hottest_c)
    assert first_limit / len(hottest_c) > 0.75
    assert 0.002 < statistics.fmean(c > LIMIT_C for c in hottest_c) < 0.15
    assert max(hottest_c) < LIMIT_C + 2.0


@pytest.mark.parametrize("name", ["passing", "aired-room"])
def test_the_suitable_wick_stays_three_kelvin_under_the_alert(name):
    assert max(hottest_true_c(SCENARIOS[name](0))) < ALERT_C - 3.0


def test_readings_lie_near_the_truth_but_for_flame_hits():
    scenario = SCENARIOS["first-light"](1)
    scenario.light()
    spot = next(i for i, channel in enumerate(scenario.channels) if channel.emissivity is not None)
    hits = 0
    for _ in range(2000):
        scenario.advance(1.0)
        values = scenario.sample()
        for i, (value, sample) in enumerate(zip(values, scenario.last_samples, strict=True)):
            assert sample.value_c == value
            if value is None or i == spot:
                continue
            assert not sample.hit
            assert abs(value - sample.true_c) < 1.5
        hits += scenario.last_samples[spot].hit
    assert 0.04 < hits / 2000 < 0.25


def test_a_cold_bench_shows_no_flame():
    scenario = SCENARIOS["first-light"](2)
    for _ in range(300):
        scenario.advance(1.0)
        scenario.sample()
        assert not any(sample.hit for sample in scenario.last_samples)
    scenario.light()
    assert scenario.candle.lit
    scenario.extinguish()
    assert not scenario.candle.lit


def test_the_seed_decides():
    def lines(seed: int) -> list[list[float | None]]:
        scenario = SCENARIOS["first-light"](seed)
        scenario.light()
        made = []
        for _ in range(20):
            scenario.advance(1.0)
            made.append(scenario.sample())
        return made

    assert lines(0) == lines(0) != lines(1)
