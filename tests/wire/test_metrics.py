"""GET /metrics, read by the parser of an independent library: prometheus-client's, strict."""

from prometheus_client.openmetrics.parser import text_string_to_metric_families

from tests.support.web_bench import WALL, serving


async def samples(bench) -> dict[tuple[str, ...], float]:
    """Each sample by its name and the values of its labels, in the order of their names."""
    answer = await bench.client.get("/metrics")
    assert answer.status_code == 200
    assert answer.headers["content-type"].startswith("application/openmetrics-text")
    assert answer.text.endswith("# EOF\n")
    return {
        (sample.name, *sample.labels.values()): sample.value
        for family in text_string_to_metric_families(answer.text)
        for sample in family.samples
    }


async def test_the_bench_in_figures(tmp_path):
    async with serving(tmp_path) as bench:
        await bench.seconds(12, 41.0)
        before = await samples(bench)
        assert 40.9 < before["wickbench_temperature_celsius", WALL, "jar-a"] < 41.1
        assert before["wickbench_temperature_standard_uncertainty_celsius", WALL, "jar-a"] > 0.0
        assert before["wickbench_channel_good", WALL, "jar-a"] == 1.0
        assert before["wickbench_station_lit", "jar-a"] == 0.0
        assert before["wickbench_wall_limit_celsius", "jar-a"] == 60.0
        assert before["wickbench_instrument_up", "probes"] == 0.0  # it is not plugged in
        assert not any("room" in key for key in before)  # nothing came yet: left out, not 0

        await bench.light()
        await bench.seconds(40, 64.0)
        hot = await samples(bench)
        assert hot["wickbench_station_lit", "jar-a"] == 1.0
        assert 39.0 <= hot["wickbench_burn_elapsed_seconds", "jar-a"] <= 41.0
        assert hot["wickbench_wall_margin_celsius", "jar-a"] < 0.0
    assert hot["wickbench_alarm_active", "warning", "wall-limit", WALL] == 1.0
