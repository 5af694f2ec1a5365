"""What warns later than its default is said."""

import pytest

from logger.service.looser import looser
from logger.settings import parse
from logger.words import Words

BENCH = '[bench]\nname = "back-room"\n[[station]]\nname = "jar-a"\nmaterial = "glass"\n'


@pytest.mark.parametrize(("text", "says"), [
    pytest.param('[limits]\nburn_length = "5 h"\n', ["5 h instead of 4 h"], id="length"),
    pytest.param('[limits.glass]\nwall_alert = "130 degC"\nwall_limit = "140 degC"\n',
                 ["glass is 140.0 °C instead of 60.0 °C"], id="a slip of the unit"),
    pytest.param('[alarms]\nunwatched = "2 h"\n', ["who watches is at 2 h"], id="unwatched"),
    pytest.param('[limits.glass]\nwall_limit = "58 degC"\n', [], id="tighter"),
    pytest.param("", [], id="defaults"),
])  # fmt: skip
def test_looser_limits_are_named(tmp_path, text, says):
    settings = parse(BENCH + text, tmp_path / "bench.toml")
    lines = list(looser(settings.limits, settings.alarms.unwatched_s, Words()))
    assert len(lines) == len(says)
    for line, words in zip(lines, says, strict=True):
        assert words in line
