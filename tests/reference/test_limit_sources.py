"""The default limits beside their published or usual figures, each with how it is known.

Standards could not be read: what is "seen" was read in public pages that quote them. No clause is
claimed. Trade figures are common practice, in the units that makers use.
"""

import pytest

from logger.burn.limits import Material
from logger.settings.criterion_keys import default_criteria
from logger.settings.limit_keys import default_limits
from logger.units import Dimension, parse_quantity

INCH_MM = 25.4  # exact: international yard and pound agreement of 1959
PUBLISHED = [
    # criterion, at most, what is said, word that its source must have
    ("flame-height", 75.0, "EN 15493 (seen): 75 mm; 3 in. in US consumer rules (seen)", "EN 15493"),
    ("after-smoke", 30.0, "EN 15493:2019 (seen): 30 s on the average", "EN 15493:2019"),
    ("melt-pool-full", 4.0 * 3600.0, "common practice: by hour 4 of burn 2 to 3", "common"),
    ("pool-depth", 0.75 * INCH_MM, "common practice: over 3/4 in. fails", "common"),
    ("hang-up", 0.125 * INCH_MM, "common practice: up to 1/8 in.", "common"),
    ("consumption", 8.0, "common practice: 3 to 8 g/h a wick", "common"),
]


@pytest.mark.parametrize(("name", "most", "said", "source"), PUBLISHED)
def test_a_default_is_not_looser_than_what_is_published(name, most, said, source):
    (found,) = [one for one in default_criteria() if one.criterion == name]
    assert 0.9 * most <= found.most <= most + 1e-9, said
    assert source in found.source
    assert not found.own
    assert "default" in found.origin


def test_every_default_has_a_source():
    assert all(one.source for one in default_criteria())


def test_wax_left_is_about_half_an_inch_of_a_usual_jar():
    """Labels tell to stop at 1/2 in. of wax (from memory, high); a jar holds some 3.3 in. of it
    (common practice): 15 %.
    """
    (found,) = [one for one in default_criteria() if one.criterion == "wax-left"]
    assert found.most == pytest.approx(100.0 * 0.5 / 3.3, abs=1.0)


def test_the_wall_limits_are_the_trade_s_and_no_standard_s():
    """135 to 140 degF on glass: common practice; no candle standard's figure was seen."""
    glass = default_limits().of(Material.GLASS)
    assert glass.alert_c == pytest.approx((135.0 - 32.0) / 1.8)
    assert glass.limit_c == pytest.approx((140.0 - 32.0) / 1.8)
    assert not glass.own


def test_burns_pauses_and_room():
    """240 min and a pause of 60 min or more: EN 15426 (seen); 20 to 27 degC: candle fuel in
    EN 15493 and 15426 (seen).
    """
    limits = default_limits()
    assert limits.burn_length_s == 240 * 60.0
    assert limits.cool_down_s >= 60 * 60.0
    assert (limits.room_low_c, limits.room_high_c) == (20.0, 27.0)
    assert parse_quantity("3 in", Dimension.LENGTH) == pytest.approx(76.2)
