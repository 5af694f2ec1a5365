"""The record on paper: what a client looks at first is on the first page."""

from dataclasses import replace

import pytest

from logger.burn.entries import BY_HAND
from logger.reports.document_html import record_html
from tests.support.burn_from_formula import BASE, LIT_S, ROOM, FormulaBurn, channel, estimate

MM = 96.0 / 25.4  # CSS pixels (CSS Values and Units, 5.2)
PAPERS = {"A4": (210.0, 297.0), "Letter": (215.9, 279.4)}  # ISO 216; ANSI Y14.1, mm
BETWEEN = 5.0  # by so much the boxes of two lines may overlap; the letters in them are lower
ACROSS, DOWN = 2 * 15.0, 2 * 16.0  # the margins of the style sheet


def test_the_curve_is_on_the_first_printed_page(browser):
    checks = tuple(f"check {number}, in so many words that it takes a line" for number in range(7))
    page = browser.new_page()
    page.emulate_media(media="print")
    page.set_content(record_html(replace(FormulaBurn(fitted=True).record(), checks=checks)))
    for paper, (width, height) in PAPERS.items():
        page.set_viewport_size(
            {"width": round((width - ACROSS) * MM), "height": round((height - DOWN) * MM)}
        )
        box = page.locator("figure").first.bounding_box()
        assert box["y"] + box["height"] < (height - DOWN) * MM, paper
        assert box["height"] > 90.0 * MM, paper  # and large enough to be read
        legend = page.locator("figure .wide svg text").evaluate_all(
            "all => Math.max(...all.map((one) => one.getBoundingClientRect().right))"
        )
        edge = page.locator("figure .wide svg").bounding_box()
        assert legend <= edge["x"] + edge["width"], paper
    page.close()


def many_places(walls, by_hand):
    """A burn with so many places, those read by hand with the longest names."""
    channels, more = [], []
    for number in range(walls + by_hand):
        hand = {"instrument": BY_HAND, "accuracy": None} if number >= walls else {}
        height_mm, clock = 100.0 + 10.0 * (number // 3), 10 + number % 3
        one = channel(f"wall-x{number}", height_mm=height_mm, clock=clock, **hand)
        every_s = 1800 if hand else 5
        more += [estimate(one.name, LIT_S + s, 50.0 - number) for s in range(0, 14_401, every_s)]
        channels.append(one)
    return FormulaBurn(channels=(*channels, BASE, ROOM), more=tuple(more), fitted=True)


@pytest.mark.parametrize(("walls", "by_hand"), [(3, 1), (6, 5), (24, 12)])
def test_no_name_of_the_legend_is_cut_or_covers_another(browser, walls, by_hand):
    page = browser.new_page()
    page.set_content(record_html(many_places(walls, by_hand).record()))
    for shown, width in (("wide", 1000), ("narrow", 390)):
        page.set_viewport_size({"width": width, "height": 900})
        names_stand_apart(page.locator(f"figure .{shown} svg"), walls, by_hand)
    page.close()


def names_stand_apart(svg, walls, by_hand):
    """Every place has its name in the drawing, whole, and none lies over another."""
    edge = svg.bounding_box()
    names = svg.locator("text").evaluate_all(
        """all => all.filter((one) => one.querySelector("tspan")).map((one) => {
            const box = one.getBoundingClientRect();
            return [one.textContent, box.left, box.right, box.top, box.bottom];
        })"""
    )
    said = " ".join(" ".join(name[0].split()) for name in names)
    assert said.count("hand") == by_hand
    assert len([name for name in names if "wall," in name[0]]) == walls + by_hand
    for _, left, right, top, bottom in names:
        assert edge["x"] <= left
        assert right <= edge["x"] + edge["width"]
        assert edge["y"] <= top
        assert bottom <= edge["y"] + edge["height"]
    spelt = [name for name in names if " " in name[0]]  # letters alone may stand closer
    for one in spelt:
        for other in spelt:
            apart = one[2] <= other[1] or other[2] <= one[1]
            above = one[4] - BETWEEN < other[3] or other[4] - BETWEEN < one[3]
            assert one is other or apart or above
