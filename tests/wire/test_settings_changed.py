"""Stored readings are folded in at a start only where their channel is still what it was."""

import pytest

from logger.service.earlier_settings import changed_since
from logger.settings.config_file import parse
from tests.support.web_bench import ONE_STATION, WALL, serving

FAHRENHEIT = ONE_STATION.replace('field = 0\nunit = "degC"', 'field = 0\nunit = "degF"')


async def _wall_after(tmp_path, configuration):
    async with serving(tmp_path) as bench:
        await bench.light()
        await bench.seconds(60, wall=60.5, room=22.0)
    async with serving(tmp_path, configuration) as bench:
        await bench.clock.advance(1.0)
        now = await bench.now()
    return {one["name"]: one["estimate"] for one in now["channels"]}


async def test_readings_in_another_unit_are_not_taken_for_ones_of_today(tmp_path):
    assert "degF" in FAHRENHEIT
    estimates = await _wall_after(tmp_path, FAHRENHEIT)
    assert estimates[WALL] is None or estimates[WALL]["value"] is None
    assert estimates["room"]["value"] == pytest.approx(22.0, abs=0.1)


async def test_readings_under_the_same_settings_are_taken_in_again(tmp_path):
    estimates = await _wall_after(tmp_path, ONE_STATION.replace("test-bench", "renamed"))
    assert estimates[WALL]["value"] == pytest.approx(60.5, abs=0.1)


@pytest.mark.parametrize(
    ("before", "after", "changed"),
    [
        pytest.param('"60 mm"', '"61 mm"', {WALL}, id="moved"),
        pytest.param("field = 1", "field = 2", {"room"}, id="another column"),
        pytest.param('name = "room"', 'name = "air"', {"room"}, id="renamed"),
        pytest.param('"55 degC"', '"54 degC"', set(), id="a limit"),
        pytest.param("not-plugged-in", "other-port", {WALL, "room"}, id="another port"),
        pytest.param("[[station]]", "[[staton]]", {WALL, "room"}, id="not to be read"),
    ],
)
def test_which_channels_changed(tmp_path, before, after, changed):
    text = ONE_STATION.replace("{folder}", str(tmp_path))
    assert before in text
    settings = parse(text, tmp_path / "bench.toml")
    assert set(changed_since(settings, text.replace(before, after))) == changed
    assert set(changed_since(settings, text)) == set()
