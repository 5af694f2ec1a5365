"""The wax as it was last seen, and readings by hand from before the burn."""

import pytest

from logger.burn.entries import Observed
from logger.burn.limits import WallLimits
from logger.burn.look import Look
from logger.burn.model import Burn
from logger.conditioning import manual
from logger.quantities import BY_HAND, MILLIMETRE, Channel, Place, Position, Quantity
from logger.web.place_views import place_view
from logger.web.vessel import drawing
from logger.web.wax import wax_seen
from logger.words import Words

WORDS = Words()
LIT_S = 100_000.0
BURN = Burn(id="jar-a-1", station="jar-a", trial="cedar-6", lit_s=LIT_S, inner_diameter_mm=75.0)
WALL = WallLimits(alert_c=57.2, limit_c=60.0)
CHANNEL = Channel(
    name="jar-a-hand-wall-60-3",
    instrument=BY_HAND,
    station="jar-a",
    quantity=Quantity.TEMPERATURE,
    place=Place(position=Position.WALL, height_mm=60.0, clock=3),
)


def look(after_s, **seen):
    at_s = LIT_S + after_s
    return Observed(at_s=at_s, entered_s=at_s, id=f"{at_s}", station="jar-a", look=Look(**seen))


def test_each_part_of_the_wax_is_as_it_was_seen_last():
    looks = [look(3600.0, pool_mm=(60.0, 62.0), wax_level_mm=64.0), look(1800.0, wax_level_mm=66.0)]
    wax = wax_seen(looks, BURN, WORDS)
    assert (wax.level_mm, wax.level_s) == (64.0, LIT_S + 3600.0)
    assert wax.pool == pytest.approx(61.0 / 75.0)
    drawn = drawing([], MILLIMETRE, wax, 90.0)
    assert drawn is not None
    assert drawn.rim_known
    assert drawn.wax is not None
    height = (drawn.base_y - drawn.wax.top_y) / (drawn.base_y - drawn.top_y)
    assert height == pytest.approx(64.0 / 90.0)
    assert drawn.wax.pool_y is None  # nobody looked how deep


@pytest.mark.parametrize(
    ("seen", "inner_mm", "pool", "words"),
    [
        pytest.param({"full_pool": "yes"}, None, 1.0, "at the wall all round", id="full"),
        pytest.param({"full_pool": "no"}, 75.0, None, "short of the wall", id="not measured"),
        pytest.param({"pool_mm": (60.0,)}, None, None, "60 mm across", id="vessel not known"),
        pytest.param({"soot": 1}, 75.0, None, "", id="nobody looked at it"),
    ],
)
def test_a_pool_is_drawn_only_as_far_as_it_is_known(seen, inner_mm, pool, words):
    burn = Burn(id="b", station="jar-a", trial="t", lit_s=LIT_S, inner_diameter_mm=inner_mm)
    wax = wax_seen([look(1800.0, **seen)], burn, WORDS)
    assert (wax.pool, wax.pool_words) == (pool, words)


def test_once_it_is_out_no_pool_is_drawn():
    out = Burn(id="b", station="jar-a", trial="t", lit_s=LIT_S, out_s=LIT_S + 7200.0)
    wax = wax_seen([look(3600.0, full_pool="yes", wax_level_mm=64.0)], out, WORDS)
    assert (wax.pool, wax.level_mm) == (None, 64.0)


def test_a_reading_before_the_burn_counts_for_nothing_in_it():
    read_s = LIT_S - 300.0
    estimate = manual.estimate(CHANNEL, (64.0, 64.2, 63.8), read_s, None)
    now_s = LIT_S + 60.0
    before = place_view(CHANNEL, estimate, WALL, WORDS, now_s, since_s=LIT_S)
    assert (before.state, before.level, before.margin, before.upper_c) == ("before", "", "", None)
    assert before.said == "before this burn"
    in_it = place_view(CHANNEL, estimate, WALL, WORDS, now_s, since_s=read_s - 1.0)
    assert (in_it.state, in_it.level) == ("good", "over")
