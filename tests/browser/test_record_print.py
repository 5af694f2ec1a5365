"""The record on paper: what a client looks at first is on the first page."""

import sys
from dataclasses import replace
from pathlib import Path

sys.path.insert(0, str(Path(__file__).parents[1] / "unit"))

import pytest
from burn_from_formula import FormulaBurn

from logger.reports.html import record_html

MM = 96.0 / 25.4  # CSS pixels (CSS Values and Units, 5.2)
PAPERS = {"A4": (210.0, 297.0), "Letter": (215.9, 279.4)}  # ISO 216; ANSI Y14.1, mm
ACROSS, DOWN = 2 * 15.0, 2 * 16.0  # the margins of the style sheet


@pytest.mark.parametrize("paper", PAPERS)
def test_the_curve_is_on_the_first_printed_page(browser, paper, tmp_path):
    width, height = PAPERS[paper]
    checks = tuple(f"check {number}, in so many words that it takes a line" for number in range(7))
    record = replace(FormulaBurn(fitted=True).record(), checks=checks)
    page = browser.new_page(
        viewport={"width": round((width - ACROSS) * MM), "height": round((height - DOWN) * MM)}
    )
    page.emulate_media(media="print")
    page.set_content(record_html(record))
    box = page.locator("figure").bounding_box()
    assert box["y"] + box["height"] < (height - DOWN) * MM
    assert box["height"] > 90.0 * MM  # and large enough to be read
    legend = page.locator("figure .wide svg text").evaluate_all(
        "all => Math.max(...all.map((one) => one.getBoundingClientRect().right))"
    )
    edge = page.locator("figure .wide svg").bounding_box()
    assert legend <= edge["x"] + edge["width"]
    page.close()
