"""The record of a trial as a value, before it is a file: what stands in it, and in which order."""

from logger.decision.criteria import Outcome
from logger.decision.trial_facts import TrialFacts
from logger.decision.trial_rule import CRITERIA, judge_trial
from logger.quantities import Quantity
from logger.reports.blocks import FactList, Grid, Heading, Items, Paragraph, VerdictBlock
from logger.reports.care_card import care_card, care_lines
from logger.reports.rule_blocks import listed
from logger.reports.si_beside import SiBeside
from logger.reports.trial_document import Handover, ReportedTrial, trial_document
from logger.units import unit_of
from logger.words import Words
from tests.support.whole_trial import OneBurn, six, trial

FAHRENHEIT = Words(temperature_in=unit_of("degF", Quantity.TEMPERATURE))
MADE = Handover(bench="back-room", version="9.9.9", checksum="c" * 64, known_s=0.0, known="then")


def facts(burns, words=Words()):
    found = trial(burns)
    verdict = judge_trial(found, words)
    return TrialFacts(
        name="cedar 6", words=words, burns=found.burns, verdict=verdict, weighed=found.weighed
    )


def blocks(found):
    return trial_document(ReportedTrial(facts=found), MADE).blocks


def tables(found):
    """By their head."""
    return {one.head: one for one in blocks(found) if isinstance(one, Grid)}


def test_a_trial_that_passed_says_so_first_with_every_criterion_and_its_origin():
    found = facts(six())
    first, peaks, criteria, *_ = blocks(found)
    assert isinstance(first, VerdictBlock)
    assert (first.outcome, first.title) == (Outcome.PASS, "Pass")
    assert first.lines[-1] == "It holds for the lots that were burned: wax, lot A7."
    assert isinstance(peaks, FactList)
    assert [name for name, _ in peaks.rows] == ["Hottest measured place", "In the warmest room"]
    assert isinstance(criteria, Grid)
    assert {row[0]: row[1] for row in criteria.rows} == {one.title: "pass" for one in CRITERIA}
    limits = tables(found)["Limit", "Value", "Origin", "Burns"]
    assert all(origin for _, _, origin, _ in limits.rows)
    assert ("The flame stays low enough", "75 mm") in {row[:2] for row in limits.rows}
    rules = [one.text for one in blocks(found) if isinstance(one, Paragraph) and one.faint]
    for criterion in CRITERIA:  # the decision rule and where it comes from
        assert f"{criterion.rule} {criterion.source}" in rules


def test_what_is_undecided_is_said_with_the_burn_that_would_decide_it():
    found = facts([*six()[:5], OneBurn(look=None, after=None)])
    first = blocks(found)[0]
    assert (first.outcome, first.title) == (Outcome.UNDECIDED, "Undecided")
    told = [one.strong for one in blocks(found) if isinstance(one, Paragraph)]
    assert "The smallest next burn that would decide it:" in told
    assert "What to try next:" in told
    missing = next(one for one in blocks(found) if isinstance(one, Items))
    assert missing.lines[0].endswith("Needed for a pass.")  # what decides comes first


def test_si_stands_beside_the_makers_units():
    found = facts(six(), FAHRENHEIT)
    heat = tables(found)["Burn", "Day", "Hottest measured place", "Value", "h:min", "Limit", "Left"]
    _, _, _, value, _, limit, left = heat.rows[0]
    # t/degF = 1.8 t/degC + 32, and 1.8 for a difference (NIST SP 811, B.8)
    assert limit == "140.0 °F (60.0 °C)"
    assert value == "131.0 °F ± 1.1 (55.0 °C ± 0.6)"
    assert left == "7.9 °F (4.4 °C)"
    si = SiBeside.of(FAHRENHEIT)
    assert si.temperatures([20.0, 21.0]) == "68.0, 69.8 °F (20.0, 21.0 °C)"
    assert si.fine_lengths([12.5, 13.0]) == "12.5, 13 mm"  # the same in either
    assert SiBeside.of(Words()).temperature(60.0) == "60.0 °C"


def test_the_parts_come_in_the_order_in_which_they_are_asked_for():
    heads = [one.text for one in blocks(facts(six())) if isinstance(one, Heading)]
    order = (
        "The candle",
        "Hottest measured place over the life",
        "Where the wall was measured",
        "Consumption",
        "Melt pool",
        "Conditions and deviations",
        "Instruments",
        "How it was judged",
        "Limits, and whose they are",
        "What this is not",
        "Cautions",
    )
    assert [one for one in heads if one in order] == [*order]


def test_a_trial_that_passed_has_a_care_card():
    told = "\n".join(care_lines(care_card(facts(six()), "Aldermoor Candles", "a test", 0.0)))
    assert "for at most 4 h at a time." in told


def test_burns_are_listed_as_people_say_them():
    assert listed(["7"]) == "burn 7"
    assert listed(["1", "2", "3", "4"]) == "burns 1 to 4"
    assert listed(["1", "3", "4"]) == "burns 1, 3 and 4"
    assert listed(["1", "jar-a-17"]) == "burns 1 and jar-a-17"
