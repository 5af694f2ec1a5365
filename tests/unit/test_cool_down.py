"""After out: whether a candle is cold, when it may be lit again, and the card of its burn."""

from dataclasses import replace

import pytest

from logger.burn.cool_down import cool_down, cool_down_lines, lit_again_s, weighed_warm
from logger.burn.entries import Observed, WeighIn
from logger.burn.look import Look
from logger.burn.model import Burn
from logger.decision.verdict import judge
from logger.quantities import DEGF
from logger.reports.card import card_lines
from logger.words import Words
from tests.support.burn_from_formula import FormulaBurn
from tests.support.pipeline_bench import LIMITS, START_S, Live, lit, out, stamps

WORDS = Words()
OUT_S = START_S + 7200.0
BURN = Burn(id="jar-a-1", station="jar-a", trial="cedar-6", lit_s=START_S, out_s=OUT_S)
AGAIN_S = OUT_S + 4 * 3600.0


def at(at_s, hottest_c=None, room_c=None, burn=BURN):
    return cool_down(burn, LIMITS, at_s, hottest_c, room_c)


def test_it_may_be_lit_again_when_the_time_is_over():
    assert lit_again_s(BURN, LIMITS) == AGAIN_S
    assert lit_again_s(replace(BURN, out_s=None), LIMITS) is None
    assert at(OUT_S - 1.0) is None
    assert not at(AGAIN_S - 1.0).cold
    assert at(AGAIN_S).cold


@pytest.mark.parametrize(
    ("hottest_c", "solid", "cold"),
    [(24.0, None, True), (24.1, None, False), (22.0, True, True), (22.0, False, False)],
)
def test_a_warm_wall_or_soft_wax_speaks_against_it(hottest_c, solid, cold):
    found = at(AGAIN_S, hottest_c, 22.0, replace(BURN, wax_solid=solid))
    assert found.cold is cold
    assert (weighed_warm(found, WORDS) is None) is cold


def test_it_says_what_is_still_to_be_waited_for():
    found = at(OUT_S + 3600.0, 40.0, 22.0)
    assert [*cool_down_lines(found, Words(temperature_in=DEGF))] == [
        "your cool-down lasts 3 h more",
        "the wall is 32.4 °F warmer than the room",
        "is the wax solid throughout? Look, and record it",
    ]
    later = at(AGAIN_S, 22.5, 22.0, replace(BURN, wax_solid=True))
    assert [*cool_down_lines(later, WORDS)] == [
        "the wall is within 2.0 °C of the room",
        "the wax was solid throughout when seen",
    ]


def weigh(at_s, entered_s=None):
    entry = WeighIn(**stamps(at_s, f"weigh-{at_s}"), station="jar-a", mass_g=500.0)
    return entry if entered_s is None else replace(entry, entered_s=entered_s)


def test_a_weighing_that_is_not_cold_is_asked_about():
    live = Live()
    live.put(lit())
    live.wait(7200)
    live.put(out(live.now_s))
    live.run(60, wall=45.0, room=22.0)
    asked = live.pipeline.doubt(weigh(live.now_s))
    assert "out for 60 s of your cool-down of 4 h and the wall is 23" in asked
    assert "do not lift it warm" in asked
    live.wait(4 * 3600)
    assert live.pipeline.doubt(weigh(OUT_S + 600.0, live.now_s)).startswith(
        "jar-a: it was out for 10 min of your cool-down of 4 h: do not lift"
    )
    assert live.pipeline.doubt(weigh(START_S - 60.0)) is None
    live.run(120, wall=22.5, room=22.0)
    assert live.pipeline.doubt(weigh(live.now_s)) is None
    seen = Observed(**stamps(live.now_s, "soft"), station="jar-a", look=Look(wax_solid="no"))
    live.put(seen)
    assert "the wax was seen not yet solid" in live.pipeline.doubt(weigh(live.now_s))


def test_the_card_of_a_burn():
    burn = FormulaBurn()
    evidence, record = burn.evidence(), burn.record()
    found = [*card_lines(record.burn, record.wall, judge([evidence], WORDS), WORDS)]
    assert found[0] == "burned for 4 h"
    assert found[1].startswith("hottest measured place ")
    assert "counting ±" in found[2]
    assert found[3].startswith("verdict on this burn: ")
    margin_k = record.wall.limit_c - record.burn.least_margin.upper_c
    side = "below" if margin_k >= 0.0 else "OVER"
    assert found[2].startswith(f"{WORDS.difference(abs(margin_k))} {side} your limit of ")
    bare = replace(record.burn, hottest=None, least_margin=None)
    assert "no place on the vessel was measured" in card_lines(
        bare, record.wall, record.verdict, WORDS
    )
