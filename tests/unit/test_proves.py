"""What a burn proves: a whole one, a stopped, an interrupted and an unweighed one."""

from dataclasses import replace

import pytest

from logger.burn.consumption import consumption
from logger.burn.entries import Danger
from logger.decision.proves import Proved, proofs, proved_line
from logger.quantities import BY_HAND, Place, Position
from logger.reports.document_html import record_html
from tests.support.burn_from_formula import BASE, LIT_S, ROOM, WALL_3, WALL_9, FormulaBurn, estimate


def line(before_g=None, after_g=None, earlier=(), *, withdrawn=False, **burn):
    evidence = FormulaBurn(**burn).evidence()
    weighed = replace(
        evidence.burn, mass_before_g=before_g, mass_after_g=after_g, withdrawn=withdrawn
    )
    evidence = replace(evidence, burn=weighed)
    of_trial = [*earlier, weighed]
    return proved_line(proofs(evidence, consumption(of_trial)[weighed.id], of_trial))


def test_a_whole_weighed_burn():
    assert line(532.0, 510.0) == (
        "heat to 4 h: yes, at 3 places; full melt pool: no, not recorded; consumption: yes, ±7 %; "
        "counts as burn 1 of this candle: yes"
    )


def test_a_stopped_burn_proves_the_heat_up_to_then():
    assert line(532.0, 521.0, length_s=7200.0) == (
        "heat to 2 h: yes, at 3 places; full melt pool: no, not recorded; consumption: yes, "
        "±15 %; counts as burn 1 of this candle: no, it burned for 2 h of 4 h"
    )


def test_the_number_is_that_of_the_candle_and_not_of_the_trial():
    burn = FormulaBurn().evidence().burn
    before = [
        replace(burn, id="a", lit_s=LIT_S - 2e5, out_s=LIT_S - 1.9e5),
        replace(burn, id="b", lit_s=LIT_S - 1e5, out_s=LIT_S - 0.9e5, tester="M7"),
        replace(burn, id="c", lit_s=LIT_S - 5e4, out_s=LIT_S - 4e4, withdrawn=True),
    ]
    assert line(earlier=before).endswith("counts as burn 2 of this candle: yes")


def test_an_interrupted_burn_proves_what_was_measured():
    gap = {"wall-3": ((4200.0, 5700.0),)}
    assert line(without=gap).startswith(
        "heat to 1 h 10 min: yes, at 3 places, later 25 min of 4 h not measured; "
    )
    late = {"wall-9": ((0.0, 1200.0),)}
    assert line(without=late).startswith("heat: in part, at 3 places, 20 min of 4 h not measured; ")


def test_a_place_that_was_never_measured_is_counted():
    gone = {"wall-9": ((0.0, 14_500.0),)}
    assert line(without=gone).startswith("heat to 4 h: yes, at 2 of 3 places; ")


@pytest.mark.parametrize(
    ("masses", "says"),
    [
        ((None, None), "consumption: no, not weighed before lighting"),
        ((532.0, None), "consumption: not yet, it needs a cold weighing"),
        ((532.0, 532.5), "consumption: no, too little burned for the balance"),
        ((532.0, 529.5), "consumption: in part, ±65 %"),
    ],
)
def test_the_masses_decide_what_is_known_of_the_wax(masses, says):
    assert says in line(*masses)


def test_nothing_or_a_hand_on_the_vessel():
    assert line(channels=(ROOM,)).startswith("heat: no, no place on the vessel was measured")
    hand = replace(WALL_3, name="hand", instrument=BY_HAND, place=Place(position=Position.WALL))
    read = (estimate("hand", LIT_S + 3600.0, 50.0),)
    assert line(channels=(hand, ROOM), more=read).startswith("heat: in part, read by hand only")


def test_emergency_withdrawal_and_a_burn_that_goes_on():
    assert line(danger=Danger.CRACK).endswith("this candle: no, it ended in an emergency")
    assert line(withdrawn=True) == "anything: no, its lighting is withdrawn"
    burning = line(532.0, is_out=False)
    assert burning.endswith("consumption: not yet, it still burns")


def test_the_record_says_what_it_proves():
    record = FormulaBurn(channels=(WALL_3, WALL_9, BASE, ROOM)).record()
    evidence = FormulaBurn().evidence()
    found = proofs(evidence, record.weighed, [record.burn])
    assert found[0].proved is Proved.YES
    assert f"<dt>Proves</dt><dd>{proved_line(found)}</dd>" in record_html(
        replace(record, proofs=found)
    )
