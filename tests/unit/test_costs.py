"""Costs of candles against sums done by hand."""

import pytest

from logger.decision.costs import costs
from logger.shelf import candles
from logger.shelf.recipes import FormulaRecord, PourRecord
from logger.shelf.vessels import VesselRecord
from logger.shelf.wicks import WickingRecord, WickRecord
from tests.support.trials import burned, trial

FORMULA = FormulaRecord(
    name="slate 8", wax="Hazelmoor soy 12", wax_share_percent=92.0, wax_price=6.0,
    fragrance="Rain on slate", fragrance_share_percent=8.0, fragrance_price=60.0,
)  # fmt: skip
VESSEL = VesselRecord(name="amber 80", price=1.9)
POUR = PourRecord(name="batch 7", fill_g=200.0)


def made(name, *burns, formula=FORMULA, vessel=VESSEL, price=0.1, testers=(), **more):
    return trial(
        name,
        *burns,
        testers=testers,
        pours=(POUR,),
        formula=formula,
        vessel=vessel,
        wicking=WickingRecord(name="two", wick="w", number=2),
        wick=WickRecord(name=f"wick of {name}", price=price),
        **more,
    )


def test_a_trial_costs_its_candles():
    """Two of 200 g: 368 g of wax at 6.00, 32 g of fragrance at 60.00, four wicks, two vessels."""
    testers = (
        candles.TesterRecord(name="A1", trial="a", pour="batch 7"),
        candles.TesterRecord(name="A2", trial="a", pour="batch 7"),  # poured, not yet lit
    )
    found = costs([made("a", burned(0, tester="A1"), burned(1, tester="a1"), testers=testers)])
    assert found.spent.candles == 2
    assert {line.what: (line.used, line.amount) for line in found.spent.lines} == {
        "wax": (pytest.approx(368.0), pytest.approx(2.208)),
        "fragrance": (pytest.approx(32.0), pytest.approx(1.92)),
        "wick": (4, pytest.approx(0.4)),
        "vessel": (2, pytest.approx(3.8)),
    }
    assert found.spent.amount == pytest.approx(8.328)
    assert found.spent.missing == ()
    assert found.separate == found.spent
    assert found.hours == 8.0


def test_a_shared_pour_counts_once_and_says_what_it_saved():
    """Three wicks: one candle of 226 g as weighed, where three of them would have been needed."""
    series = [
        made(name, burned(day, tester="S1", shared_pour=True, wax_g=226.0))
        for day, name in enumerate("abc")
    ]
    found = costs(series)
    assert [one.spent.amount for one in found.trials] == pytest.approx([0.2] * 3)
    assert found.shared.candles == found.spent.candles == 1
    assert found.separate.candles == 3
    assert found.spent.wax_g == pytest.approx(226.0)
    assert found.separate.wax_g == pytest.approx(678.0)
    one = 0.226 * (0.92 * 6.0 + 0.08 * 60.0) + 1.9
    assert found.spent.amount == pytest.approx(one + 0.6)
    assert found.separate.amount == pytest.approx(3.0 * one + 0.6)
    assert found.hours == 12.0


def test_what_has_no_price_is_named_and_never_taken_as_nothing():
    found = costs(
        [
            made(
                "a",
                burned(0, tester="A1", wax_g=200.0),
                formula=FormulaRecord(name="blend", wax="soy", fragrance="rain",
                                      fragrance_share_percent=8.0),
                vessel=VesselRecord(name="amber 80"),
                price=None,
            ),
            trial("b", burned(1, tester="B1")),
        ]
    )  # fmt: skip
    assert found.spent.amount == 0.0
    assert found.spent.missing == (
        "the price of vessel amber 80",
        "the price of wax in formula blend",
        "the price of fragrance in formula blend",
        "the price of wick wick of a",
        "the vessel of b: none is on the shelf",
        "how much wax candle b1 was poured with",
        "the wick of b: none is on the shelf",
    )
    # the one share that is not known is the rest
    assert {line.what: line.used for line in found.spent.lines} == {
        "wax": pytest.approx(184.0), "fragrance": pytest.approx(16.0), "wick": 2, "vessel": 1,
    }  # fmt: skip
