"""[[criterion]]: the maker's own figures, with their unit, over the defaults."""

from pathlib import Path

import pytest

from logger.burn.limits import Material
from logger.errors import SettingsError
from logger.service.core import bench_of
from logger.service.looser import looser
from logger.settings.config_file import parse
from logger.settings.criterion_keys import default_criteria
from logger.store.codec import dump, load

HEAD = '[bench]\nname = "back-room"\n[[station]]\nname = "jar-a"\n'
OWN = """
[[criterion]]
name = "flame-height"
most = "2 in"
material = "metal"
regime = "power"
wick = "wooden"
source = "our insurer"
[[criterion]]
name = "consumption"
least = "0.1 oz"
most = "0.3 oz"
[[criterion]]
name = "mushrooming"
judged = false
[limits.glass]
wall_limit = "62 degC"
"""


def read(text):
    return parse(HEAD + text, Path("bench.toml"))


def test_the_maker_s_own_stand_before_the_defaults_in_the_units_inside():
    settings = read(OWN)
    flame, wax, out, *others = settings.criteria
    assert (flame.most, flame.own) == (50.8, True)
    assert (flame.material, flame.regime, flame.wick) == (Material.METAL, "power", "wooden")
    assert flame.origin == "the maker's own: our insurer"
    assert (round(wax.least, 2), round(wax.most, 1)) == (2.83, 8.5)
    assert wax.origin == "the maker's own"
    assert not out.judged
    assert tuple(others) == default_criteria() == read("").criteria
    assert settings.limits.of(Material.GLASS).own
    assert not settings.limits.of(Material.METAL).own


def test_they_are_stored_with_the_bench_and_one_of_before_has_none():
    bench = bench_of(read(OWN))
    assert load(type(bench), dump(bench)) == bench
    before = dump(bench).replace('"criteria":', '"was":')
    assert load(type(bench), before).criteria == ()


def test_a_flame_that_may_be_higher_than_the_default_is_a_caution():
    for most, told in (("80 mm", ["the flame may be 80 mm instead of 75 mm high"]), ("50 mm", [])):
        settings = read(f'[[criterion]]\nname = "flame-height"\nmost = "{most}"\n')
        lines = looser(settings.limits, None, settings.words, criteria=settings.criteria)
        assert [line.partition(",")[0] for line in lines] == told


@pytest.mark.parametrize(
    ("lines", "told"),
    [
        ('name = "flame"', 'write one of "flame-height"'),
        ('name = "flame-height"', "asks for nothing; write most"),
        ('name = "flame-height"\nmost = 75', "75 has no unit"),
        ('name = "flame-height"\nmost = "75 g"', '"g" is not a unit of length'),
        ('name = "flame-height"\nleast = "5 mm"', "flame-height has no least; write most"),
        ('name = "flame-height"\njudged = false', "is about safety and is always judged"),
        ('name = "soot"\nmost = 4', "4 is not a grade; write 0, 1, 2 or 3"),
        ('name = "wax-left"\nmost = "120 %"', '"120 %" is not a share'),
        ('name = "consumption"\nleast = "9 g"\nmost = "3 g"', "least is not below most"),
    ],
)
def test_a_slip_is_named_with_its_remedy(lines, told):
    with pytest.raises(SettingsError) as caught:
        read(f"[[criterion]]\n{lines}\n")
    assert told in " ".join(caught.value.problems)
