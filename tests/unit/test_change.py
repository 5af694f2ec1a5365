"""Lots that a verdict hangs on, and the smallest retest once one has changed."""

from dataclasses import replace

import pytest

from logger.decision.change import Lot, LotPart, MadeCandle, Retest, lot_check

LOTS = {
    LotPart.WAX: Lot(name="Hazelmoor soy 12", lot="A7", supplier="Hazelmoor"),
    LotPart.FRAGRANCE: Lot(name="Rain on slate", lot="F-31"),
    LotPart.WICK: Lot(name="M6", lot="W1", supplier="Marrow & Daughter"),
    LotPart.VESSEL: Lot(name="amber-75", lot="L-204", supplier="Fernhill Glassworks"),
}


def candle(tester="C1", lots=LOTS, full_burns=9, *, to_the_end=True):
    return MadeCandle(tester=tester, lots=lots, full_burns=full_burns, to_the_end=to_the_end)


def with_lot(part, **more):
    return {**LOTS, part: replace(LOTS[part], **more)}


def test_a_verdict_holds_for_the_lots_that_were_burned():
    check = lot_check("cedar", [candle()], LOTS)
    assert (check.changes, check.not_known, check.retest) == ((), (), None)


@pytest.mark.parametrize(
    ("part", "retest"),
    [
        (LotPart.WAX, Retest.TO_THE_END),
        (LotPart.FRAGRANCE, Retest.TWO_BURNS),
        (LotPart.WICK, Retest.TO_THE_END),
        (LotPart.VESSEL, Retest.ONE_BURN),
    ],
)
def test_a_new_lot_asks_for_its_smallest_retest_until_that_is_done(part, retest):
    now = with_lot(part, lot="NEW")
    (change,) = lot_check("cedar", [candle()], now).changes
    assert (change.part, change.retest) == (part, retest)
    assert "lot NEW" in change.text
    assert retest.words in change.text
    begun = candle(
        "C2", now, retest.value - 1 if retest < Retest.TO_THE_END else 9, to_the_end=False
    )
    (change,) = lot_check("cedar", [candle(), begun], now).changes
    assert change.begun == ("C2",)
    done = candle("C2", now, retest.value, to_the_end=True)
    assert lot_check("cedar", [candle(), done], now).changes == ()
    # Going back to the lot that was judged asks for nothing.
    assert lot_check("cedar", [candle(), begun], LOTS).changes == ()


def test_another_supplier_or_name_is_a_new_trial_and_several_changes_ask_for_the_most():
    now = with_lot(LotPart.WICK, supplier="Stoat & Sons", lot="W9")
    now[LotPart.FRAGRANCE] = Lot(name="Rain on slate", lot="F-40")
    check = lot_check("cedar", [candle()], now)
    assert [one.retest for one in check.changes] == [Retest.TWO_BURNS, Retest.NEW_TRIAL]
    assert check.retest is Retest.NEW_TRIAL
    two = [candle("C2", now), candle("C3", now)]
    assert lot_check("cedar", [candle(), *two[:1]], now).retest is Retest.NEW_TRIAL
    assert lot_check("cedar", [candle(), *two], now).retest is None


def test_the_maker_may_ask_for_more_and_never_for_less():
    now = with_lot(LotPart.FRAGRANCE, lot="F-40")
    more = {LotPart.FRAGRANCE: Retest.TO_THE_END}
    less = {LotPart.FRAGRANCE: Retest.ONE_BURN}
    assert lot_check("cedar", [candle()], now, more).retest is Retest.TO_THE_END
    assert lot_check("cedar", [candle()], now, less).retest is Retest.TWO_BURNS


def test_a_lot_that_was_not_recorded_is_named_and_never_taken_for_the_same():
    now = with_lot(LotPart.WAX, lot="A8")
    before = with_lot(LotPart.WAX, lot="")
    check = lot_check("cedar", [candle(lots=before)], now)
    assert (check.changes, check.not_known) == ((), (LotPart.WAX,))
    assert lot_check("cedar", [], now).changes == ()
    # Of two candles one was recorded: a change is seen by that.
    (change,) = lot_check("cedar", [candle(lots=before), candle("C2")], now).changes
    assert change.judged.lot == "A7"
    check = lot_check("cedar", [candle(lots=before), candle("C2")], LOTS)
    assert (check.changes, check.not_known) == ((), (LotPart.WAX,))
