"""What time belongs to a burn."""

from dataclasses import replace

from logger.burn.model import Burn
from logger.burn.span import joined, span_of
from logger.settings.limit_keys import default_limits

HOUR_S = 3600.0
BURN = Burn(id="jar-a-1", station="jar-a", trial="t", lit_s=10_000.0, out_s=20_000.0)


def test_a_burn_goes_from_an_hour_before_to_the_end_of_its_cool_down():
    assert span_of(BURN, 4 * HOUR_S) == (6_400.0, 34_400.0)
    limits = replace(default_limits(), cool_down_s=2 * HOUR_S)
    assert span_of(replace(BURN, limits=limits), 4 * HOUR_S) == (6_400.0, 27_200.0)
    assert span_of(BURN, 60.0) == (6_400.0, 23_600.0)  # its record shows half an hour of cooling


def test_a_burn_that_is_not_out_has_no_end():
    assert span_of(replace(BURN, out_s=None), HOUR_S) == (6_400.0, None)


def test_spans_that_touch_are_one():
    assert joined([(5.0, 9.0), (1.0, 3.0), (2.0, 4.0), (9.0, 11.0)]) == [(1.0, 4.0), (5.0, 11.0)]
    assert joined([(5.0, None), (1.0, 6.0), (7.0, 8.0)]) == [(1.0, None)]
    assert joined([]) == []
