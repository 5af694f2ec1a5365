"""Heights are told in the maker's unit, rounded as a person would."""

from logger.alarms.wall import wall
from logger.burn.limits import WallLimits
from logger.intake.bodies import ReadingBody
from logger.quantities import Estimate, Quality
from logger.settings.config_file import parse
from logger.store.codec import dump, load_entry
from logger.words import Words


def test_places_are_told_in_the_maker_s_unit_of_heights(tmp_path):
    show = 'show = { length = "in", temperature = "degF" }'
    text = BENCH_IN_INCHES.format(show=show)
    (channel,) = parse(text, tmp_path / "bench.toml").channels
    assert str(channel.place) == "wall, 2.4 in, 3 o'clock"
    assert channel.place.height_mm == 60.96  # inside nothing is rounded
    (channel,) = parse(BENCH_IN_INCHES.format(show=""), tmp_path / "bench.toml").channels
    assert str(channel.place) == "wall, 61 mm, 3 o'clock"
    estimate = Estimate(
        channel=channel.name,
        at_s=0.0,
        value=61.0,
        standard_uncertainty=0.2,
        repeatability=0.1,
        used=20,
        rejected=0,
        quality=Quality.GOOD,
    )
    for inches, words in ((show, "wall, 2.4 in, 3 o'clock"), ("", "wall, 61 mm, 3 o'clock")):
        (channel,) = parse(BENCH_IN_INCHES.format(show=inches), tmp_path / "bench.toml").channels
        limits = WallLimits(alert_c=57.0, limit_c=60.0)
        assert all(words in one.text for one in wall(channel, estimate, limits, Words()))


def test_a_typed_height_is_told_in_the_unit_in_which_it_was_typed():
    body = ReadingBody(id="reading-1", values=(104.0,), unit="degF", height="2,4 in", clock=3)
    entry = body.entry(1_940_000_000.0, "jar-a")
    assert str(entry.place) == "wall, 2.4 in, 3 o'clock"
    assert load_entry("ManualReading", dump(entry)).place.shown_in.name == "in"


BENCH_IN_INCHES = """
[bench]
name = "shed"
{show}
[[station]]
name = "jar-a"
[[instrument]]
name = "probes"
driver = "serial-lines"
port = "/dev/null"
[[instrument.channel]]
name = "jar-a-wall-3"
station = "jar-a"
place = "wall"
height = "2.4 in"
clock = 3
field = 0
unit = "degF"
kind = "contact"
"""
