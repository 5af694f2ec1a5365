"""The record of a trial in a browser: on a phone, on a desk, printed; nothing is asked for."""

import pytest

from logger.decision.trial_facts import TrialFacts
from logger.decision.verdict import judge
from logger.reports.burn_chapter import chapter
from logger.reports.document_html import document_html
from logger.reports.trial_document import Handover, ReportedTrial, trial_document
from logger.words import Words
from tests.support.burn_from_formula import FormulaBurn

LEAST_PX = 10.0  # of letters in a drawing on a phone, as it stands there (our choice)


def report():
    """Of a trial of one candle, burned twice alike."""
    burn = FormulaBurn(fitted=True)
    facts = TrialFacts(
        name="soy-7, wick 5",
        words=Words(),
        burns=(burn.evidence(),) * 2,
        verdict=judge([burn.evidence()], Words()),
    )
    reported = ReportedTrial(facts=facts, chapters=(chapter(burn.record()),))
    made = Handover(bench="back-room", version="9.9.9", checksum="0" * 64, known_s=0.0, known="")
    return document_html(trial_document(reported, made))


@pytest.fixture
def opened(browser, tmp_path):
    """Opens the file as a client would; closes it after the test."""
    path = tmp_path / "report.html"
    path.write_text(report())
    pages = []

    def open_(width, theme="light"):
        context = browser.new_context(color_scheme=theme)
        page = context.new_page()
        pages.append(context)
        page.set_viewport_size({"width": width, "height": 900})
        asked = []
        page.on("request", lambda request: asked.append(request.url))
        page.goto(path.as_uri())
        return page, asked

    yield open_
    for one in pages:
        one.close()


@pytest.mark.parametrize(("width", "theme"), [(390, "dark"), (1000, "light")])
def test_it_stands_alone_and_fits(opened, width, theme):
    page, asked = opened(width, theme)
    assert [url.partition(":")[0] for url in asked] == ["file"]  # itself
    assert page.evaluate("document.documentElement.scrollWidth") <= width
    shown = page.locator("figure.sketch svg.curve:visible")
    assert shown.count() == 1  # the wide one or the narrow one
    ink = page.locator("figure.sketch svg.unrolled rect").first
    assert ink.evaluate("node => node.getBoundingClientRect().width") <= min(width, 600)
    life = page.get_by_role("img", name="The hottest measured place of each burn").and_(
        page.locator(":visible")
    )
    assert life.count() == 1
    letters = "node => parseFloat(getComputedStyle(node).fontSize) * node.getScreenCTM().a"
    assert life.evaluate(letters) >= LEAST_PX


def test_printed_pages_have_numbers_and_keep_a_curve_whole(opened, tmp_path):
    page, _ = opened(1000)
    page.emulate_media(media="print")
    assert "counter(pages)" in page.locator("style").inner_html()
    kept = page.locator("figure.sketch").first
    assert kept.evaluate("node => getComputedStyle(node).breakInside") == "avoid"
    page.pdf(path=tmp_path / "report.pdf", format="A4")
    assert (tmp_path / "report.pdf").read_bytes().count(b"/Type /Page\n") > 1
