"""The card for a candle's buyer: figures of what was burned, only where the verdict is a pass."""

from dataclasses import replace

import pytest

from logger.burn.stated import Circumstances
from logger.decision.criteria import Outcome
from logger.decision.trial_facts import TrialFacts
from logger.decision.verdict import judge
from logger.errors import Refused
from logger.quantities import Unit
from logger.reports.blocks import Items
from logger.reports.care_card import care_card, care_lines
from logger.reports.document_html import document_html
from logger.reports.document_pdf import document_pdf
from logger.words import Words
from tests.support.burn_from_formula import FormulaBurn
from tests.support.record_page import Page

INCH = Unit(name="in", factor=25.4)


def facts(*, level_mm=None, trimmed_to_mm=6.0, words=Words(), **burn):
    evidence = FormulaBurn(**burn).evidence()
    stated = Circumstances(trimmed_to_mm=trimmed_to_mm)
    evidence = replace(
        evidence, burn=replace(evidence.burn, wax_level_mm=level_mm, circumstances=stated)
    )
    return TrialFacts(
        name="soy-7, wick 5", words=words, burns=(evidence,), verdict=judge([evidence], words)
    )


def lines(found, maker="Aldermoor Candles"):
    return [*care_lines(care_card(found, maker, "made by a test", 0.0))]


def test_the_figures_are_those_that_were_burned():
    told = "\n".join(lines(facts()))
    assert "trim the wick to 6 mm." in told
    assert "for at most 4 h at a time." in told  # as the burn lasted, and the limit allows
    assert "cool for at least 4 h, until all the wax is solid." in told
    assert "Stop when 12 mm of wax are left." in told
    assert "keep it in sight" in told
    assert "children and pets" in told
    assert "a matter of local law" in told


@pytest.mark.parametrize(
    ("burn", "said"),
    [
        ({"length_s": 13_600.0}, "at most 4 h at a time"),  # put out when told that the end is near
        ({"level_mm": 31.0}, "Stop when 31 mm of wax are left"),  # no lower was ever burned
        ({"level_mm": 5.0}, "Stop when 12 mm of wax are left"),
        ({"trimmed_to_mm": None}, "trim the wick."),
        ({"words": Words(length_in=INCH)}, "to 0.24 in (6 mm)."),
    ],
)
def test_nothing_is_allowed_that_was_not_burned(burn, said):
    assert said in "\n".join(lines(facts(**burn)))


@pytest.mark.parametrize("burn", [{"peak_c": 65.0}, {"peak_c": 59.8}, {"length_s": 7200.0}])
def test_without_a_pass_there_is_no_card(burn):
    found = facts(**burn)
    assert found.verdict.outcome is not Outcome.PASS
    with pytest.raises(Refused, match="no care card for soy-7, wick 5: the verdict is"):
        lines(found)


def test_it_is_a_page_and_a_sheet():
    card = care_card(facts(), "<b>Aldermoor</b>", "made by a test", 1_940_000_000.25)
    page = Page(document_html(card))
    assert "Made by <b>Aldermoor</b>" in page.text
    assert "b" not in page.tags
    for block in card.blocks:
        if isinstance(block, Items):
            assert all(line in page.text for line in block.lines)
    assert document_pdf(card).startswith(b"%PDF")
